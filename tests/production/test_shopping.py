"""The shopping list, pure: what is bought, in which measure, for how much, by when."""

from __future__ import annotations

import datetime
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from orders.money import decimals_of
from production.planning.plan import PlanError
from production.planning.supplies.shopping import (
    CLOTH,
    CONE,
    EIGHTH_YARD_MM,
    METRE,
    PIECE,
    SPOOL,
    TENTH_METRE_MM,
    Need,
    ShoppingList,
    Sold,
    Source,
    Stock,
    Terms,
    line_price,
    rounded_up,
    shopping_line,
    shopping_list,
)
from production.planning.supplies.shopping_words import holding_words, quantity_words, sold_words

TODAY = datetime.date(2027, 1, 4)
STARTS = datetime.date(2027, 2, 1)


def terms(**values: Any) -> Terms:
    return Terms(
        **{"run": "R-0001", "currency": "EUR", "today": TODAY, "starts_on": STARTS, **values}
    )


def sold(key: str = "thread:spruce:spool", **values: Any) -> Sold:
    return Sold(
        **{
            "key": key,
            "name": key,
            "unit": SPOOL,
            "step": Decimal(1),
            "price": Decimal("4.50"),
            "supplier": "Harbor Haberdashery",
            "lead_days": 5,
            **values,
        }
    )


def cloth(**values: Any) -> Sold:
    return sold(
        "cloth:spruce",
        **{
            "unit": CLOTH,
            "step": TENTH_METRE_MM,
            "price": Decimal("10"),
            "price_of": Decimal(1000),
            **values,
        },
    )


def line(of: Sold, quantity: Any, stock: Stock | None = None, **values: Any) -> Any:
    return shopping_line(terms(**values), Need(of, Decimal(quantity)), stock or Stock())


def stock(**values: Any) -> Stock:
    return Stock(**{name: Decimal(value) for name, value in values.items()})


@pytest.mark.parametrize(
    ("of", "quantity", "to_buy"),
    [
        (sold(unit=SPOOL), "9", "9"),
        (sold(unit=CONE), "2", "2"),
        (sold(unit=PIECE), "12", "12"),
        (sold(unit=PIECE, step=Decimal(25)), "38", "50"),
        (sold(unit=METRE, step=Decimal("0.1")), "23.41", "23.5"),
        (sold(unit=METRE, step=Decimal(10)), "10.001", "20"),
        (cloth(), "18301", "18400"),
        (cloth(), "18300", "18300"),
        (cloth(step=EIGHTH_YARD_MM), "9144", "9144.0"),
        (cloth(step=EIGHTH_YARD_MM), "9145", "9258.3"),
        (cloth(step=Decimal(25_000)), "25001", "50000"),
        (cloth(), "0", "0"),
    ],
)
def test_what_is_bought_is_a_multiple_of_what_is_sold(of: Sold, quantity: str, to_buy: str) -> None:
    """An eighth of a yard is 114.3 mm: the yard of 1959 is 914.4 mm by agreement."""
    assert line(of, quantity).to_buy == Decimal(to_buy)


def test_what_is_there_comes_off_and_what_is_reserved_comes_on() -> None:
    found = line(sold(), 9, stock(on_hand=7, reserved=3, on_order=2, taken=1))
    assert (found.to_buy, found.price) == (2, Decimal("9.00"))


def test_nothing_is_bought_where_enough_is_there() -> None:
    found = line(sold(), 9, stock(on_hand=20))
    assert (found.to_buy, found.price, found.is_late) == (0, 0, False)
    assert not found.can_be_ordered


def test_what_was_taken_serves_this_run_alone() -> None:
    """A run that took more than it needs leaves nothing over for what others are short of."""
    found = line(sold(), 9, stock(taken=12, reserved=4, on_hand=1))
    assert (found.to_buy, found.for_others) == (3, 3)


def test_the_part_for_earlier_runs_is_told() -> None:
    found = line(sold(), 5, stock(on_hand=4, reserved=10))
    assert (found.to_buy, found.for_others) == (11, 6)


def test_the_allowance_is_a_share_of_the_need_and_shown_apart() -> None:
    zipper = sold("zipper:black:650", unit=PIECE)
    found = line(zipper, 38, notion_waste=Decimal("0.02"))
    assert (found.needed, found.allowance, found.to_buy) == (38, 1, 39)
    assert line(zipper, 24, notion_waste=Decimal("0.02")).allowance == 0
    elastic = sold("elastic:hem", unit=METRE, step=Decimal("0.1"))
    found = line(elastic, "20.5", notion_waste=Decimal("0.02"))
    assert (found.allowance, found.to_buy) == (Decimal("0.410"), Decimal("21.0"))


def test_the_waste_of_thread_is_not_added_twice() -> None:
    assert line(sold(), 9, notion_waste=Decimal("0.5")).allowance == 0
    assert line(sold(unit=CONE), 9, fabric_waste=Decimal("0.5")).allowance == 0


def test_cloth_is_allowed_for_what_is_not_cut_yet() -> None:
    found = line(cloth(), 20_000, stock(taken=15_000, on_hand=0), fabric_waste=Decimal("0.03"))
    assert (found.allowance, found.to_buy) == (150, 5200)


def test_cloth_that_no_ply_fits_on_does_not_count() -> None:
    assert line(cloth(), 20_000, stock(on_hand=8000, unfit=3000)).to_buy == 15_000


def test_the_day_to_order_by_is_the_lead_days_before_cutting_starts() -> None:
    """Every day counts, also Saturday and Sunday: 1 February less 5 days is 27 January."""
    assert line(sold(), 1).order_by == datetime.date(2027, 1, 27)


@pytest.mark.parametrize(("lead_days", "is_late"), [(28, False), (29, True)])
def test_a_line_is_late_once_its_day_is_past(lead_days: int, is_late: bool) -> None:
    """4 January is 28 days before 1 February."""
    assert line(sold(lead_days=lead_days), 1).is_late is is_late
    assert not line(sold(lead_days=lead_days), 1, stock(on_hand=1)).is_late


def test_what_nobody_sells_comes_last_and_has_no_day() -> None:
    nobody = sold("notion:tape", supplier="", lead_days=None, trouble="No supplier is named.")
    found = shopping_list(
        terms(),
        [
            (Need(nobody, Decimal(1)), Stock()),
            (Need(sold("a", supplier="Zeta"), Decimal(1)), Stock()),
            (Need(sold("b", supplier="alpha"), Decimal(1)), Stock()),
        ],
    )
    assert [group.supplier for group in found.groups] == ["alpha", "Zeta", ""]
    last = found.groups[-1]
    assert (last.order_by, last.can_be_ordered, last.lines[0].order_by) == (None, False, None)


def test_a_supplier_is_ordered_from_by_the_first_day_of_what_is_bought() -> None:
    found = shopping_list(
        terms(),
        [
            (Need(sold("a", lead_days=9), Decimal(1)), stock(on_hand=1)),
            (Need(sold("b", lead_days=5), Decimal(1)), Stock()),
        ],
    )
    assert found.groups[0].order_by == datetime.date(2027, 1, 27)


@pytest.mark.parametrize(
    ("currency", "price"), [("JPY", "12"), ("EUR", "12.50"), ("BHD", "12.495")]
)
def test_a_line_is_rounded_to_what_the_currency_can_pay(currency: str, price: str) -> None:
    """Decimals by ISO 4217: yen 0, euro 2, dinar of Bahrain 3 (from memory)."""
    assert line_price(cloth(price=Decimal("9.996")), Decimal(1250), currency) == Decimal(price)


def test_the_mark_changes_with_what_is_to_be_bought() -> None:
    def mark(on_hand: int) -> str:
        needs = [(Need(sold(), Decimal(9)), stock(on_hand=on_hand))]
        return shopping_list(terms(), needs).groups[0].mark

    assert mark(1) == mark(1)
    assert mark(1) != mark(2)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: line(sold(price=Decimal("-1")), 1), "price of .* is -1, which is below zero"),
        (lambda: line(sold(), -1), "need of .* is -1"),
        (lambda: line(sold(step=Decimal(0)), 1), "step above zero"),
        (
            lambda: shopping_list(terms(fabric_waste=Decimal("-0.1")), []),
            "allowance for fabric is -0.1",
        ),
    ],
)
def test_what_is_below_zero_is_refused_in_words(call: Any, words: str) -> None:
    with pytest.raises(PlanError, match=words):
        call()


def test_an_allowance_of_200_percent_is_warned_of() -> None:
    (warning,) = shopping_list(terms(notion_waste=Decimal(2)), []).warnings
    assert warning.startswith("The allowance for notions is 200%")
    assert not shopping_list(terms(notion_waste=Decimal(1)), []).warnings


def test_every_assumption_is_named() -> None:
    told = " ".join(
        shopping_list(
            terms(fabric_waste=Decimal("0.03"), notion_waste=Decimal("0.02")), []
        ).assumptions
    )
    for words in ("3 %", "2 %", "waste of thread", "Reserved", "today", "1 February 2027"):
        assert words in told


# Random lists

UNITS = st.sampled_from(
    [
        (SPOOL, "1"),
        (CONE, "1"),
        (PIECE, "1"),
        (PIECE, "25"),
        (METRE, "0.1"),
        (METRE, "10"),
        (CLOTH, "100"),
        (CLOTH, "114.3"),
        (CLOTH, "25000"),
    ]
)


def amounts(places: int, most: int = 10_000) -> st.SearchStrategy[Decimal]:
    return st.decimals(0, most, places=places)


@st.composite
def random_need(draw: st.DrawFn) -> tuple[Need, Stock]:
    unit, step = draw(UNITS)
    places = 3 if unit == METRE else 0
    of = sold(
        draw(st.text("abc", max_size=3)),
        unit=unit,
        step=Decimal(step),
        price=draw(amounts(4, 999)),
        price_of=Decimal(1000) if unit == CLOTH else Decimal(1),
        supplier=draw(st.sampled_from(["", "Mill", "Harbor"])),
    )
    return (
        Need(of, draw(amounts(places))),
        Stock(*(draw(amounts(places)) for _ in range(4))),
    )


@given(
    st.lists(random_need(), max_size=12),
    st.sampled_from(["EUR", "JPY", "BHD"]),
    amounts(3, 2),
)
def test_sums_are_equal_to_the_cent_and_enough_is_bought(
    needs: list[tuple[Need, Stock]], currency: str, waste: Decimal
) -> None:
    found: ShoppingList = shopping_list(
        terms(currency=currency, fabric_waste=waste, notion_waste=waste), needs
    )
    smallest = Decimal(1).scaleb(-decimals_of(currency))
    assert len(found.lines) == len(needs)
    assert found.total == sum(line.price for line in found.lines)
    assert found.total == sum(group.total for group in found.groups)
    for each in found.lines:
        assert each.price % smallest == 0
        assert abs(each.price - each.to_buy * each.sold.price / each.sold.price_of) <= smallest / 2
        assert each.to_buy >= 0
        assert each.to_buy % each.sold.step == 0
        there = each.stock.on_hand + each.stock.on_order
        assert each.to_buy + there + each.stock.taken >= each.needed + each.stock.reserved
        if each.to_buy:
            still = max(each.needed + each.allowance - each.stock.taken, Decimal(0))
            assert each.to_buy - each.sold.step < still + each.stock.reserved - there


@given(amounts(3), UNITS)
def test_rounding_up_never_gives_less_nor_a_step_more(
    quantity: Decimal, measure: tuple[str, str]
) -> None:
    of = sold(unit=measure[0], step=Decimal(measure[1]))
    bought = rounded_up(quantity, of)
    assert bought - of.step < quantity <= bought


# In words


def test_quantities_in_the_words_of_the_workroom() -> None:
    assert quantity_words(Decimal("18400"), CLOTH, "metric") == "18.40 m"
    assert quantity_words(Decimal("9258.3"), CLOTH, "imperial") == "10 1/8 yd"
    assert quantity_words(Decimal("0.9144"), METRE, "imperial") == "1 yd"
    assert quantity_words(Decimal(1), SPOOL, "metric") == "1 spool"
    assert quantity_words(Decimal("20.000"), PIECE, "metric") == "20 pieces"
    assert quantity_words(Decimal("812.4"), "thread_m", "metric") == "813 m"


def test_thread_is_bought_in_spools_with_its_length_beside() -> None:
    spool = sold(holds_m=1000)
    assert holding_words(Decimal(8), spool, "metric") == "8000 m"
    assert holding_words(Decimal(0), spool, "metric") == ""
    assert holding_words(Decimal(8), sold("zipper:black:650", unit=PIECE), "metric") == ""
    assert sold_words(spool, "metric") == "spools of 1000 m"


def test_how_a_thing_is_sold_is_told() -> None:
    assert sold_words(cloth(), "metric") == "in steps of 0.10 m"
    assert sold_words(cloth(step=EIGHTH_YARD_MM), "imperial") == "in steps of 1/8 yd"
    assert sold_words(cloth(step=Decimal(25_000)), "metric") == "whole bolts of 25.00 m"
    assert sold_words(sold(unit=PIECE), "metric") == "by the piece"
    assert sold_words(sold(unit=PIECE, step=Decimal(25)), "metric") == "in steps of 25 pieces"


def test_a_line_opens_to_its_sources() -> None:
    source = Source("size S", Decimal(5), PIECE, "A-01 to A-05")
    need = Need(sold(unit=PIECE), Decimal(5), (source,))
    assert shopping_line(terms(), need, Stock()).sources == (source,)
