"""Suppliers, threads, zippers, elastic and own notions as they are asked for."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator

from orders.forms import LineField
from orders.money_forms import UnitPriceField
from patterns.fields import HEX_COLOR
from patterns.models import (
    CODE,
    Elastic,
    Notion,
    PatternSize,
    Supplier,
    ThreadColor,
    Zipper,
)
from patterns.services import workroom
from production.edited_forms import SeenForm
from production.planning.lengths import IMPERIAL, MM_PER_INCH
from production.planning.supplies.materials import zipper_length
from production.work_study.operations_forms import seam_choices
from production.workroom.length_fields import ask_lengths
from production.workroom.supplies import ZipperFacts

#: The least and the highest value of each number; the highest are invented and wide.
NUMBERS: Mapping[str, tuple[object, object, str]] = {
    "lead_days": (0, 365, "days"),
    "spool_m": (1, 100_000, "metres"),
    "cone_m": (1, 100_000, "metres"),
    "stretch_factor": (Decimal("0.3"), Decimal("1.2"), "a share"),
    "quantity": (0, 10_000, "a quantity"),
    "sold_step": (Decimal("0.001"), 10_000, "a quantity"),
}
PRICES = ("price", "price_per_spool", "price_per_cone", "price_per_m", "more_each", "more_price")
HIGHEST_PRICE = 10_000_000
ELASTIC_LENGTHS = {"width_mm": (1, 200), "join_mm": (0, 200), "sold_step_mm": (1, 200_000)}
#: Shortest and longest zipper in mm; invented and wide.
ZIPPERS_MM = (50, 3000)
STAYS = "Letters, digits, dot, dash and underscore. It stays."
NO_SUPPLIER = "none named yet"
PRICE, SIZE = "price_", "size_"


def color_field() -> forms.CharField:
    return forms.CharField(
        label="Color on the screen",
        max_length=7,
        validators=[HEX_COLOR],
        initial="#777777",
        widget=forms.TextInput(attrs={"type": "color"}),
    )


def in_bounds(fields: dict[str, forms.Field]) -> None:
    for name, field in fields.items():
        if name in PRICES or name.startswith(PRICE):
            least: object = 0
            highest: object = HIGHEST_PRICE
            told = f"A price is from 0 to {HIGHEST_PRICE}."
        elif name in NUMBERS:
            least, highest, what = NUMBERS[name]
            told = f"Enter {what} from {least} to {highest}."
        else:
            continue
        field.validators += [MinValueValidator(least, told), MaxValueValidator(highest, told)]
        field.widget.attrs["inputmode"] = "decimal"


def name_no_supplier(fields: dict[str, forms.Field]) -> None:
    field = fields.get("supplier")
    if isinstance(field, forms.ModelChoiceField):
        field.empty_label = NO_SUPPLIER


class SupplierForm(SeenForm, forms.ModelForm[Supplier]):
    name = LineField(max_length=60)
    note = LineField(max_length=200, required=False, help_text="Where and how one orders there.")

    class Meta:
        model = Supplier
        fields = ("name", "lead_days", "note")
        labels = {"lead_days": "Days from the order to the goods"}
        help_texts = {"lead_days": "The shopping list reckons from it when to order."}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        in_bounds(self.fields)


class ThreadForm(SeenForm, forms.ModelForm[ThreadColor]):
    name = LineField(max_length=40)
    hex_color = color_field()

    class Meta:
        model = ThreadColor
        field_classes = {"price_per_spool": UnitPriceField, "price_per_cone": UnitPriceField}
        fields = (
            "code",
            "name",
            "hex_color",
            "spool_m",
            "price_per_spool",
            "cone_m",
            "price_per_cone",
            "supplier",
        )
        labels = {
            "spool_m": "Thread on a spool (m)",
            "price_per_spool": "Price of a spool",
            "cone_m": "Thread on a cone (m)",
            "price_per_cone": "Price of a cone",
        }
        help_texts = {"code": STAYS, "cone_m": "Left empty: it is not sold on cones."}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.instance.pk:
            del self.fields["code"]
        in_bounds(self.fields)
        name_no_supplier(self.fields)

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if self.errors:
            return data
        if data["cone_m"] is not None and data["price_per_cone"] is None:
            self.add_error("price_per_cone", "Enter what a cone costs, or leave both empty.")
        if data["cone_m"] is None and data["price_per_cone"] is not None:
            self.add_error("cone_m", "Enter what a cone holds, or leave both empty.")
        return data


class ElasticForm(SeenForm, forms.ModelForm[Elastic]):
    name = LineField(max_length=60)

    class Meta:
        model = Elastic
        field_classes = {"price_per_m": UnitPriceField}
        fields = (
            "place",
            "name",
            "width_mm",
            "stretch_factor",
            "join_mm",
            "price_per_m",
            "sold_step_mm",
            "supplier",
        )
        labels = {
            "width_mm": "Width",
            "stretch_factor": "Stretch factor",
            "join_mm": "Overlap to join",
            "price_per_m": "Price per metre",
            "sold_step_mm": "Sold in steps of",
        }
        help_texts = {
            "stretch_factor": "Its cut length as a share of the girth that it holds: 0.85 is 85 %. "
            "Usual is 0.80 to 0.95 (common practice).",
            "sold_step_mm": "Lengths to buy are rounded up to it.",
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.instance.pk:
            del self.fields["place"]
        else:
            there = set(Elastic.objects.values_list("place", flat=True))
            place = self.fields["place"]
            assert isinstance(place, forms.ChoiceField)
            place.choices = [one for one in Elastic.Place.choices if one[0] not in there]
        in_bounds(self.fields)
        ask_lengths(self.fields, ELASTIC_LENGTHS, workroom().length_unit)
        name_no_supplier(self.fields)


class NotionForm(SeenForm, forms.ModelForm[Notion]):
    name = LineField(max_length=60)

    class Meta:
        model = Notion
        field_classes = {"price": UnitPriceField}
        fields = (
            "code",
            "name",
            "rule",
            "unit",
            "quantity",
            "seam",
            "differs_by_size",
            "supplier",
            "price",
            "sold_step",
        )
        labels = {
            "rule": "A jacket takes it",
            "unit": "Counted in",
            "seam": "Seam or style line",
            "differs_by_size": "Bought for each size apart, as size labels are",
            "price": "Price of one piece or one metre",
            "sold_step": "Sold in multiples of",
        }
        help_texts = {
            "code": STAYS,
            "quantity": "In a jacket, or along a metre of the seam. By size: enter it below.",
            "seam": "For 'per metre of a seam' alone. A jacket without it takes none.",
            "differs_by_size": "",
            "price": "",
            "sold_step": "In the unit above: 25 for labels that come in packs of 25.",
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        fields = self.fields
        if self.instance.pk:
            del fields["code"]
        fields["seam"] = forms.ChoiceField(
            label=fields["seam"].label,
            help_text=fields["seam"].help_text,
            required=False,
            choices=seam_choices(self.instance.seam),
        )
        in_bounds(fields)
        name_no_supplier(fields)
        known = dict(self.instance.by_size) if self.instance.pk else {}
        for size in self._size_codes(known):
            fields[f"{SIZE}{size}"] = forms.DecimalField(
                label=size,
                required=False,
                max_digits=8,
                decimal_places=3,
                min_value=Decimal(0),
                initial=known[size].normalize() if size in known else None,
                widget=forms.NumberInput(attrs={"inputmode": "decimal"}),
            )

    def _size_codes(self, known: Iterable[str]) -> Iterable[str]:
        rows = PatternSize.objects.order_by("pattern", "position").values_list("code", flat=True)
        return dict.fromkeys([*rows, *known])

    def size_fields(self) -> list[forms.BoundField]:
        return [self[name] for name in self.fields if name.startswith(SIZE)]

    def by_size(self) -> dict[str, Decimal]:
        """What each size takes; empty for a rule that asks for none."""
        if self.cleaned_data["rule"] != Notion.Rule.SIZE:
            return {}
        return {
            name.removeprefix(SIZE): value
            for name, value in self.cleaned_data.items()
            if name.startswith(SIZE) and value is not None
        }

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        by_seam = data.get("rule") == Notion.Rule.SEAM_METRE
        if by_seam and not data.get("seam"):
            self.add_error("seam", "Choose the seam or style line that it is taken along.")
        if not by_seam and data.get("seam"):
            self.add_error("seam", "A seam is chosen, but the rule goes by no seam. Choose none.")
        if data.get("rule") == Notion.Rule.SIZE:
            for name in [name for name in self.fields if name.startswith(SIZE)]:
                if name in data and data[name] is None:
                    self.add_error(name, "Enter how much this size takes; 0 is none.")
        return data


class ZipperForm(SeenForm, forms.Form):
    """The zippers of one tape color; a new one with a row of lengths at once."""

    color_code = forms.CharField(label="Code", max_length=20, validators=[CODE], help_text=STAYS)
    color_name = LineField(label="Name", max_length=40)
    hex_color = color_field()
    supplier = forms.ModelChoiceField(
        Supplier.objects.all(), required=False, empty_label=NO_SUPPLIER
    )
    more = LineField(label="Lengths", max_length=300)
    more_price = UnitPriceField(
        label="Price of the shortest of them", max_digits=12, decimal_places=4
    )
    more_each = UnitPriceField(
        label="Each further length costs more by", max_digits=12, decimal_places=4, initial=0
    )

    def __init__(self, *args: Any, rows: Iterable[Zipper] = (), **kwargs: Any) -> None:
        self.rows, self.unit = list(rows), workroom().length_unit
        self.is_new = not self.rows
        super().__init__(*args, **kwargs)
        imperial = self.unit == IMPERIAL
        self.mm, word = (MM_PER_INCH, "in") if imperial else (Decimal(10), "cm")
        example = "20, 22, 24.5" if imperial else "50, 55, 60.5"
        more = self.fields["more"]
        more.label = f"{'Further lengths' if self.rows else 'Lengths'} ({word})"
        more.help_text = f"One after the other: {example}."
        if self.rows:
            self._ask_for_rows()
        in_bounds(self.fields)

    def _ask_for_rows(self) -> None:
        first = self.rows[0]
        del self.fields["color_code"]
        self.initial = {
            "color_name": first.color_name,
            "hex_color": first.hex_color,
            "supplier": first.supplier_id,
            **self.initial,
        }
        for name in ("more", "more_price", "more_each"):
            self.fields[name].required = False
        for row in self.rows:
            length = zipper_length(row.length_mm, self.unit)
            self.fields[f"{PRICE}{row.length_mm}"] = UnitPriceField(
                label=f"Price of {length}", max_digits=12, decimal_places=4, initial=row.price
            )
        self.fields["gone"] = forms.MultipleChoiceField(
            label="Sold no more",
            help_text="With its last length the color goes as well.",
            required=False,
            widget=forms.CheckboxSelectMultiple,
            choices=[(row.length_mm, zipper_length(row.length_mm, self.unit)) for row in self.rows],
        )

    def price_fields(self) -> list[forms.BoundField]:
        return [self[name] for name in self.fields if name.startswith(PRICE)]

    def clean_color_code(self) -> str:
        code: str = self.cleaned_data["color_code"]
        if known := Zipper.objects.filter(color_code=code).first():
            raise ValidationError(
                f"{code} is the code of {known.color_name} already: add lengths on its page, or "
                "give this color another code."
            )
        return code

    def clean_more(self) -> list[int]:
        lengths = [
            self._length_mm(word)
            for word in re.split(r"[,;\s]+", self.cleaned_data["more"])
            if word
        ]
        there = {row.length_mm for row in self.rows}
        for length_mm in lengths:
            if length_mm in there or lengths.count(length_mm) > 1:
                named = zipper_length(length_mm, self.unit)
                raise ValidationError(f"{named} is there already: name each length once.")
        return sorted(lengths)

    def _length_mm(self, word: str) -> int:
        least, highest = (zipper_length(length_mm, self.unit) for length_mm in ZIPPERS_MM)
        told = f"'{word}' is no length from {least} to {highest}. Enter lengths as in the example."
        try:
            length_mm = int((Decimal(word) * self.mm).to_integral_value())
        except (ArithmeticError, ValueError) as error:
            raise ValidationError(told) from error
        if not ZIPPERS_MM[0] <= length_mm <= ZIPPERS_MM[1]:
            raise ValidationError(told)
        return length_mm

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if data.get("more") and data.get("more_price") is None and "more_price" in data:
            self.add_error("more_price", "Enter what the shortest of the further lengths costs.")
        return data

    def gone(self) -> list[int]:
        return [int(length_mm) for length_mm in self.cleaned_data.get("gone", ())]

    def facts(self) -> ZipperFacts:
        data = self.cleaned_data
        prices = {row.length_mm: data[f"{PRICE}{row.length_mm}"] for row in self.rows}
        each = data["more_each"] or Decimal(0)
        for number, length_mm in enumerate(data["more"]):
            prices[length_mm] = data["more_price"] + number * each
        return ZipperFacts(data["color_name"], data["hex_color"], data["supplier"], prices)
