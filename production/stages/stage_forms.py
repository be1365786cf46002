"""What is asked about a jacket that is looked over, and about the points themselves."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from typing import Any

from django import forms
from django.forms.models import BaseModelFormSet, modelformset_factory
from django.utils.text import slugify

from orders.models import ONE_LINE
from production.models import CheckPoint, Person
from production.planning.standing import WORK, mending_stages
from production.stages.inspections import Failing, Fault

FAULT_WORDS = 120
BY_POINTS = "points"
LARGEST_KEY = 2**63 - 1
POINT_FIELDS = ("words", "mend_stage", "position", "is_asked")


class FaultForm(forms.Form):
    """The points that are not right; a word about one ticks it. `seen` is the last event of the
    jacket that the page was showing."""

    wrong = forms.MultipleChoiceField(
        label="What is not right", required=False, widget=forms.CheckboxSelectMultiple
    )
    back_to = forms.ChoiceField(label="Back to")
    mender: forms.ModelChoiceField[Person] = forms.ModelChoiceField(
        Person.objects.filter(has_left=False),
        label="Who mends it",
        required=False,
        empty_label="whoever is free",
    )
    seen = forms.IntegerField(
        required=False, min_value=0, max_value=LARGEST_KEY, widget=forms.HiddenInput
    )

    def __init__(self, *args: Any, points: Sequence[CheckPoint], stage: str, **kwargs: Any) -> None:
        super().__init__(*args, **{"auto_id": "fault_%s", **kwargs})
        self.points = points
        wrong, back_to = self.fields["wrong"], self.fields["back_to"]
        assert isinstance(wrong, forms.MultipleChoiceField)
        assert isinstance(back_to, forms.ChoiceField)
        wrong.choices = [(point.code, point.words) for point in points]
        reached = [(each, WORK[each]) for each in reversed(mending_stages(stage))]
        back_to.choices = [(BY_POINTS, "where the points say"), *reached]
        for point in points:
            self.fields[f"words_{point.code}"] = forms.CharField(
                label=f"What is wrong: {point.words}",
                max_length=FAULT_WORDS,
                required=False,
                validators=[ONE_LINE],
                widget=forms.TextInput(
                    attrs={"autocomplete": "off", "placeholder": "in your words, if you like"}
                ),
            )

    def rows(self) -> list[tuple[CheckPoint, bool, forms.BoundField]]:
        """Each point with whether it is ticked, and the field for words about it."""
        ticked = self["wrong"].value() or []
        return [(point, point.code in ticked, self[f"words_{point.code}"]) for point in self.points]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        faults = [
            Fault(point.code, words)
            for point in self.points
            if (words := data.get(f"words_{point.code}", "")) or point.code in data.get("wrong", ())
        ]
        if not faults and not self.errors:
            self.add_error("wrong", "Tick at least one point that is not right.")
        data["faults"] = tuple(faults)
        return data

    def failing(self) -> Failing:
        data = self.cleaned_data
        back_to = "" if data["back_to"] == BY_POINTS else data["back_to"]
        return Failing(data["faults"], back_to, data["mender"], seen=data["seen"])


class PointForm(forms.ModelForm[CheckPoint]):
    class Meta:
        model = CheckPoint
        fields = POINT_FIELDS
        labels = {
            "words": "What is looked at",
            "mend_stage": "Back to",
            "position": "Place",
            "is_asked": "is asked",
        }
        help_texts = {"mend_stage": ""}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["words"].validators.append(ONE_LINE)
        field = self.fields["mend_stage"]
        assert isinstance(field, forms.ChoiceField)
        field.choices = [(stage, WORK[stage]) for stage in ("cut", "sew", "finish")]

    def save(self, commit: bool = True) -> CheckPoint:
        if not self.instance.code:
            self.instance.code = free_code(self.cleaned_data["words"])
        return super().save(commit)


PointForms: type[BaseModelFormSet[CheckPoint, PointForm]] = modelformset_factory(
    CheckPoint, form=PointForm, extra=1
)


def free_code(words: str) -> str:
    """A short code from the words, that no point has yet."""
    start = slugify(words)[:14].strip("-") or "point"
    taken = set(CheckPoint.objects.values_list("code", flat=True))
    tries = (f"{start}-{number}" if number > 1 else start for number in range(1, len(taken) + 3))
    return next(code for code in tries if code not in taken)


def mark_of(points: Sequence[CheckPoint]) -> str:
    """Changes when a point does, so that a page knows it is out of date."""
    rows = [(row.pk, *(getattr(row, field) for field in POINT_FIELDS)) for row in points]
    return hashlib.sha256(repr(rows).encode()).hexdigest()[:16]
