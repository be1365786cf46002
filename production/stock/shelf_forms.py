"""What comes in from the shelf: counts, what runs take, and what they bring back."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from typing import Any

from django import forms

from orders.forms import LineField
from production.buying.shopping_forms import as_quantity, quantity_field
from production.models import Run, Ware
from production.needs.run_needs import Want, open_runs
from production.stock.cloth_forms import ClothForm

KINDS = (("thread", "thread"), ("zipper", "zippers"), ("elastic", "elastic"), ("notion", "notions"))


class ShelfFilter(forms.Form):
    """Narrows the list of wares down."""

    text = forms.CharField(label="What", required=False)
    kind = forms.ChoiceField(label="Kind", required=False, choices=[("", "all"), *KINDS])
    there = forms.ChoiceField(
        label="Show",
        required=False,
        choices=[
            ("", "all that is sold"),
            ("shelf", "what is on the shelf"),
            ("short", "what is short"),
        ],
    )


class WareForm(ClothForm):
    """A form that asks for a quantity of one ware."""

    label = "Quantity"

    def __init__(self, *args: Any, ware_unit: str, **kwargs: Any) -> None:
        self.ware_unit = ware_unit
        super().__init__(*args, **kwargs)

    def in_units(self, unit: str) -> None:
        field = quantity_field(self.ware_unit, self.label)
        if self.ware_unit != Ware.Unit.METRE:
            field.label = f"{self.label} ({Ware.Unit(self.ware_unit).label})"
        self.fields = {"quantity": field, **self.fields}
        super().in_units(unit)

    @property
    def quantity(self) -> Decimal:
        return as_quantity(self.ware_unit, self.cleaned_data["quantity"])


class CountForm(WareForm):
    label = "Counted on the shelf"
    reason = LineField(
        max_length=200,
        help_text="Why it differs from the book. For example: a spool was never written down.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )


class TakeForm(WareForm):
    label = "Taken"
    run = forms.ModelChoiceField(
        Run.objects.none(), label="For run", to_field_name="code", empty_label="choose a run"
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        runs = self.fields["run"]
        assert isinstance(runs, forms.ModelChoiceField)
        runs.queryset = open_runs().defer("snapshot", "plan").order_by("deadline", "code")


class BringBackForm(ClothForm):
    """How much of each ware that a run holds comes back."""

    def __init__(self, *args: Any, held: Iterable[Want], **kwargs: Any) -> None:
        self.held = list(held)
        super().__init__(*args, **kwargs)

    def in_units(self, unit: str) -> None:
        for want in self.held:
            self.fields[want.key] = quantity_field(want.unit, want.name, required=False)
        super().in_units(unit)

    def quantities(self) -> dict[str, Decimal]:
        return {
            want.key: as_quantity(want.unit, self.cleaned_data.get(want.key)) for want in self.held
        }

    def by_ware(self) -> list[tuple[Want, forms.BoundField]]:
        return [(want, self[want.key]) for want in self.held]
