"""What comes in from the shopping list and the purchases. Lengths are asked in the units of the
workroom."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django import forms
from django.utils import timezone

from orders.forms import LineField
from production.buying.purchases import NOTE_LENGTH, REASON_LENGTH, Bolt
from production.models import PurchaseLine
from production.planning.supplies.shopping import METRE
from production.stock.cloth_forms import ClothForm, CodeField, LengthField, ShortLengthField

#: Bolts that one delivery can bring for a line; more come with the next.
BOLTS = 3
BOLT_PARTS = ("code", "dye_lot", "length_mm", "usable_width_mm")
MOST = Decimal(1_000_000)


def day_field(label: str) -> forms.DateField:
    return forms.DateField(
        label=label,
        initial=timezone.localdate,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )


def quantity_field(unit: str, label: str, **kwargs: Any) -> forms.DecimalField:
    """A quantity of a ware: metres as a length, all else in whole numbers."""
    if unit == METRE:
        return LengthField(least_mm=0, label=label, **kwargs)
    field = forms.DecimalField(label=label, min_value=0, max_value=MOST, decimal_places=0, **kwargs)
    field.widget.attrs["inputmode"] = "numeric"
    return field


def as_quantity(unit: str, value: Any) -> Decimal:
    """What a quantity field gave, in the unit of the ware; 0 for a field left empty."""
    given = Decimal(value or 0)
    return given / 1000 if unit == METRE else given


def for_field(unit: str, quantity: Decimal, field: forms.DecimalField) -> Decimal:
    """The other way round: what stands in the field for a quantity."""
    if isinstance(field, LengthField):
        return (quantity * 1000 / Decimal(field.mm)).quantize(Decimal("0.001")).normalize()
    return quantity.normalize()


class OrderForm(forms.Form):
    """What is ordered is ticked in the list itself."""

    ordered_on = day_field("Ordered on")
    note = LineField(
        label="Note", max_length=NOTE_LENGTH, required=False, help_text="Such as their number."
    )


class CloseForm(forms.Form):
    reason = LineField(
        label="Why the rest will not come",
        max_length=REASON_LENGTH,
        help_text="For example: sold out, ordered elsewhere.",
    )


@dataclass(frozen=True, slots=True)
class BoltRow:
    """The fields of one bolt; `is_open` where something stands in them."""

    fields: tuple[forms.BoundField, ...]
    is_open: bool

    @property
    def has_errors(self) -> bool:
        return any(field.errors for field in self.fields)


@dataclass(frozen=True, slots=True)
class LineFields:
    """A line of a purchase with its fields: one quantity, or rows of bolts."""

    line: PurchaseLine
    quantity: forms.BoundField | None
    bolts: tuple[BoltRow, ...] = ()


class GoodsInForm(ClothForm):
    """A delivery: how much of each ware came, and which bolts of cloth."""

    received_on = day_field("Came on")
    more_came = forms.BooleanField(
        label="More came than was ordered",
        required=False,
        help_text="Tick it where that is so, and it is booked too.",
    )

    def __init__(
        self, *args: Any, lines: Sequence[PurchaseLine], codes: Iterator[str], **kwargs: Any
    ) -> None:
        self.lines = list(lines)
        self.codes = codes
        super().__init__(*args, **kwargs)

    def in_units(self, unit: str) -> None:
        for line in self.lines:
            if line.ware:
                name = f"came-{line.pk}"
                self.fields[name] = quantity_field(line.ware.unit, "Came", required=False)
            else:
                for row in self._rows(line):
                    self.fields.update(_bolt_fields(row))
                    self.fields[f"{row}-code"].initial = next(self.codes)
        super().in_units(unit)
        for line in self.lines:
            if line.ware and line.received < line.quantity:
                field = self.fields[f"came-{line.pk}"]
                assert isinstance(field, forms.DecimalField)
                field.initial = for_field(line.ware.unit, line.quantity - line.received, field)

    def _rows(self, line: PurchaseLine) -> list[str]:
        return [f"bolt-{line.pk}-{number}" for number in range(1, BOLTS + 1)]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        for row in self._used_rows():
            for part, words in (
                ("code", "Write a code on the bolt and here."),
                ("dye_lot", "Its dye lot stands on the supplier's label."),
                ("length_mm", "Measure the bolt."),
            ):
                name = f"{row}-{part}"
                if not data.get(name) and name not in self.errors:
                    self.add_error(name, words)
        return data

    def _used_rows(self) -> Iterator[str]:
        for line in self.lines:
            if line.fabric_color:
                for row in self._rows(line):
                    if any(self.data.get(f"{row}-{part}") for part in BOLT_PARTS[1:]):
                        yield row

    def came(self) -> dict[int, Decimal]:
        return {
            line.pk: as_quantity(line.ware.unit, self.cleaned_data.get(f"came-{line.pk}"))
            for line in self.lines
            if line.ware
        }

    def bolts(self) -> list[Bolt]:
        return [self._bolt(row) for row in self._used_rows()]

    def _bolt(self, row: str) -> Bolt:
        code, dye_lot, length_mm, width_mm = (
            self.cleaned_data.get(f"{row}-{part}") for part in BOLT_PARTS
        )
        line = int(row.split("-")[1])
        return Bolt(row, line, code or "", dye_lot or "", length_mm or 0, width_mm)

    def by_line(self) -> Iterable[LineFields]:
        used = set(self._used_rows())
        for line in self.lines:
            if line.ware:
                yield LineFields(line, self[f"came-{line.pk}"])
            else:
                rows = self._rows(line)
                yield LineFields(
                    line,
                    None,
                    tuple(
                        BoltRow(
                            tuple(self[f"{row}-{part}"] for part in BOLT_PARTS),
                            row in used or row == rows[0],
                        )
                        for row in rows
                    ),
                )


def _bolt_fields(row: str) -> dict[str, forms.Field]:
    plain = forms.TextInput(attrs={"autocomplete": "off"})
    return {
        f"{row}-code": BoltCodeField(max_length=20, label="Code on the bolt", widget=plain),
        f"{row}-dye_lot": LineField(
            max_length=30,
            label="Dye lot",
            required=False,
            widget=forms.TextInput(attrs={"autocomplete": "off"}),
        ),
        f"{row}-length_mm": LengthField(label="Length", required=False),
        f"{row}-usable_width_mm": ShortLengthField(
            label="Usable width",
            required=False,
            help_text="Left empty: as wide as its fabric.",
        ),
    }


class BoltCodeField(CodeField):
    """A code that no lot has; it may be empty where the row is not used."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(required=False, **kwargs)

    def clean(self, value: Any) -> Any:
        return super().clean(value) if value else ""
