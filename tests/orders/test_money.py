"""Sums of money: what is rounded, what adds up, what a card number looks like."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from orders.money import (
    Entry,
    Line,
    amount_words,
    balance_words,
    decimals_of,
    looks_like_card_number,
    next_receipt,
    passes_luhn,
    rounded,
    settle,
)

EUR = "EUR"


def amounts(highest: int = 500_000) -> st.SearchStrategy[Decimal]:
    return st.decimals(0, highest, places=4)


def test_a_currency_has_its_decimals() -> None:
    # ISO 4217, quoted from memory.
    assert [decimals_of(code) for code in ("EUR", "JPY", "KWD")] == [2, 0, 3]


def test_halves_are_rounded_up() -> None:
    assert rounded(Decimal("0.125"), EUR) == Decimal("0.13")
    assert amount_words(Decimal("1500.5"), "JPY") == "1501 JPY"
    assert amount_words(Decimal("1.5"), "BHD") == "1.500 BHD"


def test_a_jacket_costs_the_price_less_its_discount() -> None:
    account = settle(EUR, Decimal(80), [Line(1), Line(2, Decimal("12.50"))], Decimal(20), [])
    assert [line.price for line in account.lines] == [Decimal(80), Decimal("67.50")]
    assert (account.jackets_total, account.total) == (Decimal("147.50"), Decimal("127.50"))


def test_no_discount_takes_a_price_below_nothing() -> None:
    account = settle(EUR, Decimal(80), [Line(1, Decimal(100))], Decimal(30), [])
    assert (account.lines[0].price, account.lines[0].discount) == (Decimal(0), Decimal(80))
    assert (account.total, account.discount) == (Decimal(0), Decimal(0))


def test_a_refund_counts_against_what_was_paid() -> None:
    entries = [
        Entry("deposit", Decimal(30), 1),
        Entry("payment", Decimal(60), 1),
        Entry("refund", Decimal(10), 1),
        Entry("deposit", Decimal(5)),
    ]
    account = settle(EUR, Decimal(80), [Line(1), Line(2)], Decimal(0), entries)
    assert [line.balance for line in account.lines] == [Decimal(0), Decimal(80)]
    assert (account.paid, account.paid_for_order) == (Decimal(85), Decimal(5))
    assert account.words == "75.00 EUR open"


def test_more_than_asked_is_told_as_overpaid() -> None:
    assert balance_words(Decimal("-3.5"), EUR) == "3.50 EUR overpaid"
    assert balance_words(Decimal(0), EUR) == "all paid"


def test_without_a_price_nothing_is_open_or_overpaid() -> None:
    account = settle(EUR, None, [Line(1)], Decimal(0), [Entry("deposit", Decimal(50))])
    assert account.words == "no price agreed yet, 50.00 EUR paid"


def test_a_payment_for_a_strange_jacket_is_refused() -> None:
    with pytest.raises(ValueError, match="jacket 9"):
        settle(EUR, Decimal(1), [Line(1)], Decimal(0), [Entry("payment", Decimal(1), 9)])


@given(
    currency=st.sampled_from(["EUR", "JPY", "KWD"]),
    price=amounts(),
    discounts=st.lists(amounts(900_000), max_size=40),
    off=amounts(),
    paid=st.lists(
        st.tuples(
            st.sampled_from(["deposit", "payment", "refund"]),
            amounts(),
            st.none() | st.integers(0, 39),
        ),
        max_size=30,
    ),
)
def test_the_sums_are_the_sums_of_their_lines(currency, price, discounts, off, paid) -> None:
    lines = [Line(key, discount) for key, discount in enumerate(discounts)]
    entries = [
        Entry(kind, sum_, key) for kind, sum_, key in paid if key is None or key < len(lines)
    ]
    account = settle(currency, price, lines, off, entries)
    shown = [rounded(line.price, currency) for line in account.lines]
    assert shown == [line.price for line in account.lines]  # nothing finer than the coin is shown
    assert all(amount >= 0 for amount in (*shown, account.total, account.discount))
    assert sum(shown) == account.jackets_total == account.total + account.discount
    by_line = sum(line.balance for line in account.lines)
    assert by_line - account.discount - account.paid_for_order == account.balance
    signed = [-entry.amount if entry.kind == "refund" else entry.amount for entry in entries]
    assert account.paid == sum(rounded(amount, currency) for amount in signed)


# Test numbers that card companies publish for trying out forms, quoted from memory; none is
# anybody's card.
CARDS = ("4111111111111111", "5555 5555 5555 4444", "3782-822463-10005", "4222222222222")


@pytest.mark.parametrize("card", CARDS)
def test_a_card_number_is_seen_in_any_writing(card: str) -> None:
    for note in (card, f"card {card}", f"{card} 12/27 123", f"No.{card}.", card.replace(" ", ".")):
        assert looks_like_card_number(note), note


def test_other_numbers_are_let_through() -> None:
    for note in ("cash", "invoice 2026-11-25", "4111111111111112", "0170 1234567", "12345678"):
        assert not looks_like_card_number(note), note


@given(st.from_regex(r"[0-9]{12,18}", fullmatch=True))
def test_exactly_one_last_digit_passes_the_check_sum(start: str) -> None:
    assert sum(passes_luhn(f"{start}{last}") for last in range(10)) == 1


def test_receipts_run_on_within_a_year() -> None:
    assert next_receipt(None, 2026) == "2026-0001"
    assert next_receipt("2026-0041", 2026) == "2026-0042"
    assert next_receipt("2026-9999", 2026) == "2026-10000"
