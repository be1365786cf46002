"""What the money pages read."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from django.db.models import QuerySet

from orders.models import JacketOrder, Payment, TeamOrder
from orders.money import Account, Entry, Line, LineAccount, settle
from orders.queries import currency


@dataclass(frozen=True, slots=True)
class MemberRow:
    """A line of the money table."""

    jacket_order: JacketOrder
    account: LineAccount

    @property
    def member(self) -> str:
        return self.jacket_order.member

    @property
    def discount(self) -> Decimal:
        return self.account.discount

    @property
    def price(self) -> Decimal:
        return self.account.price

    @property
    def paid(self) -> Decimal:
        return self.account.paid

    @property
    def open(self) -> Decimal:
        return self.account.balance


def account_of(team_order: TeamOrder, *, until: Payment | None = None) -> Account:
    """The order's account; with `until`, as it stood right after that payment, at today's price
    and discounts."""
    payments = team_order.payments.all()
    if until:
        payments = payments.filter(pk__lte=until.pk)
    lines = team_order.jacket_orders.order_by("pk").values_list("pk", "discount")
    return settle(
        currency(),
        team_order.price,
        [Line(key, discount) for key, discount in lines],
        team_order.discount,
        [Entry(*row) for row in payments.values_list("kind", "amount", "jacket_order")],
    )


def member_rows(team_order: TeamOrder, account: Account) -> list[MemberRow]:
    jacket_orders = team_order.jacket_orders.select_related("team_order").in_bulk()
    return [
        MemberRow(jacket_orders[line.key], line)
        for line in account.lines
        if line.key in jacket_orders
    ]


def payments_of(team_order: TeamOrder) -> QuerySet[Payment]:
    return team_order.payments.select_related("team_order", "jacket_order", "by").order_by("-pk")


def balance_context(team_order: TeamOrder) -> dict[str, object]:
    """What `orders/money/_balance.html` shows, beside the order itself."""
    return {"account": account_of(team_order)}
