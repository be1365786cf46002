"""What comes in from the pages of the schedule."""

from __future__ import annotations

import datetime
from typing import Any

from django import forms
from django.utils import timezone

from orders.models import ONE_LINE
from production.models import Person, Pin
from production.scheduling.hands import stages_of


class HoldForm(forms.Form):
    """Who does a stage of a jacket, and when it is begun."""

    person = forms.ModelChoiceField(
        Person.objects.none(), required=False, empty_label="Whoever suits best"
    )
    day = forms.DateField(
        required=False,
        label="Begun on",
        help_text="Leave it empty for the day that suits best.",
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )
    words = forms.CharField(
        required=False,
        label="Why",
        max_length=Pin._meta.get_field("words").max_length,
        validators=[ONE_LINE],
        help_text="For those who read the list, as 'has the sample beside her'.",
    )

    def __init__(self, *args: Any, stage: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        able = [
            person.pk
            for person in Person.objects.filter(has_left=False)
            if stage in stages_of(person)
        ]
        people = self.fields["person"]
        assert isinstance(people, forms.ModelChoiceField)
        people.queryset = Person.objects.filter(pk__in=able)
        self.fields["day"].widget.attrs["min"] = timezone.localdate().isoformat()

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or {}
        if not self.errors and not cleaned.get("person") and not cleaned.get("day"):
            raise forms.ValidationError("Choose a person, a day, or both.")
        return cleaned

    def clean_day(self) -> datetime.date | None:
        day: datetime.date | None = self.cleaned_data["day"]
        if day and day < timezone.localdate():
            raise forms.ValidationError("That day is over; choose today or a later one.")
        return day
