"""The workroom's settings as they are asked for. Lengths are asked as mm, or as inches."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.core.validators import DecimalValidator, MaxValueValidator, MinValueValidator

from orders.models import ONE_LINE
from orders.money import CURRENCIES
from orders.money_forms import UnitPriceField
from patterns.models import Block, Fabric, Workroom
from patterns.services import workroom
from production.edited_forms import SeenForm
from production.workroom.length_fields import ask_lengths

#: The least and the highest value of each number; the highest are invented, wide enough for any
#: workroom of a few people: more is a slip of the pen.
NUMBERS: Mapping[str, tuple[int, int]] = {
    "tool_highest_plies": (1, 200),
    "people": (1, 100),
    "minutes_per_person_day": (1, 1440),
    "highest_plies": (1, 200),
    "quote_days": (1, 365),
    "over_cut": (0, 50),
    "labor_per_hour": (0, 10_000_000),
    "cloth_weight": (0, 99),
    "cutting_weight": (0, 99),
    "compressed_thickness_mm": (0, 20),
    "price_per_m": (0, 10_000_000),
    "exact_zipper_extra": (0, 1_000_000),
    "thread_change_minutes": (0, 240),
    "further_spool_minutes": (0, 240),
    "foot_change_minutes": (0, 240),
    "stitch_change_minutes": (0, 240),
    "warn_below_percent": (0, 100),
}
#: In mm, as NUMBERS.
LENGTHS: Mapping[str, tuple[int, int]] = {
    "table_length_mm": (1, 100_000),
    "block_gap_mm": (0, 100),
    "seam_allowance_mm": (0, 50),
    "hem_allowance_mm": (0, 150),
    "thread_tail_mm": (0, 1000),
}
FABRIC_LENGTHS: Mapping[str, tuple[int, int]] = {
    "usable_width_mm": (1, 10_000),
    "end_allowance_mm": (0, 1000),
    "bolt_length_mm": (1, 1_000_000),
}


@dataclass(frozen=True, slots=True)
class Share:
    """Refuses a share out of bounds with words that name what is usual; the usual values are common
    practice, no source."""

    of: str
    usual: str
    highest: Decimal = Decimal(1)

    def __call__(self, value: Decimal) -> None:
        if 0 <= value <= self.highest:
            return
        raise ValidationError(
            f"{value:f} is {(100 * value).normalize():f} % of {self.of}. Enter a share from 0 to "
            f"{self.highest:f}; usual is {self.usual} (common practice). 0.11 is 11 %."
        )


SHARES: Mapping[str, Share] = {
    "relaxation_allowance": Share("the standard minutes", "0.09 to 0.15"),
    "minutes_spread": Share("the standard minutes", "0.10 to 0.30"),
    "overhead": Share("labor", "0.20 to 1.00", Decimal(10)),
    "thread_waste": Share("the thread", "0.10 to 0.20"),
    "fabric_waste": Share("the cloth", "0.02 to 0.05"),
    "notion_waste": Share("the notions", "0.01 to 0.03"),
    "margin": Share("the price before tax", "0.10 to 0.30", Decimal("0.9")),
    "tax_rate": Share("the price before tax", "0.05 to 0.25"),
    "deposit_share": Share("the price", "0.30 to 0.50"),
    "shrinkage": Share("the length", "0.01 to 0.05", Decimal("0.5")),
}


def keep_in_bounds(fields: dict[str, forms.Field]) -> None:
    """Every number gets its least and its highest value."""
    for name in fields.keys() & NUMBERS.keys():
        least, highest = NUMBERS[name]
        told = f"Enter a number from {least} to {highest}."
        fields[name].validators += [
            MinValueValidator(least, told),
            MaxValueValidator(highest, told),
        ]
    for name in fields.keys() & SHARES.keys():
        # 11 for 11 % is to hear of shares, and not of digits before the decimal point.
        fields[name].validators = [DecimalValidator(12, 3), SHARES[name]]
        fields[name].widget.attrs["inputmode"] = "decimal"


def learning_rate_in_bounds(rate: Decimal) -> None:
    if not Decimal("0.5") < rate <= 1:
        raise ValidationError(
            "Enter a rate above 0.5 and up to 1, or leave it empty; usual is 0.80 to 0.95 (common "
            "practice). 0.90 is 90 %."
        )


#: The workroom's settings: titles with the fields that stand under them.
GROUPS: Mapping[str, tuple[str, ...]] = {
    "The workroom": ("name", "address", "length_unit", "currency"),
    "Cutting": (
        "table_length_mm",
        "tool_highest_plies",
        "block_gap_mm",
        "spreading",
        "cloth_weight",
        "cutting_weight",
        "over_cut",
    ),
    "Cut on at the edges": ("seam_allowance_mm", "hem_allowance_mm"),
    "Thread": ("thread_method", "thread_tail_mm", "thread_waste"),
    "Zippers": ("zipper_rule", "exact_zipper_extra"),
    "Waste": ("fabric_waste", "notion_waste"),
    "People and time": (
        "people",
        "minutes_per_person_day",
        "working_weekdays",
        "relaxation_allowance",
        "minutes_spread",
        "learning_rate",
    ),
    "Changing over": (
        "thread_change_minutes",
        "further_spool_minutes",
        "foot_change_minutes",
        "stitch_change_minutes",
    ),
    "On the floor": ("tag_paper", "inspecting"),
    "Early warning": ("warn_below_percent", "warn_to"),
    "Labels and rules": ("market", "made_in"),
    "Cost of work": ("labor_per_hour", "overhead"),
    "Price and quotes": ("margin", "tax_rate", "deposit_share", "quote_days"),
}


class WorkroomForm(SeenForm, forms.ModelForm[Workroom]):
    class Meta:
        model = Workroom
        field_classes = {
            "labor_per_hour": UnitPriceField,
            "exact_zipper_extra": UnitPriceField,
        }
        fields = tuple(name for names in GROUPS.values() for name in names)
        labels = {
            "length_unit": "Lengths in",
            "tag_paper": "Tags and labels are printed on",
            "inspecting": "Looked over when finished",
            "warn_below_percent": "Warn below (percent)",
            "warn_to": "Mail the warning to",
            "market": "Sold in",
            "made_in": "Made in",
            "table_length_mm": "Length of the table",
            "block_gap_mm": "Room between blocks",
            "tool_highest_plies": "Highest plies for the tool",
            "over_cut": "Over-cut",
            "cloth_weight": "Weight of cloth",
            "cutting_weight": "Weight of cutting time",
            "seam_allowance_mm": "Seam allowance",
            "hem_allowance_mm": "Hem allowance",
            "thread_method": "Thread is counted by",
            "thread_tail_mm": "Tail of thread at each end",
            "thread_waste": "Waste of thread",
            "zipper_rule": "Zippers are",
            "exact_zipper_extra": "Extra for a zipper made to length",
            "fabric_waste": "Waste of cloth",
            "notion_waste": "Waste of notions",
            "minutes_per_person_day": "Minutes per person and day",
            "relaxation_allowance": "Relaxation allowance",
            "minutes_spread": "Spread of minutes",
            "learning_rate": "Learning rate",
            "thread_change_minutes": "Thread of another color, first spool (minutes)",
            "further_spool_minutes": "Each further spool or cone (minutes)",
            "foot_change_minutes": "Another presser foot (minutes)",
            "stitch_change_minutes": "Another stitch length (minutes)",
            "labor_per_hour": "Labor per hour",
            "tax_rate": "Tax",
            "deposit_share": "Deposit",
            "quote_days": "Days that a quote is good for",
        }
        help_texts = {
            "currency": "Its three letters by ISO 4217, as EUR.",
            "address": "Stands on packing lists, labels and care cards, beside the name.",
            "tag_paper": "Bundle tags, and the labels and cards of a hand-over.",
            "inspecting": "Every jacket, or a sample by its AQL; one that fails goes back to be "
            "mended.",
            "warn_below_percent": "An order whose chance to be on time is below this shows a "
            "warning; 0 never warns.",
            "warn_to": "Empty: nobody is mailed.",
            "market": "The reminders of safety and labels go by it.",
            "made_in": "The country, as it stands on the label.",
            "working_weekdays": "Digits 1 (Monday) to 7 (Sunday).",
            "thread_method": "An operation's own samples come before either.",
            "thread_waste": "A share of the thread: 0.15 is 15 %. Usual is 0.10 to 0.20 (common "
            "practice).",
            "fabric_waste": "A share of the cloth, for faults and joins: 0.03 is 3 %. Usual is "
            "0.02 to 0.05 (common practice).",
            "notion_waste": "A share of the notions, for spoiled and lost ones. Usual is 0.01 to "
            "0.03 (common practice).",
            "relaxation_allowance": "A share of the standard minutes: 0.11 is 11 %. Usual is 0.09 "
            "to 0.15 (common practice).",
            "learning_rate": "Crawford's curve: after each doubling of the jackets a jacket takes "
            "this share of the minutes, as 0.90. Usual is 0.80 to 0.95 (common practice). Empty: "
            "every jacket takes the standard.",
            "overhead": "A share of labor: 0.2 is 20 %.",
            "margin": "Share of the price before tax that is left after all costs: 0.15 is 15 %.",
            "tax_rate": "A share of the price before tax, as your country has it: 0.19 is 19 %.",
            "deposit_share": "A share of the price that is paid before work begins: 0.3 is 30 %.",
            "quote_days": "",
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        keep_in_bounds(self.fields)
        ask_lengths(self.fields, LENGTHS, self.instance.length_unit)
        for name in ("address", "made_in"):
            self.fields[name].validators.append(ONE_LINE)
        self.fields["learning_rate"].validators = [
            DecimalValidator(12, 3),
            learning_rate_in_bounds,
        ]

    def groups(self) -> Iterator[tuple[str, str, list[forms.BoundField]]]:
        """Each group with an id for its title."""
        for number, (title, names) in enumerate(GROUPS.items(), start=1):
            yield f"group-{number}", title, [self[name] for name in names]

    def clean_currency(self) -> str:
        code = str(self.cleaned_data["currency"]).strip().upper()
        if code not in CURRENCIES:
            raise ValidationError(
                f"{code} is no currency of ISO 4217. Enter its three letters, as EUR, USD or JPY."
            )
        return code

    def clean(self) -> dict[str, Any] | None:
        data = super().clean()
        weights = (self.cleaned_data.get("cloth_weight"), self.cleaned_data.get("cutting_weight"))
        if weights == (0, 0):
            self.add_error(
                "cloth_weight", "One of the two weights is to be above 0, else all lays are alike."
            )
        return data


#: Temperatures that a fabric may be washed at.
WASHES = ((0, "not washed"), *((celsius, f"{celsius} °C") for celsius in (30, 40, 50, 60)))


class FabricForm(SeenForm, forms.ModelForm[Fabric]):
    wash_celsius = forms.TypedChoiceField(
        label="Highest wash", choices=WASHES, coerce=int, help_text="As its supplier says."
    )

    class Meta:
        model = Fabric
        field_classes = {"price_per_m": UnitPriceField}
        fields = (
            "name",
            "fiber",
            "usable_width_mm",
            "nap",
            "highest_plies",
            "end_allowance_mm",
            "shrinkage",
            "compressed_thickness_mm",
            "supplier",
            "price_per_m",
            "sold_in",
            "bolt_length_mm",
            "wash_celsius",
            "may_tumble_dry",
            "may_iron",
        )
        labels = {
            "may_tumble_dry": "May be tumble dried",
            "may_iron": "May be ironed",
            "price_per_m": "Price per metre",
            "usable_width_mm": "Usable width",
            "end_allowance_mm": "End allowance",
            "compressed_thickness_mm": "Compressed thickness (mm)",
            "sold_in": "Sold in",
            "bolt_length_mm": "Length of a whole bolt",
        }
        help_texts = {
            "shrinkage": "A share of the length: 0.02 is 2 %.",
            "fiber": "With percent, 100 % in all, as '80 % polyester, 20 % wool'.",
            "supplier": "The shopping list goes by suppliers and their days.",
            "sold_in": "Lengths to buy are rounded up to it.",
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        keep_in_bounds(self.fields)
        ask_lengths(self.fields, FABRIC_LENGTHS, workroom().length_unit, long=("bolt_length_mm",))
        supplier = self.fields["supplier"]
        assert isinstance(supplier, forms.ModelChoiceField)
        supplier.empty_label = "none named yet"

    def yes_or_no(self) -> list[forms.BoundField]:
        """The fields that are one tick each."""
        return [self["may_tumble_dry"], self["may_iron"]]


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
