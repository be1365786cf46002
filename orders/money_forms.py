"""What the money pages ask."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms
from django.utils import timezone

from orders.models import ONE_LINE, JacketOrder, Payment, TeamOrder
from orders.money import decimals_of, plain
from orders.money_services import PaymentFacts, PriceFacts
from orders.queries import currency

#: The database keeps three decimals of an amount: no currency has more (ISO 4217, from memory).
STORED_DECIMALS = 3
#: Digits that it keeps in all.
STORED_DIGITS = 12


class AmountField(forms.DecimalField):
    """An amount in the workroom's currency."""

    def __init__(self, label: str, **kwargs: Any) -> None:
        money = currency()
        super().__init__(
            label=f"{label} in {money}",
            max_digits=STORED_DIGITS,
            decimal_places=min(decimals_of(money), STORED_DECIMALS),
            **kwargs,
        )

    def prepare_value(self, value: Any) -> Any:
        if isinstance(value, Decimal) and self.decimal_places is not None:
            return round(value, self.decimal_places)
        return value


class UnitPriceField(forms.DecimalField):
    """The price of one unit, which may be finer than the smallest coin."""

    def prepare_value(self, value: Any) -> Any:
        return plain(value) if isinstance(value, Decimal) else value


class PaymentForm(forms.Form):
    kind = forms.ChoiceField(
        choices=Payment.Kind.choices,
        initial=Payment.Kind.PAYMENT,
        help_text="A mistake is mended by a refund: what is noted stays.",
    )
    paid_on = forms.DateField(label="Day", widget=forms.DateInput(attrs={"type": "date"}))
    jacket_order = forms.ModelChoiceField(
        JacketOrder.objects.none(),
        label="For",
        required=False,
        empty_label="the order as a whole",
    )
    note = forms.CharField(
        required=False,
        max_length=200,
        validators=[ONE_LINE],
        help_text="Such as cash or bank transfer; never a card number.",
    )
    seen = forms.IntegerField(widget=forms.HiddenInput, required=False)

    field_order = ("kind", "amount", "paid_on", "jacket_order", "note", "seen")

    def __init__(self, *args: Any, team_order: TeamOrder, last: int, **kwargs: Any) -> None:
        kwargs.setdefault("initial", {"paid_on": timezone.localdate().isoformat(), "seen": last})
        super().__init__(*args, **kwargs)
        fields: dict[str, Any] = self.fields
        smallest = Decimal(1).scaleb(-min(decimals_of(currency()), STORED_DECIMALS))
        fields["amount"] = AmountField("Amount", min_value=smallest)
        fields["jacket_order"].queryset = team_order.jacket_orders.order_by("member")
        self.order_fields(self.field_order)

    def facts(self) -> PaymentFacts:
        data = self.cleaned_data
        return PaymentFacts(
            kind=data["kind"],
            amount=data["amount"],
            paid_on=data["paid_on"],
            jacket_order=data["jacket_order"],
            note=data["note"],
        )


class DiscountForm(forms.Form):
    def __init__(self, *args: Any, jacket_order: JacketOrder, **kwargs: Any) -> None:
        kwargs["initial"] = {"discount": jacket_order.discount}
        super().__init__(*args, **kwargs)
        self.fields["discount"] = AmountField(
            "Discount", min_value=0, help_text="Taken off this jacket's price."
        )


class PriceForm(forms.Form):
    payer = forms.ChoiceField(
        label="Who pays", choices=TeamOrder.Payer.choices, widget=forms.RadioSelect
    )

    field_order = ("price", "discount", "payer")

    def __init__(self, *args: Any, team_order: TeamOrder, **kwargs: Any) -> None:
        kwargs["initial"] = {
            "price": team_order.price,
            "discount": team_order.discount or None,
            "payer": team_order.payer,
        }
        super().__init__(*args, **kwargs)
        self.fields["price"] = AmountField(
            "Price of one jacket",
            min_value=0,
            required=False,
            help_text="Tax included. Left empty, no price is agreed yet.",
        )
        self.fields["discount"] = AmountField(
            "Discount",
            min_value=0,
            required=False,
            help_text="Taken off the whole order.",
        )
        self.order_fields(self.field_order)

    def facts(self) -> PriceFacts:
        data = self.cleaned_data
        return PriceFacts(
            price=data["price"], payer=data["payer"], discount=data["discount"] or Decimal(0)
        )
