"""What the money pages read."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING, TypedDict

from django.db.models import OuterRef, QuerySet, Subquery, Value
from django.db.models.functions import Coalesce, Concat

from orders.models import Amendment, JacketOrder, Payment, TeamOrder
from orders.money import Account, Entry, Line, LineAccount, plain, settle
from orders.queries import currency, run_code_of

if TYPE_CHECKING:
    from django_stubs_ext import WithAnnotations


class NotedFor(TypedDict):
    noted_for: str


@dataclass(frozen=True, slots=True)
class MemberRow:
    """A line of the money table."""

    jacket_order: JacketOrder
    account: LineAccount

    @property
    def member(self) -> str:
        return self.jacket_order.member

    @property
    def is_cancelled(self) -> bool:
        """Whether its jacket was cancelled after the freeze."""
        jacket = getattr(self.jacket_order, "jacket", None)
        return bool(jacket and jacket.cancelled_at)

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
    and discounts. Nothing is owed for an order that was cancelled before the freeze."""
    payments = team_order.payments.all()
    if until:
        payments = payments.filter(pk__lte=until.pk)
    lines = team_order.jacket_orders.order_by("pk").values_list("pk", "discount")
    all_off = team_order.price if is_called_off(team_order) else None
    return settle(
        currency(),
        team_order.price,
        [Line(key, discount if all_off is None else all_off) for key, discount in lines],
        team_order.discount,
        [Entry(*row) for row in payments.values_list("kind", "amount", "jacket_order")],
    )


def is_called_off(team_order: TeamOrder) -> bool:
    """Whether the order was cancelled before anything of it was made."""
    return team_order.state == TeamOrder.State.CANCELLED and run_code_of(team_order) is None


def member_rows(team_order: TeamOrder, account: Account) -> list[MemberRow]:
    jacket_orders = team_order.jacket_orders.select_related("team_order", "jacket").in_bulk()
    return [
        MemberRow(jacket_orders[line.key], line)
        for line in account.lines
        if line.key in jacket_orders
    ]


def payments_of(team_order: TeamOrder) -> QuerySet[WithAnnotations[Payment, NotedFor]]:
    """The latest first; `noted_for` is the member whose jacket each was noted for, be that taken
    out of the order since, and empty for what was paid for the order as a whole."""
    noted = Amendment.objects.filter(
        team_order=OuterRef("team_order"),
        words__endswith=Concat(Value(", receipt "), OuterRef("receipt")),
    )
    payments = team_order.payments.select_related("team_order", "jacket_order", "by")
    return payments.annotate(
        noted_for=Coalesce("jacket_order__member", Subquery(noted.values("member")[:1]), Value(""))
    ).order_by("-pk")


def balance_context(team_order: TeamOrder) -> dict[str, object]:
    """What `orders/money/_balance.html` shows, beside the order itself."""
    return {"account": account_of(team_order)}


def payments_told(line: JacketOrder) -> list[dict[str, str]]:
    """The payments for one jacket, as they are handed to its member."""
    return [
        {
            "receipt": payment.receipt,
            "kind": payment.kind,
            "amount": str(plain(payment.amount)),
            "paid_on": payment.paid_on.isoformat(),
            "note": payment.note,
        }
        for payment in line.payments.all()
    ]
