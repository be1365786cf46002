"""Functions that write money: payments, discounts, the price. What was paid is never changed or
deleted; a mistake is paid back."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING

from django.db import IntegrityError, transaction
from django.db.models.functions import Length
from django.utils import timezone

from orders.errors import OrderError
from orders.models import JacketOrder, Payment, TeamOrder
from orders.money import (
    amount_words,
    looks_like_card_number,
    next_receipt,
    rounded,
)
from orders.money_queries import account_of
from orders.queries import currency
from orders.services import amend
from orders.words import change, joined

if TYPE_CHECKING:
    from django.contrib.auth.models import User

#: How often a receipt number is tried anew when another payment took it first.
TRIES = 20


@dataclass(frozen=True, slots=True)
class PaymentFacts:
    """`jacket_order` is None for what is paid for the order as a whole."""

    kind: str
    amount: Decimal
    paid_on: date
    jacket_order: JacketOrder | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class PriceFacts:
    price: Decimal | None
    payer: str
    discount: Decimal


@transaction.atomic
def note_payment(
    team_order: TeamOrder, facts: PaymentFacts, *, by: User | None, seen: int | None = None
) -> Payment:
    """Write a payment down under the next receipt number; OrderError says what is refused.

    `seen` is the key of the last payment that the form's page showed: the same form sent twice
    gives the payment that its first sending made.
    """
    stored = _locked(team_order)
    if seen is not None and (made := _same_since(stored, facts, by, seen)):
        return made
    _check(stored, facts)
    payment = _with_next_receipt(stored, facts, by)
    money = amount_words(facts.amount, currency())
    member = facts.jacket_order.member if facts.jacket_order else ""
    amend(stored, by, f"{facts.kind} of {money} noted, receipt {payment.receipt}", member)
    return payment


@transaction.atomic
def set_jacket_discount(jacket_order: JacketOrder, discount: Decimal, *, by: User | None) -> None:
    stored = _locked(jacket_order.team_order)
    line = JacketOrder.objects.get(pk=jacket_order.pk)
    _check_payable(discount, "discount")
    if stored.price is not None and discount > stored.price:
        raise OrderError(
            f"The jacket costs {amount_words(stored.price, currency())}; no more can be taken off.",
            field="discount",
        )
    words = _money_change("discount", line.discount, discount)
    line.discount = discount
    line.save(update_fields=["discount"])
    amend(stored, by, words, line.member)


@transaction.atomic
def set_price(team_order: TeamOrder, facts: PriceFacts, *, by: User | None) -> None:
    """The price stays open to change after the freeze: the freeze holds cloth, not money."""
    stored = _locked(team_order)
    _check_payable(facts.price or Decimal(0), "price")
    _check_payable(facts.discount, "discount")
    words = joined(
        [
            _money_change("price", stored.price, facts.price),
            change("who pays", stored.get_payer_display(), TeamOrder.Payer(facts.payer).label),
            _money_change("discount", stored.discount, facts.discount),
        ]
    )
    stored.price, stored.payer, stored.discount = facts.price, facts.payer, facts.discount
    stored.save(update_fields=["price", "payer", "discount"])
    amend(stored, by, words)


def _locked(team_order: TeamOrder) -> TeamOrder:
    return TeamOrder.objects.select_for_update().get(pk=team_order.pk)


def _same_since(
    team_order: TeamOrder, facts: PaymentFacts, by: User | None, seen: int
) -> Payment | None:
    return team_order.payments.filter(
        pk__gt=seen,
        kind=facts.kind,
        amount=facts.amount,
        paid_on=facts.paid_on,
        jacket_order=facts.jacket_order,
        note=facts.note,
        by=by,
    ).first()


def _check(team_order: TeamOrder, facts: PaymentFacts) -> None:
    if facts.amount <= 0:
        raise OrderError("Name an amount above 0; money paid back is a refund.", field="amount")
    _check_payable(facts.amount, "amount")
    if facts.paid_on > timezone.localdate():
        raise OrderError("That day is still to come; note money once it is paid.", field="paid_on")
    if facts.jacket_order and facts.jacket_order.team_order_id != team_order.pk:
        raise OrderError("That member is in another team order.", field="jacket_order")
    if looks_like_card_number(facts.note):
        raise OrderError(
            "The note looks as if it held a card number. Card data is never kept here: take it "
            "out, and name the payment some other way.",
            field="note",
        )
    if facts.kind == Payment.Kind.REFUND:
        _check_refund(team_order, facts)


def _check_payable(amount: Decimal, field: str) -> None:
    money = currency()
    if amount != rounded(amount, money):
        raise OrderError(
            f"{amount} is finer than {money} can be paid; name {amount_words(amount, money)}.",
            field=field,
        )


def _check_refund(team_order: TeamOrder, facts: PaymentFacts) -> None:
    account = account_of(team_order)
    whose, paid = "for the order as a whole", account.paid_for_order
    if line := facts.jacket_order:
        paid = next(one.paid for one in account.lines if one.key == line.pk)
        whose = f"for the jacket of {line.member}"
    if facts.amount > paid:
        raise OrderError(
            f"{amount_words(paid, account.currency)} is paid {whose}; no more can go back.",
            field="amount",
        )


def _with_next_receipt(team_order: TeamOrder, facts: PaymentFacts, by: User | None) -> Payment:
    """Two payments noted at once may ask for the same number: the slower one takes the next."""
    for _ in range(TRIES):
        receipt = _next_free_receipt()
        try:
            with transaction.atomic():
                return Payment.objects.create(
                    team_order=team_order,
                    jacket_order=facts.jacket_order,
                    receipt=receipt,
                    kind=facts.kind,
                    amount=facts.amount,
                    paid_on=facts.paid_on,
                    note=facts.note,
                    by=by,
                )
        except IntegrityError:
            if not Payment.objects.filter(receipt=receipt).exists():
                raise
    raise OrderError("Many payments are being noted at this moment; send the form once more.")


def _next_free_receipt() -> str:
    year = timezone.localdate().year
    of_year = Payment.objects.filter(receipt__startswith=f"{year}-")
    # Longer first: 2026-10000 comes after 2026-9999.
    last = of_year.order_by(Length("receipt").desc(), "-receipt").values_list("receipt", flat=True)
    return next_receipt(last.first(), year)


def _money_change(label: str, before: Decimal | None, after: Decimal | None) -> str:
    def said(amount: Decimal | None) -> str:
        return "" if amount is None else amount_words(amount, currency())

    return change(label, said(before), said(after))
