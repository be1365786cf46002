"""Payments, discounts and prices: what is written, what is refused."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.utils import timezone

from orders import money_services
from orders.errors import OrderError
from orders.models import Payment, TeamOrder
from orders.money_queries import account_of
from orders.money_services import (
    PaymentFacts,
    PriceFacts,
    note_payment,
    set_jacket_discount,
    set_price,
)
from patterns.services import workroom
from tests.factories import make_jacket_order, make_maker, make_team_order

pytestmark = pytest.mark.django_db


def facts(amount: str = "40", **values: Any) -> PaymentFacts:
    return PaymentFacts(
        **{
            "kind": "payment",
            "amount": Decimal(amount),
            "paid_on": timezone.localdate(),
            **values,
        }
    )


def pay(order: TeamOrder, amount: str = "40", **values: Any) -> Payment:
    return note_payment(order, facts(amount, **values), by=None)


def test_a_payment_gets_the_next_receipt_and_an_amendment() -> None:
    order = make_team_order(price=Decimal("80.00"))
    wren = make_jacket_order(order, "Wren Calder")
    maker, year = make_maker(), timezone.localdate().year
    first = note_payment(order, facts(jacket_order=wren, note="cash"), by=maker)
    second = pay(make_team_order(), kind="deposit")
    assert (first.receipt, second.receipt) == (f"{year}-0001", f"{year}-0002")
    assert (first.amount, first.note, first.by) == (Decimal(40), "cash", maker)
    told = order.amendments.get()
    assert (told.words, told.member) == (
        f"payment of 40.00 EUR noted, receipt {year}-0001",
        "Wren Calder",
    )


def test_nothing_is_owed_for_an_order_cancelled_before_the_freeze() -> None:
    order = make_team_order(price=Decimal("80.00"))
    wren = make_jacket_order(order, "Wren Calder")
    pay(order, "30", jacket_order=wren)
    assert account_of(order).words == "50.00 EUR open"
    order.state = TeamOrder.State.CANCELLED
    order.save()
    assert account_of(order).words == "30.00 EUR overpaid"
    pay(order, "30", jacket_order=wren, kind="refund")
    assert account_of(order).words == "all paid"


def test_receipts_begin_anew_with_the_year_and_count_past_four_digits() -> None:
    order, year = make_team_order(), timezone.localdate().year
    last_year = date(year - 1, 12, 31)
    for receipt in (f"{year - 1}-0077", f"{year}-9999", f"{year}-10000"):
        Payment.objects.create(
            team_order=order, receipt=receipt, kind="payment", amount=1, paid_on=last_year
        )
    assert pay(order).receipt == f"{year}-10001"


def test_a_receipt_taken_meanwhile_is_not_given_twice(monkeypatch: pytest.MonkeyPatch) -> None:
    order = make_team_order()
    taken = pay(order).receipt
    asked: list[str] = []
    real = money_services._next_free_receipt

    def late() -> str:
        asked.append(taken if len(asked) < 2 else real())
        return asked[-1]

    monkeypatch.setattr(money_services, "_next_free_receipt", late)
    assert pay(order).receipt == asked[2] != taken
    assert len(asked) == 3
    assert order.payments.count() == 2


def test_the_same_form_sent_twice_notes_one_payment() -> None:
    order, maker = make_team_order(), make_maker()
    first = note_payment(order, facts(), by=maker, seen=0)
    assert note_payment(order, facts(), by=maker, seen=0) == first
    assert note_payment(order, facts(), by=maker, seen=first.pk) != first
    assert order.payments.count() == order.amendments.count() == 2


@pytest.mark.parametrize(
    ("values", "field", "words"),
    [
        ({"amount": "0"}, "amount", "above 0"),
        ({"amount": "-5"}, "amount", "refund"),
        ({"amount": "0.005"}, "amount", "finer than EUR"),
        ({"note": "4111 1111 1111 1111"}, "note", "card number"),
        ({"kind": "refund"}, "amount", "0.00 EUR is paid for the order as a whole"),
    ],
)
def test_what_is_no_payment_is_refused(values: dict[str, Any], field: str, words: str) -> None:
    order = make_team_order()
    with pytest.raises(OrderError, match=words) as refused:
        pay(order, **values)
    assert refused.value.field == field
    assert not Payment.objects.exists()
    assert not order.amendments.exists()


def test_money_of_tomorrow_is_refused() -> None:
    with pytest.raises(OrderError, match="still to come"):
        pay(make_team_order(), paid_on=timezone.localdate() + timedelta(days=1))


def test_another_orders_member_is_refused() -> None:
    stranger = make_jacket_order(make_team_order())
    with pytest.raises(OrderError, match="another team order"):
        pay(make_team_order(), jacket_order=stranger)


def test_no_more_goes_back_than_was_paid() -> None:
    order = make_team_order(price=Decimal("80.00"))
    wren, tomas = make_jacket_order(order, "Wren"), make_jacket_order(order, "Tomas")
    pay(order, "50", jacket_order=wren)
    pay(order, "100")
    with pytest.raises(OrderError, match=r"50.00 EUR is paid for the jacket of Wren"):
        pay(order, "50.01", kind="refund", jacket_order=wren)
    with pytest.raises(OrderError, match=r"0.00 EUR is paid for the jacket of Tomas"):
        pay(order, "1", kind="refund", jacket_order=tomas)
    pay(order, "50", kind="refund", jacket_order=wren)
    assert account_of(order).paid == 100


def test_a_currency_without_cents_takes_none() -> None:
    room = workroom()
    room.currency = "JPY"
    room.save()
    order = make_team_order(price=Decimal(5000))
    make_jacket_order(order)
    with pytest.raises(OrderError, match="name 41 JPY"):
        pay(order, "40.50")
    pay(order, "4000")
    assert account_of(order).words == "1000 JPY open"


def test_money_is_noted_after_the_freeze_and_after_the_hand_over() -> None:
    for state in (TeamOrder.State.IN_PRODUCTION, TeamOrder.State.HANDED_OVER):
        order = make_team_order(state=state, price=Decimal("80.00"))
        set_jacket_discount(make_jacket_order(order), Decimal(5), by=None)
        pay(order)
        assert account_of(order).balance == 35


def test_a_discount_is_written_down_and_counts() -> None:
    order = make_team_order(price=Decimal("80.00"))
    wren = make_jacket_order(order, "Wren")
    set_jacket_discount(wren, Decimal("12.50"), by=None)
    assert account_of(order).total == Decimal("67.50")
    told = order.amendments.get()
    assert (told.member, told.words) == ("Wren", "discount 0.00 EUR to 12.50 EUR")
    set_jacket_discount(wren, Decimal("12.50"), by=None)
    assert order.amendments.count() == 1


@pytest.mark.parametrize(("discount", "words"), [("80.01", "no more"), ("1.005", "finer")])
def test_a_discount_that_cannot_be_is_refused(discount: str, words: str) -> None:
    wren = make_jacket_order(make_team_order(price=Decimal("80.00")))
    with pytest.raises(OrderError, match=words):
        set_jacket_discount(wren, Decimal(discount), by=None)
    wren.refresh_from_db()
    assert wren.discount == 0


def test_a_new_price_is_written_down() -> None:
    order = make_team_order()
    make_jacket_order(order)
    set_price(order, PriceFacts(Decimal(90), "members", Decimal(10)), by=None)
    order.refresh_from_db()
    assert account_of(order).total == 80
    assert order.amendments.get().words == (
        "price none to 90.00 EUR; who pays the club pays to members pay; "
        "discount 0.00 EUR to 10.00 EUR"
    )


def test_a_members_payments_stay_when_the_jacket_is_taken_out() -> None:
    order = make_team_order(price=Decimal("80.00"))
    wren = make_jacket_order(order)
    pay(order, jacket_order=wren)
    wren.delete()
    assert account_of(order).paid_for_order == 40


def test_an_account_takes_three_queries_however_many_lines(django_assert_num_queries: Any) -> None:
    order = make_team_order(price=Decimal("80.00"))
    for _ in range(5):
        pay(order, jacket_order=make_jacket_order(order))
    with django_assert_num_queries(3):
        account_of(order)
