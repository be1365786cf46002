"""What comes in from the cloth pages. Lengths are asked in the units of the workroom."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms
from django.utils import timezone

from orders.forms import LineField
from patterns.models import CODE, FabricColor
from production.models import StockLot
from production.planning.lengths import IMPERIAL, MM_PER_INCH

MM_PER_YARD = 36 * MM_PER_INCH
#: One kilometre: more is a slip of the pen.
LONGEST_MM = 1_000_000


class LengthField(forms.DecimalField):
    """A length as it is measured, given on in whole mm."""

    def __init__(self, *, least_mm: int = 1, **kwargs: Any) -> None:
        super().__init__(max_digits=10, decimal_places=3, **kwargs)
        self.least_mm = least_mm
        self.mm, self.unit = Decimal(1000), "m"

    def in_unit(self, mm: Decimal, unit: str) -> None:
        self.mm, self.unit = mm, unit
        self.label = f"{self.label} ({unit})"
        self.widget.attrs.update({"inputmode": "decimal", "step": "any"})

    def clean(self, value: Any) -> Any:
        measured = super().clean(value)
        if measured is None:
            return None
        length_mm = int((measured * self.mm).to_integral_value())
        if measured < 0:
            raise forms.ValidationError("A length is not below zero: measure it again.")
        if length_mm < self.least_mm:
            raise forms.ValidationError(f"This is to be longer than 0 {self.unit}.")
        if length_mm > LONGEST_MM:
            raise forms.ValidationError("This is longer than a kilometre: look at the unit.")
        return length_mm


class ShortLengthField(LengthField):
    """A length across the cloth or of a flaw: cm or inches."""


class ClothForm(forms.Form):
    """A form whose lengths bear the unit of the workroom."""

    def __init__(self, *args: Any, unit: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.in_units(unit)

    def in_units(self, unit: str) -> None:
        imperial = unit == IMPERIAL
        for field in self.fields.values():
            if isinstance(field, ShortLengthField):
                field.in_unit(*((MM_PER_INCH, "in") if imperial else (Decimal(10), "cm")))
            elif isinstance(field, LengthField):
                field.in_unit(*((MM_PER_YARD, "yd") if imperial else (Decimal(1000), "m")))


class CodeField(LineField):
    """The code of a lot, which no other lot has."""

    def clean(self, value: Any) -> Any:
        code = super().clean(value)
        CODE(code)
        known = StockLot.objects.filter(code=code).select_related("fabric_color").first()
        if known:
            raise forms.ValidationError(
                f"{code} is a lot of {known.fabric_color.name} already: give this one another code."
            )
        return code


class ReceiveForm(ClothForm):
    code = CodeField(
        max_length=20,
        help_text="Write it on the bolt. For example: B-105.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    fabric_color = forms.ModelChoiceField(
        FabricColor.objects.select_related("fabric"), empty_label="choose a color"
    )
    dye_lot = LineField(
        max_length=30, help_text="As on the supplier's label; blocks of a jacket come from one lot."
    )
    length_mm = LengthField(label="Length")
    usable_width_mm = ShortLengthField(
        label="Usable width",
        required=False,
        help_text="Between the selvedges. Left empty: as wide as its fabric.",
    )
    is_remnant = forms.BooleanField(
        label="It is a remnant", required=False, help_text="Small blocks are laid onto it first."
    )
    received_on = forms.DateField(
        label="Received on",
        initial=timezone.localdate,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )
    note = LineField(max_length=200, required=False)


class CountForm(ClothForm):
    left_mm = LengthField(label="Left on the bolt", least_mm=0)
    reason = LineField(
        max_length=200,
        help_text="Why it differs from the book. For example: label said more.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )


class RemnantForm(ClothForm):
    code = CodeField(max_length=20, widget=forms.TextInput(attrs={"autocomplete": "off"}))
    length_mm = LengthField(label="Length")
    usable_width_mm = ShortLengthField(
        label="Usable width", required=False, help_text="Left empty: as wide as the bolt."
    )


class FlawForm(ClothForm):
    at_mm = LengthField(
        label="Where along the bolt",
        least_mm=0,
        help_text="From the outer end of the full bolt to where the flaw begins.",
    )
    across_mm = ShortLengthField(
        label="How far across", least_mm=0, help_text="From the selvedge nearest to you."
    )
    length_mm = ShortLengthField(label="Length of the flaw")
    width_mm = ShortLengthField(label="Width of the flaw")
    is_hole = forms.BooleanField(label="It is a hole", required=False)
    words = LineField(
        label="What it is",
        max_length=100,
        required=False,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
