"""A person with their week, days off, extra hours and machines, as they are asked for."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib.auth.models import User
from django.db.models import Q

from orders.forms import LineField
from production.edited_forms import SeenForm
from production.models import Person
from production.people.people_state import known_skills, machine_kinds, week_of
from production.planning.timetable.hour_text import HoursError, Spell, hours_text, read_hours

DAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
STAGES = ("can_cut", "can_sew", "can_finish")
EVERYBODY = "everybody (a holiday)"


class HoursField(LineField):
    """The hours of a day as stretches in order; stored ones are shown as the same text."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("max_length", 120)
        super().__init__(**kwargs)

    def clean(self, value: Any) -> tuple[Spell, ...]:
        text = super().clean(value)
        try:
            return read_hours(text)
        except HoursError as error:
            raise forms.ValidationError(str(error)) from error


class PersonForm(SeenForm, forms.ModelForm[Person]):
    name = LineField(max_length=60)
    skills = forms.MultipleChoiceField(
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text="Those that operations ask for. A new one is named with its operation.",
    )

    class Meta:
        model = Person
        fields = ("name", "user", *STAGES)
        labels = {
            "user": "Log-in",
            "can_cut": "cuts",
            "can_sew": "sews",
            "can_finish": "finishes",
        }
        help_texts = {
            "user": "Whose taps are this person's. A log-in is made with manage.py add_person.",
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        fields: dict[str, Any] = self.fields
        own = Q(person=self.instance.pk) if self.instance.pk else Q()
        users = User.objects.filter(is_active=True)
        fields["user"].queryset = users.filter(Q(person=None) | own).order_by("username")
        fields["user"].empty_label = "none"
        skills = known_skills(self.instance)
        fields["skills"].choices = [(skill, skill) for skill in skills]
        if not skills:
            del fields["skills"]
        self.initial["skills"] = list(self.instance.skills)
        for at, spells in enumerate(week_of(self.instance)):
            fields[_day(at)] = HoursField(label=DAYS[at], required=False)
            fields[_day(at)].widget.attrs |= {"autocomplete": "off"}
            self.initial[_day(at)] = hours_text(spells)

    @property
    def stage_fields(self) -> list[forms.BoundField]:
        return [self[name] for name in STAGES]

    @property
    def day_fields(self) -> list[forms.BoundField]:
        return [self[_day(at)] for at in range(7)]

    def clean_name(self) -> str:
        name: str = self.cleaned_data["name"]
        others = Person.objects.exclude(pk=self.instance.pk).filter(name__iexact=name)
        if other := others.first():
            left = ", who has left and may come back" if other.has_left else ""
            raise forms.ValidationError(f"There is somebody called {other.name} already{left}.")
        return name

    def clean(self) -> dict[str, Any] | None:
        data = super().clean()
        if not any(self.cleaned_data.get(name) for name in STAGES):
            self.add_error("can_cut", "Tick at least one stage that this person works at.")
        return data

    def week(self) -> dict[int, tuple[Spell, ...]]:
        """Of each weekday, 1 is Monday."""
        return {at + 1: self.cleaned_data[_day(at)] for at in range(7)}


def _day(at: int) -> str:
    return f"day_{at + 1}"


def _days(**kwargs: Any) -> forms.DateField:
    return forms.DateField(widget=forms.DateInput(attrs={"type": "date"}), **kwargs)


class _ForPerson(forms.ModelChoiceField):  # type: ignore[type-arg]
    def __init__(self, **kwargs: Any) -> None:
        super().__init__(Person.objects.filter(has_left=False), **kwargs)


class DaysOffForm(forms.Form):
    person = _ForPerson(label="Who is off", required=False, empty_label=EVERYBODY)
    first = _days(label="First day")
    last = _days(label="Last day", required=False, help_text="Empty for one day.")
    words = LineField(label="Why", max_length=80, required=False)


class ExtraHoursForm(forms.Form):
    person = _ForPerson(label="Who works", empty_label="choose who")
    day = _days(label="Day")
    hours = HoursField(label="Hours", help_text="As 9-12:30, with commas between several.")
    words = LineField(label="What for", max_length=80, required=False)


class MachineForm(forms.Form):
    kind = forms.ChoiceField(help_text="Kinds are those that operations name.")
    name = LineField(max_length=60, help_text="As it is called in the room: Serger at the window.")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        kind = self.fields["kind"]
        assert isinstance(kind, forms.ChoiceField)
        kind.choices = [(one.kind, one.kind) for one in machine_kinds()]
