"""What the quote pages ask. Shares are asked for in percent, and wherever something is refused all
that was typed is still there."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from django import forms
from django.core.validators import MaxValueValidator, MinValueValidator
from django.forms.boundfield import BoundField

from orders.models import ONE_LINE
from orders.money import amount_words
from orders.money_forms import UnitPriceField
from orders.team_order_forms import day_field
from production.edited_forms import SeenForm
from production.models import Quote
from production.planning.quotes.quote_changes import WhatIf
from production.planning.quotes.quotes import Figures, Terms
from production.planning.snapshot import RunSnapshot
from production.quoting.quotes import QuoteFacts
from production.workroom.length_fields import ask_lengths

#: The least and the highest of each number, in percent; those of a learning rate are the model's.
MARGIN, TAX, DEPOSIT, LEARNING = ("0", "99.9"), ("0", "100"), ("0", "100"), ("50.1", "100")
#: Invented, wide enough for any workroom of a few people.
WIDEST_MM, HIGHEST_PRICE, HIGHEST_WEIGHT = 10_000, 10_000_000, 9_999
WEIGHT = "weight"


class PercentField(forms.DecimalField):
    """A share of 1, asked for in percent."""

    def __init__(self, label: str, bounds: tuple[str, str], **kwargs: Any) -> None:
        least, highest = map(Decimal, bounds)
        told = f"Enter a number from {least} to {highest} percent."
        super().__init__(
            label=f"{label} (%)",
            decimal_places=1,
            validators=[MinValueValidator(least, told), MaxValueValidator(highest, told)],
            **kwargs,
        )
        self.widget.attrs |= {"step": "0.1", "min": str(least), "max": str(highest)}

    def prepare_value(self, value: Any) -> Any:
        return f"{(100 * value).normalize():f}" if isinstance(value, Decimal) else value


class QuoteForm(SeenForm, forms.Form):
    """A draft: its shares and words, and a weight for each size and colorway."""

    margin = PercentField(
        "Margin", MARGIN, help_text="Of the price before tax, left after all costs."
    )
    tax_rate = PercentField("Tax", TAX, help_text="On the price; 0 where none is asked for.")
    deposit_share = PercentField("Deposit", DEPOSIT, help_text="Of the price with tax.")
    valid_until = day_field(label="Good until")
    words = forms.CharField(
        label="Words to the club",
        required=False,
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 4}),
    )
    not_included = forms.CharField(
        required=False,
        max_length=1000,
        widget=forms.Textarea(attrs={"rows": 4}),
        help_text="One thing a line.",
    )

    def __init__(
        self, *args: Any, quote: Quote, snapshot: RunSnapshot, terms: Terms, **kwargs: Any
    ) -> None:
        self.kinds = {
            f"{WEIGHT}-{jacket.size}-{jacket.colorway}": jacket for jacket in snapshot.jackets
        }
        kwargs["initial"] = {
            "margin": terms.margin,
            "tax_rate": terms.tax_rate,
            "deposit_share": terms.deposit_share,
            "valid_until": quote.valid_until.isoformat(),
            "words": quote.words,
            "not_included": quote.not_included,
            **dict(zip(self.kinds, terms.weights, strict=True)),
        }
        super().__init__(*args, **kwargs)
        for name, jacket in self.kinds.items():
            self.fields[name] = forms.IntegerField(
                label=f"{jacket.colorway} in {jacket.size}",
                required=False,
                min_value=0,
                max_value=HIGHEST_WEIGHT,
                widget=forms.NumberInput(
                    attrs={"aria-label": f"Weight of {jacket.colorway} in {jacket.size}"}
                ),
            )

    @property
    def colorways(self) -> list[str]:
        return list(dict.fromkeys(jacket.colorway for jacket in self.kinds.values()))

    @property
    def rows(self) -> list[tuple[str, list[BoundField | None]]]:
        """The weights by size, a field for each colorway that is made in it."""
        sizes = dict.fromkeys(jacket.size for jacket in self.kinds.values())
        return [
            (
                size,
                [
                    self[name] if (name := f"{WEIGHT}-{size}-{colorway}") in self.kinds else None
                    for colorway in self.colorways
                ],
            )
            for size in sizes
        ]

    @property
    def weight_errors(self) -> list[str]:
        """Each refused weight with its size and colorway, to be read beside the table."""
        return [
            f"{self.fields[name].label}: {' '.join(map(str, self.errors[name]))}"
            for name in self.kinds
            if name in self.errors
        ]

    def clean(self) -> dict[str, Any] | None:
        data = super().clean()
        asked = {name for name in self.data if name.startswith(f"{WEIGHT}-")}
        if foreign := sorted(asked - self.kinds.keys()):
            named = ", ".join(name.removeprefix(f"{WEIGHT}-") for name in foreign)
            raise forms.ValidationError(
                f"The quote has no {named}: its sizes and colorways are others by now. Look at the "
                "weights again; they are those of the quote as it is."
            )
        if not self.weight_errors and not any(self.cleaned_data.get(name) for name in self.kinds):
            raise forms.ValidationError(
                "Give at least one size and colorway a weight of 1 or more."
            )
        return data

    def facts(self) -> QuoteFacts:
        data = self.cleaned_data
        return QuoteFacts(
            margin=data["margin"] / 100,
            tax_rate=data["tax_rate"] / 100,
            deposit_share=data["deposit_share"] / 100,
            valid_until=data["valid_until"],
            words=data["words"],
            not_included=data["not_included"],
            weights=tuple(data[name] or 0 for name in self.kinds),
        )


class WhatIfForm(forms.Form):
    """What might be otherwise; whatever is left as it stands changes nothing."""

    fabric = forms.ChoiceField(required=False)
    usable_width_mm = forms.IntegerField(label="Usable width", required=False)
    price_per_m = UnitPriceField(
        required=False, min_value=0, max_value=HIGHEST_PRICE, decimal_places=4
    )
    blocking = forms.ChoiceField(label="Another blocking for all", required=False)
    style_line = forms.ChoiceField(label="One more style line", required=False)
    margin = PercentField("Margin", MARGIN, required=False)
    labor_per_hour = UnitPriceField(
        required=False, min_value=0, max_value=HIGHEST_PRICE, decimal_places=4
    )
    learning_rate = PercentField(
        "Learning rate",
        LEARNING,
        required=False,
        help_text="Of the minutes, at each doubling; 100 % is none.",
    )

    def __init__(
        self,
        *args: Any,
        snapshot: RunSnapshot,
        terms: Terms,
        blockings: Mapping[str, str],
        lines: Mapping[str, str],
        used: set[str],
        **kwargs: Any,
    ) -> None:
        fabrics = [fabric for fabric in snapshot.fabrics if fabric.code in used]
        room = snapshot.workroom
        kwargs["initial"] = {
            "fabric": fabrics[0].code,
            "usable_width_mm": fabrics[0].usable_width_mm,
            "price_per_m": fabrics[0].price_per_m,
            "margin": terms.margin,
            "labor_per_hour": room.labor_per_hour,
            "learning_rate": room.learning_rate or Decimal(1),
        }
        super().__init__(*args, **kwargs)
        self._only_fabric = fabrics[0].code if len(fabrics) == 1 else ""
        fields: dict[str, Any] = self.fields
        fields["fabric"].choices = [(fabric.code, fabric.name) for fabric in fabrics]
        if self._only_fabric:
            fields["fabric"].widget = forms.HiddenInput()
        ask_lengths(fields, {"usable_width_mm": (1, WIDEST_MM)}, room.length_unit)
        fields["price_per_m"].label = f"Price per metre ({room.currency})"
        fields["labor_per_hour"].label = f"Wage per hour ({room.currency})"
        fields["blocking"].choices = [("", "as it is"), *blockings.items()]
        fields["style_line"].choices = [("", "none"), *lines.items()]
        if not lines:
            fields["style_line"].help_text = "No piece is whole that a shipped line could cut."

    def what(self) -> WhatIf:
        data = self.cleaned_data
        return WhatIf(
            fabric=data["fabric"] or self.initial["fabric"],
            usable_width_mm=data["usable_width_mm"],
            price_per_m=data["price_per_m"],
            margin=_share(data["margin"]),
            labor_per_hour=data["labor_per_hour"],
            learning_rate=_share(data["learning_rate"]),
            blocking=data["blocking"],
            style_line=data["style_line"],
        )


def _share(percent: Decimal | None) -> Decimal | None:
    return None if percent is None else percent / 100


class AcceptForm(forms.Form):
    jackets = forms.TypedChoiceField(label="For how many jackets", coerce=int)
    sets_price = forms.BooleanField(
        label="Make it the price of the order's jackets", required=False, initial=True
    )
    answer = forms.CharField(
        label="What the club said", required=False, max_length=200, validators=[ONE_LINE]
    )

    def __init__(
        self, *args: Any, quote: Quote, figures: Figures, today: datetime.date, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        fields: dict[str, Any] = self.fields
        fields["jackets"].choices = [
            (offer.jackets, f"{offer.jackets} at {amount_words(offer.price, quote.currency)} each")
            for offer in figures.offers
        ]
        if own := quote.team_order.jacket_orders.count():
            self.initial["jackets"] = min(
                (offer.jackets for offer in figures.offers), key=lambda n: (abs(n - own), n)
            )
        if today > quote.valid_until:
            fields["answer"].label = "Why it is taken after its day"
            fields["answer"].help_text = f"It was good until {quote.valid_until:%d %B %Y}."


class DeclineForm(forms.Form):
    answer = forms.CharField(
        label="What the club said", required=False, max_length=200, validators=[ONE_LINE]
    )
