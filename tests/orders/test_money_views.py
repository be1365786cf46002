"""The money pages: what they show, take, refuse and save as files."""

from __future__ import annotations

import csv
from decimal import Decimal
from io import BytesIO, StringIO
from typing import Any

import pytest
from django.template.loader import render_to_string
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from openpyxl import load_workbook

from orders.models import JacketOrder, Payment, TeamOrder
from orders.money_queries import balance_context
from orders.money_services import PaymentFacts, note_payment
from tests.factories import make_jacket_order, make_team_order


@pytest.fixture
def order(db: None) -> TeamOrder:
    order = make_team_order("TQ-1", price=Decimal("80.00"), payer="members")
    make_jacket_order(order, "Wren Calder")
    make_jacket_order(order, "=Tomas", discount=Decimal(10))
    return order


def url(name: str, *args: object) -> str:
    return reverse(f"money:{name}", args=args)


def words(response: Any) -> str:
    return " ".join(str(response.content.decode()).split())


def form(**values: Any) -> dict[str, Any]:
    today = timezone.localdate().isoformat()
    return {"kind": "payment", "amount": "40", "paid_on": today, "jacket_order": ""} | values


def pay(order: TeamOrder, amount: str, line: JacketOrder | None = None, kind: str = "payment"):
    facts = PaymentFacts(kind, Decimal(amount), timezone.localdate(), line)
    return note_payment(order, facts, by=None)


def test_a_stranger_logs_in_and_a_helper_is_kept_out(
    client: Client, helper: Client, order: TeamOrder
) -> None:
    wren = order.jacket_orders.get(member="Wren Calder")
    pages = [
        url("money", "TQ-1"),
        url("price", "TQ-1"),
        url("payments", "TQ-1"),
        url("discount", "TQ-1", wren.pk),
    ]
    for page in pages:
        assert client.get(page).headers["Location"] == f"/log-in/?next={page}"
        for response in (helper.get(page), helper.post(page, form())):
            assert response.status_code == 403
            assert "Wren" not in words(response)
    assert not Payment.objects.exists()


def test_a_payment_is_noted_and_shown(maker: Client, order: TeamOrder) -> None:
    wren = order.jacket_orders.get(member="Wren Calder")
    response = maker.post(url("money", "TQ-1"), form(jacket_order=wren.pk, note="cash"))
    assert response.headers["Location"] == url("money", "TQ-1")
    payment = Payment.objects.get()
    assert (payment.jacket_order, str(payment.by)) == (wren, "mara")
    page = words(maker.get(url("money", "TQ-1")))
    assert "110.00 EUR open" in page
    assert "40.00 EUR open" in page
    assert reverse("privacy:receipt", args=["TQ-1", payment.receipt]) in page


def test_a_card_number_is_refused_and_what_was_typed_stays(maker: Client, order: TeamOrder) -> None:
    response = maker.post(url("money", "TQ-1"), form(amount="41.50", note="4111111111111111"))
    assert "Card data is never kept here" in words(response)
    assert 'value="41.50"' in words(response)
    assert not Payment.objects.exists()


def test_an_overpaid_order_says_so(maker: Client, order: TeamOrder) -> None:
    pay(order, "200")
    assert "50.00 EUR overpaid" in words(maker.get(url("money", "TQ-1")))


def test_what_is_open_by_member_is_shown_only_where_members_pay(
    maker: Client, order: TeamOrder
) -> None:
    assert "80.00 EUR open" in words(maker.get(url("money", "TQ-1")))
    TeamOrder.objects.update(payer="club")
    assert "80.00 EUR open" not in words(maker.get(url("money", "TQ-1")))


def test_without_a_price_the_page_asks_for_one(maker: Client, order: TeamOrder) -> None:
    TeamOrder.objects.update(price=None)
    page = words(maker.get(url("money", "TQ-1")))
    assert "No price yet" in page
    assert "0.00 EUR open" not in page
    response = maker.post(url("price", "TQ-1"), {"price": "75", "payer": "club", "discount": ""})
    assert response.headers["Location"] == url("money", "TQ-1")
    assert TeamOrder.objects.get().price == 75


def test_a_discount_is_given_on_its_own_page(maker: Client, order: TeamOrder) -> None:
    wren = order.jacket_orders.get(member="Wren Calder")
    page = url("discount", "TQ-1", wren.pk)
    assert "no more can be taken off" in words(maker.post(page, {"discount": "99"}))
    maker.post(page, {"discount": "20"})
    wren.refresh_from_db()
    assert wren.discount == 20
    assert maker.get(url("discount", "TQ-1", wren.pk + 99)).status_code == 404


def test_the_table_is_saved_as_numbers_that_no_spreadsheet_takes_for_formulas(
    maker: Client, order: TeamOrder
) -> None:
    pay(order, "90", order.jacket_orders.get(member="Wren Calder"))
    response = maker.get(url("money", "TQ-1"), {"_export": "csv"})
    rows = list(csv.DictReader(StringIO(response.content.decode())))
    assert rows == [
        {
            "Member": "Wren Calder",
            "Discount": "0.00",
            "Price": "80.00",
            "Paid": "90.00",
            "Open": "-10.00",
        },
        {
            "Member": "'=Tomas",
            "Discount": "10.00",
            "Price": "70.00",
            "Paid": "0",
            "Open": "70.00",
        },
    ]
    book = load_workbook(BytesIO(maker.get(url("money", "TQ-1"), {"_export": "xlsx"}).content))
    assert [cell.value for cell in book.worksheets[0][2]][1:] == [0, 80, 90, -10]


def test_the_payments_are_saved_with_refunds_below_nothing(maker: Client, order: TeamOrder) -> None:
    wren = order.jacket_orders.get(member="Wren Calder")
    pay(order, "90", wren)
    pay(order, "10", wren, kind="refund")
    response = maker.get(url("payments", "TQ-1"), {"_export": "csv"})
    rows = list(csv.DictReader(StringIO(response.content.decode())))
    assert [(row["Member"], row["Kind"], row["Amount"]) for row in rows] == [
        ("Wren Calder", "payment", "90.00"),
        ("Wren Calder", "refund", "-10.00"),
    ]
    assert maker.get(url("payments", "TQ-1")).headers["Location"] == url("money", "TQ-1")


def test_the_balance_is_one_line_for_the_order_page(order: TeamOrder) -> None:
    pay(order, "50")
    context = balance_context(order) | {"team_order": order}
    line = render_to_string("orders/money/_balance.html", context)
    assert "150.00 EUR in all, 50.00 EUR paid" in line
    assert "100.00 EUR open" in line


def test_no_page_is_cached_or_listed(client: Client, maker: Client, order: TeamOrder) -> None:
    for page in (url("money", "TQ-1"), reverse("login"), "/nowhere/"):
        response = maker.get(page)
        assert "no-store" in response.headers["Cache-Control"], page
        assert response.headers["X-Robots-Tag"] == "noindex, nofollow"
        assert response.headers["Referrer-Policy"] == "same-origin"
