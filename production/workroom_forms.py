"""The workroom's settings as they are asked for. Lengths are millimetres in any workroom, since
they are set once and to the millimetre."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.validators import MaxValueValidator, MinValueValidator

from patterns.models import Block, Fabric, Workroom

#: The highest value of each number; invented, wide enough for any workroom of a few people.
AT_LEAST_ONE = {
    "table_length_mm": 100_000,
    "tool_highest_plies": 200,
    "people": 100,
    "minutes_per_person_day": 1440,
    "usable_width_mm": 10_000,
    "highest_plies": 200,
}
FROM_ZERO = {
    "block_gap_mm": 100,
    "seam_allowance_mm": 50,
    "hem_allowance_mm": 150,
    "over_cut": 50,
    "relaxation_allowance": 1,
    "thread_waste": 1,
    "thread_tail_mm": 1000,
    "labor_per_hour": 10_000,
    "overhead": 10,
    "minutes_spread": 1,
    "cloth_weight": 99,
    "cutting_weight": 99,
    "shrinkage": 0.5,
    "end_allowance_mm": 1000,
    "compressed_thickness_mm": 20,
    "price_per_m": 10_000,
}


def keep_in_bounds(fields: dict[str, forms.Field]) -> None:
    """Every number gets its least and its highest value; more is a slip of the pen."""
    for least, bounds in ((1, AT_LEAST_ONE), (0, FROM_ZERO)):
        for name in fields.keys() & bounds.keys():
            highest = bounds[name]
            told = f"Enter a number from {least} to {highest}."
            fields[name].validators += [
                MinValueValidator(least, told),
                MaxValueValidator(highest, told),
            ]


class WorkroomForm(forms.ModelForm[Workroom]):
    class Meta:
        model = Workroom
        fields = (
            "name",
            "length_unit",
            "currency",
            "table_length_mm",
            "block_gap_mm",
            "tool_highest_plies",
            "spreading",
            "over_cut",
            "cloth_weight",
            "cutting_weight",
            "seam_allowance_mm",
            "hem_allowance_mm",
            "people",
            "minutes_per_person_day",
            "working_weekdays",
            "relaxation_allowance",
            "minutes_spread",
            "labor_per_hour",
            "overhead",
            "thread_waste",
            "thread_tail_mm",
        )
        labels = {
            "table_length_mm": "Length of the table (mm)",
            "block_gap_mm": "Room between blocks (mm)",
            "tool_highest_plies": "Highest plies for the tool",
            "over_cut": "Over-cut",
            "cloth_weight": "Weight of cloth",
            "cutting_weight": "Weight of cutting time",
            "seam_allowance_mm": "Seam allowance (mm)",
            "hem_allowance_mm": "Hem allowance (mm)",
            "minutes_per_person_day": "Minutes per person and day",
            "relaxation_allowance": "Relaxation allowance",
            "minutes_spread": "Spread of minutes",
            "labor_per_hour": "Labor per hour",
            "thread_tail_mm": "Tail of thread at each end (mm)",
        }
        help_texts = {
            "relaxation_allowance": "A share of the standard minutes: 0.11 is 11 %.",
            "overhead": "A share of labor: 0.2 is 20 %.",
            "thread_waste": "A share of the thread: 0.15 is 15 %.",
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        keep_in_bounds(self.fields)

    def clean(self) -> dict[str, Any] | None:
        data = super().clean()
        weights = (self.cleaned_data.get("cloth_weight"), self.cleaned_data.get("cutting_weight"))
        if weights == (0, 0):
            self.add_error(
                "cloth_weight", "One of the two weights is to be above 0, else all lays are alike."
            )
        return data


class FabricForm(forms.ModelForm[Fabric]):
    class Meta:
        model = Fabric
        fields = (
            "name",
            "fiber",
            "price_per_m",
            "usable_width_mm",
            "nap",
            "highest_plies",
            "end_allowance_mm",
            "shrinkage",
            "compressed_thickness_mm",
        )
        labels = {
            "price_per_m": "Price per metre",
            "usable_width_mm": "Usable width (mm)",
            "end_allowance_mm": "End allowance (mm)",
            "compressed_thickness_mm": "Compressed thickness (mm)",
        }
        help_texts = {"shrinkage": "A share of the length: 0.02 is 2 %."}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        keep_in_bounds(self.fields)


class GrainForm(forms.Form):
    """Which blocks may be turned by right angles. A code stands for the same block in every
    blocking that has it."""

    free = forms.MultipleChoiceField(
        label="Free on grain", required=False, widget=forms.CheckboxSelectMultiple
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        blocks = Block.objects.order_by("code", "blocking").values_list(
            "code", "name", "is_free_on_grain"
        )
        named = {code: f"{code} {name}" for code, name, _ in blocks}
        field = self.fields["free"]
        assert isinstance(field, forms.MultipleChoiceField)
        field.choices = list(named.items())
        field.initial = sorted({code for code, _, is_free in blocks if is_free})
