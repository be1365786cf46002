"""Columns of the money lists, on the page and in a spreadsheet."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import django_tables2 as tables
from django.utils.html import format_html
from django.utils.safestring import SafeString

from orders.models import Payment
from orders.money import Account, balance_words, rounded
from orders.money_queries import MemberRow

NUMBER = {"td": {"class": "number"}, "th": {"class": "number"}, "tf": {"class": "number"}}


def _discount_label(record: MemberRow) -> str:
    return f"{record.discount or 'give one'}, discount of {record.member}"


class MoneyTable(tables.Table):  # type: ignore[misc]  # django-tables2 is untyped
    """One row a member. `open` is left out where the club pays: what it pays for the order as a
    whole belongs to no member."""

    label = "Money by member"
    member = tables.Column(footer="All jackets")
    discount = tables.Column(
        linkify=(
            "money:discount",
            [tables.A("jacket_order__team_order__code"), tables.A("jacket_order__pk")],
        ),
        attrs={**NUMBER, "a": {"aria-label": _discount_label}},
    )
    price = tables.Column(attrs=NUMBER)
    paid = tables.Column(attrs=NUMBER)
    open = tables.Column(attrs=NUMBER)

    class Meta:
        attrs = {"class": "table"}
        empty_text = "No jacket yet."

    def __init__(self, rows: list[MemberRow], account: Account, **kwargs: Any) -> None:
        self.account = account
        super().__init__(rows, **kwargs)
        self.columns["price"].column._footer = self._said(account.jackets_total)
        self.columns["paid"].column._footer = self._said(account.paid_for_jackets)

    def _said(self, amount: Decimal) -> str:
        return str(rounded(amount, self.account.currency))

    def render_member(self, value: str, record: MemberRow) -> SafeString | str:
        if record.is_cancelled:
            return format_html('{} <span class="tag">cancelled</span>', value)
        return value

    def value_member(self, value: str, record: MemberRow) -> str:
        return f"{value} (cancelled)" if record.is_cancelled else value

    def render_discount(self, value: Decimal) -> str:
        return self._said(value) if value else "give one"

    def value_discount(self, value: Decimal) -> Decimal:
        return rounded(value, self.account.currency)

    def render_price(self, value: Decimal) -> str:
        return self._said(value)

    def value_price(self, value: Decimal) -> Decimal:
        return value

    def render_paid(self, value: Decimal) -> str:
        return self._said(value)

    def value_paid(self, value: Decimal) -> Decimal:
        return value

    def render_open(self, value: Decimal) -> str:
        return balance_words(value, self.account.currency)

    def value_open(self, value: Decimal) -> Decimal:
        return value


class PaymentTable(tables.Table):  # type: ignore[misc]
    """The payments for a spreadsheet; refunds count below zero, so that a column adds up."""

    receipt = tables.Column()
    paid_on = tables.Column("Day")
    kind = tables.Column()
    member = tables.Column(accessor="noted_for", default="")
    amount = tables.Column()
    note = tables.Column(default="")

    class Meta:
        model = Payment
        fields = ("receipt", "paid_on", "kind", "member", "amount", "note")

    def __init__(self, *args: Any, currency: str, **kwargs: Any) -> None:
        self.currency = currency
        super().__init__(*args, **kwargs)

    def value_amount(self, record: Payment) -> Decimal:
        sign = -1 if record.kind == Payment.Kind.REFUND else 1
        return rounded(sign * record.amount, self.currency)
