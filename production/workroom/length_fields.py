"""Lengths that are kept in mm and asked in the unit of the workroom."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import Any

from django import forms

from production.planning.lengths import IMPERIAL, MM_PER_INCH
from production.stock.cloth_forms import MM_PER_YARD, LengthField

MILLI = Decimal("0.001")


class StoredLength(LengthField):
    """A length of a row, shown as it is kept and given on in whole mm."""

    def __init__(self, *, highest_mm: int, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.highest_mm = highest_mm

    def prepare_value(self, value: Any) -> Any:
        """What was typed stays as it was typed; what comes from the row is a whole number of mm."""
        return self._shown(value) if isinstance(value, int) else value

    def clean(self, value: Any) -> Any:
        measured = forms.DecimalField.clean(self, value)
        if measured is None:
            return None
        # The row's own value comes back rounded to thousandths of the unit.
        length_mm = int((measured * self.mm).to_integral_value())
        if measured < 0 or not self.least_mm <= length_mm <= self.highest_mm:
            raise forms.ValidationError(
                f"Enter a length from {self._shown(self.least_mm)} to "
                f"{self._shown(self.highest_mm)} {self.unit}."
            )
        return length_mm

    def _shown(self, length_mm: int) -> str:
        exact = (length_mm / self.mm).quantize(MILLI)
        return f"{exact.normalize():f}"


def ask_lengths(
    fields: dict[str, forms.Field],
    bounds: Mapping[str, tuple[int, int]],
    unit: str,
    *,
    long: Iterable[str] = (),
) -> None:
    """Ask for the lengths among the fields between their bounds, in mm: as mm or inches, those that
    are `long` as metres or yards."""
    imperial = unit == IMPERIAL
    for name, (least_mm, highest_mm) in bounds.items():
        old = fields[name]
        field = StoredLength(
            label=old.label,
            help_text=old.help_text,
            required=old.required,
            least_mm=least_mm,
            highest_mm=highest_mm,
        )
        if name in long:
            field.in_unit(*((MM_PER_YARD, "yd") if imperial else (Decimal(1000), "m")))
        else:
            field.in_unit(*((MM_PER_INCH, "in") if imperial else (Decimal(1), "mm")))
        fields[name] = field
