"""The pages of members' data and receipts: who sees them, what they do, and no search engine."""

from __future__ import annotations

from decimal import Decimal
from io import BytesIO
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pypdf import PdfReader

from orders.models import JacketOrder, Payment, TeamOrder
from orders.money_services import PaymentFacts, note_payment
from orders.services import delete_jacket_order
from production.members.privacy import erase_order
from production.members.receipts import receipt_of
from tests.factories import make_club, make_helper, make_jacket_order, make_maker, make_team_order

DAY = timezone.localdate


@pytest.fixture
def line(db: None) -> JacketOrder:
    order = make_team_order("TQ-1", club=make_club("Tern Quay Rowing Club"), price=Decimal("80.00"))
    return make_jacket_order(order, "Wren Calder", name_on_jacket="WRENNY")


@pytest.fixture
def maker(client: Client, line: JacketOrder) -> Client:
    client.force_login(make_maker())
    return client


def url(name: str, *args: object) -> str:
    return reverse(f"privacy:{name}", args=args)


def words(response: Any) -> str:
    return " ".join(str(response.content.decode()).split())


def pay(line: JacketOrder, whole: bool = False, kind: str = "payment", amount: str = "30"):
    facts = PaymentFacts(kind, Decimal(amount), DAY(), None if whole else line)
    return note_payment(line.team_order, facts, by=None)


def test_a_stranger_logs_in_and_a_helper_is_kept_out(line: JacketOrder) -> None:
    receipt = pay(line).receipt
    stranger, helper = Client(), Client()
    helper.force_login(make_helper())
    pages = [
        url("privacy", "TQ-1"),
        url("export", "TQ-1", line.pk),
        url("erase_one", "TQ-1", line.pk),
        url("erase_all", "TQ-1"),
        url("receipt", "TQ-1", receipt),
    ]
    for page in pages:
        assert stranger.get(page).headers["Location"] == f"/log-in/?next={page}"
        assert (helper.get(page).status_code, helper.post(page).status_code) == (403, 403)
    line.refresh_from_db()
    assert line.member == "Wren Calder"


def test_erasing_is_asked_on_a_page_of_its_own(maker: Client, line: JacketOrder) -> None:
    for name, arguments in (("erase_one", ("TQ-1", line.pk)), ("erase_all", ("TQ-1",))):
        page = words(maker.get(url(name, *arguments)))
        assert "This cannot be taken back" in page
        assert "this order is open" in page
    line.refresh_from_db()
    assert line.member == "Wren Calder"
    assert maker.delete(url("erase_all", "TQ-1")).status_code == 405


def test_one_member_is_erased_from_the_page(maker: Client, line: JacketOrder) -> None:
    response = maker.post(url("erase_one", "TQ-1", line.pk))
    assert response.headers["Location"] == url("privacy", "TQ-1")
    page = words(maker.get(url("privacy", "TQ-1")))
    assert "Wren" not in page
    assert "Member 1" in page
    assert url("erase_one", "TQ-1", line.pk) not in page


def test_all_members_are_erased_from_the_page(maker: Client, line: JacketOrder) -> None:
    maker.post(url("erase_all", "TQ-1"))
    page = words(maker.get(url("privacy", "TQ-1")))
    assert "Erased" in page
    assert "WRENNY" not in page
    assert url("erase_all", "TQ-1") not in page


def test_members_written_in_after_an_erasing_can_be_erased(
    maker: Client, line: JacketOrder
) -> None:
    maker.post(url("erase_all", "TQ-1"))
    JacketOrder.objects.filter(pk=line.pk).update(member="Late Lomax")
    page = words(maker.get(url("privacy", "TQ-1")))
    assert "Not all of it" in page
    assert url("erase_all", "TQ-1") in page


def test_the_page_says_until_when(maker: Client, line: JacketOrder) -> None:
    assert "90 days after the hand-over" in words(maker.get(url("privacy", "TQ-1")))
    TeamOrder.objects.update(handed_over_on="2026-11-20", state="handed_over", erase_after_days=10)
    assert "kept until <strong>30 November 2026" in words(maker.get(url("privacy", "TQ-1")))


def test_a_members_data_is_a_file(maker: Client, line: JacketOrder) -> None:
    response = maker.get(url("export", "TQ-1", line.pk))
    assert response.json()["member"] == "Wren Calder"
    assert "attachment" in response.headers["Content-Disposition"]
    assert response.headers["Cache-Control"] == "no-store"


def test_another_orders_member_is_not_found(maker: Client, line: JacketOrder) -> None:
    make_team_order("LM-1")
    for name in ("export", "erase_one"):
        assert maker.get(url(name, "LM-1", line.pk)).status_code == 404
    assert maker.get(url("receipt", "LM-1", pay(line).receipt)).status_code == 404


def test_search_engines_are_sent_away_without_a_log_in(db: None, client: Client) -> None:
    response = client.get("/robots.txt")
    assert response.content == b"User-agent: *\nDisallow: /\n"
    assert response.headers["X-Robots-Tag"] == "noindex, nofollow"


def printed(maker: Client, payment: Payment) -> str:
    response = maker.get(url("receipt", "TQ-1", payment.receipt))
    assert response.headers["Content-Type"] == "application/pdf"
    content = b"".join(response)
    reader = PdfReader(BytesIO(content))
    assert len(reader.pages) == 1
    return str(reader.pages[0].extract_text())


def test_a_members_receipt_tells_the_member_and_no_ones_balance_but_theirs(
    maker: Client, line: JacketOrder
) -> None:
    make_jacket_order(line.team_order, "Tomas Iglis")
    payment = pay(line)
    pay(line, amount="20")
    text = printed(maker, payment)
    for told in (payment.receipt, "Wren Calder", "Tern Quay Rowing Club", "30.00 EUR", "TQ-1"):
        assert told in text
    assert "50.00 EUR open for this jacket" in text  # after this payment, not after the next
    assert "130.00" not in text


def test_a_receipt_of_the_club_tells_what_is_open_of_the_whole_order(
    maker: Client, line: JacketOrder
) -> None:
    text = printed(maker, pay(line, whole=True))
    assert "50.00 EUR open for the whole order" in text
    assert "Wren" not in text


def test_a_receipt_still_names_the_member_whose_jacket_was_taken_out(
    maker: Client, line: JacketOrder
) -> None:
    order = line.team_order
    before = receipt_of(pay(line, kind="deposit", amount="20"))
    delete_jacket_order(line, by=None)
    after = receipt_of(Payment.objects.get())
    assert (
        (after.member, after.amount)
        == (before.member, before.amount)
        == (
            "Wren Calder",
            "20.00 EUR",
        )
    )
    assert "a jacket since taken out" in after.what_for
    page = words(maker.get(reverse("money:money", args=["TQ-1"])))
    assert 'Wren Calder <span class="help">no longer in the order' in page
    erase_order(order, None)
    assert receipt_of(Payment.objects.get()).member == "Member 1"


def test_a_refund_has_a_receipt_the_other_way_round(maker: Client, line: JacketOrder) -> None:
    pay(line)
    text = printed(maker, pay(line, kind="refund", amount="10"))
    assert "Receipt for money paid back" in text
    assert "Paid back to" in text
    assert "60.00 EUR open for this jacket" in text
