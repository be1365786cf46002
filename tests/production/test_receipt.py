"""The receipt on paper: the same bytes each time, long and foreign names inside the page."""

from __future__ import annotations

import datetime
from dataclasses import replace
from io import BytesIO

import pytest
from pypdf import PdfReader

from production.documents.paper import letters
from production.documents.receipt import PAGE, Receipt, write

LONG = "Maximiliana-Alexandra von und zu Hohenfels-Wartenstein-Löwenberg-Ødegård"
RECEIPT = Receipt(
    number="2026-0001",
    workroom="Our workroom",
    club="Tern Quay Rowing Club",
    member="Zofia Łęcka",
    what_for="payment, jacket in size S",
    order="TQ-SPRING, Spring regatta jackets",
    amount="40.00 EUR",
    paid_on=datetime.date(2026, 11, 25),
    balance="40.00 EUR open for this jacket",
)


def pdf(receipt: Receipt) -> bytes:
    target = BytesIO()
    write(target, receipt)
    return target.getvalue()


def test_the_same_receipt_gives_the_same_bytes() -> None:
    assert pdf(RECEIPT) == pdf(RECEIPT)


@pytest.mark.parametrize("member", ["Zofia Łęcka", "Νίκη Παππά", "Анна Вишня"])
def test_names_are_printed_in_their_own_letters(member: str) -> None:
    assert letters().wide, "install fonts-dejavu-core"
    text = PdfReader(BytesIO(pdf(replace(RECEIPT, member=member)))).pages[0].extract_text()
    assert member in text
    assert "Wednesday 25 November 2026" in text


def test_long_names_stay_on_the_page() -> None:
    receipt = replace(
        RECEIPT,
        workroom=LONG,
        club=LONG,
        member=LONG,
        order=f"TQ-SPRING, {LONG} {LONG}",
        amount="12345678.90 EUR",
    )
    reader = PdfReader(BytesIO(pdf(receipt)))
    (page,) = reader.pages
    spots: list[tuple[float, float]] = []

    def note(text: str, cm: object, tm: list[float], *_: object) -> None:
        if text.strip():
            spots.append((tm[4], tm[5]))

    page.extract_text(visitor_text=note)
    assert spots
    assert all(0 < x < PAGE[0] and 0 < y < PAGE[1] for x, y in spots)
    assert "12345678.90 EUR" in page.extract_text()


def test_what_is_paid_for_the_whole_order_names_the_club_once() -> None:
    text = PdfReader(BytesIO(pdf(replace(RECEIPT, member="")))).pages[0].extract_text()
    assert text.count("Tern Quay Rowing Club") == 1
