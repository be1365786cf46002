"""Planned against actual; all figures are invented and small enough to reckon by hand."""

from __future__ import annotations

import datetime
from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest

from production.planning.actuals.afterwards import (
    Compared,
    TicketCloth,
    WareUse,
    compare_cloth,
    compare_minutes,
    compare_wares,
)
from production.planning.actuals.afterwards_money import (
    Afterwards,
    Bought,
    Prices,
    Quoted,
    against_quote,
    compare_money,
    compare_purchases,
    list_price,
    list_prices,
    total_of,
)
from production.planning.actuals.afterwards_rules import to_correct
from production.planning.minutes.stage_times import StageTime
from tests.production.planning_factories import make_snapshot

D = Decimal
DAY = datetime.datetime(2027, 2, 1, 8)
SPOOL = "thread:oat:spool"


def figures(*values: object) -> Any:
    """Any, as tests compare decimals with whole numbers."""
    return values


def ticket(code: str, planned: int, cut: int, plies: int = 2, plies_cut: int = 2) -> TicketCloth:
    return TicketCloth(code, "oat", planned, cut, plies, plies_cut)


def sewn(took: int, at_hour: int = 0, standard: int = 60) -> StageTime:
    start = DAY + datetime.timedelta(hours=2 * at_hour)
    return StageTime("sew", 1, start, start + datetime.timedelta(minutes=took), D(standard))


def compared(planned: str, actual: str | None, **values: Any) -> Compared:
    known = None if actual is None else D(actual)
    return Compared(
        **{"name": "x", "whole": D(planned), "planned": D(planned), **values}, actual=known
    )


def use(key: str = SPOOL, needed: str = "3", holds: str = "3", was_taken: bool = True) -> WareUse:
    return WareUse(key, "thread oat", "spool", D(needed), D(holds), was_taken)


# Cloth


def test_cloth_is_compared_over_the_tickets_that_are_cut_whole() -> None:
    (oat,) = compare_cloth(
        [ticket("T-1", 5000, 5200), ticket("T-2", 3000, 1500, plies_cut=1)], {"oat": "Oat"}
    )
    assert figures(oat.name, oat.whole, oat.planned, oat.actual) == ("Oat", 8000, 5000, 5200)
    assert oat.difference == 200
    assert oat.share == D("0.04")
    assert "T-2" in oat.missing
    assert "T-1" not in oat.missing


def test_supplements_and_recuts_count_on_both_sides() -> None:
    (oat,) = compare_cloth([ticket("T-1", 5000, 5000), ticket("T-1-R1", 400, 450)], {})
    assert figures(oat.planned, oat.actual, oat.missing) == (5400, 5450, "")


def test_cloth_that_is_not_cut_is_missing_and_not_zero() -> None:
    never_laid = ticket("T-2", 3000, 0, plies=0, plies_cut=0)
    (oat,) = compare_cloth([ticket("T-1", 5000, 0, plies_cut=0), never_laid], {})
    assert oat.actual is None
    assert oat.difference is None
    assert oat.share is None
    assert oat.likely == oat.whole == 8000


# Minutes


def test_minutes_compare_the_timed_jackets_alone() -> None:
    times = [sewn(66, 0), sewn(66, 1), sewn(72, 2)]
    cut, sew, _ = compare_minutes(times, {"sew": D(600), "cut": D(90)})
    assert figures(sew.jackets, sew.compared.planned, sew.compared.actual) == (3, 180, 198)
    assert sew.compared.whole == 600
    assert sew.compared.likely == 660
    assert cut.compared.actual is None
    assert cut.compared.whole == 90


def test_a_forgotten_tap_does_not_rule_the_minutes() -> None:
    times = [sewn(60, 0), sewn(60, 1), sewn(600, 2)]
    sew = compare_minutes(times, {})[1]
    assert sew.compared.actual == 180


def test_who_worked_over_night_is_left_out_and_counted_as_such() -> None:
    night = StageTime("sew", 1, DAY, DAY + datetime.timedelta(days=1), D(60))
    sew = compare_minutes([night], {"sew": D(60)})[1]
    assert figures(sew.jackets, sew.left_out, sew.compared.actual) == (0, 1, None)


# Wares


def test_a_ware_that_was_taken_in_part_has_no_actual_until_the_run_is_over() -> None:
    part = use(holds="2")
    assert compare_wares([part], is_over=False)[0].actual is None
    assert "2 of 3" in compare_wares([part], is_over=False)[0].missing
    (over,) = compare_wares([part], is_over=True)
    assert figures(over.actual, over.difference) == (2, -1)


def test_a_ware_that_never_left_the_shelf_is_missing_even_when_the_run_is_over() -> None:
    (never,) = compare_wares([use(holds="0", was_taken=False)], is_over=True)
    assert never.actual is None
    assert never.missing


def test_a_ware_that_nobody_planned_has_a_difference_without_a_share() -> None:
    (more,) = compare_wares([use(needed="0", holds="1")], is_over=False)
    assert figures(more.difference, more.share) == (1, None)


# Money


def prices(*bought: Bought, **listed: str) -> Prices:
    room = replace(
        make_snapshot().workroom,
        currency="EUR",
        labor_per_hour=D(30),
        overhead=D("0.20"),
        fabric_waste=D("0.05"),
        notion_waste=D(0),
    )
    known = {"cloth:oat": D("0.01"), SPOOL: D(4), "notion:label": D("0.10")}
    return Prices(room, known | {key: D(value) for key, value in listed.items()}, bought)


def bought(quantity: str, paid: str, key: str = SPOOL, listed: str | None = "4") -> Bought:
    price = None if listed is None else D(listed)
    return Bought("P-0001", key, "thread oat", "spool", D(quantity), D(paid), price)


def test_what_was_bought_for_the_run_counts_as_paid_and_the_rest_by_the_list() -> None:
    known = prices(bought("2", "10"))
    assert known.actual(SPOOL, D(3), D(4)) == 10 + 4
    assert known.actual(SPOOL, D(1), D(4)) == 5
    assert prices().actual(SPOOL, D(3), D(4)) == 12


def test_a_ware_without_a_price_is_named_and_not_taken_as_free() -> None:
    wares = [compared("3", "4", of="thread:lost:spool", name="lost thread")]
    thread = compare_money([], wares, (), prices())[1]
    assert thread.actual is None
    both = [*wares, compared("3", "4", of=SPOOL)]
    thread = compare_money([], both, (), prices())[1]
    assert figures(thread.planned, thread.actual, thread.missing) == (
        12,
        16,
        "lost thread (no price)",
    )


def test_money_of_each_line() -> None:
    cloth = [Compared("Oat", D(8000), D(5000), D(5200), "T-2", "oat", "mm")]
    wares = [compared("3", "4", of=SPOOL), compared("10", None, of="notion:label", missing="none")]
    minutes = compare_minutes([sewn(66, 0), sewn(66, 1)], {"sew": D(600), "cut": D(60)})
    fabric, thread, notions, labor, overhead = compare_money(cloth, wares, minutes, prices())
    # 5000 mm x 0.01 x 1.05 planned; what was cut has its waste in it
    assert figures(fabric.whole, fabric.planned, fabric.actual) == (84, D("52.50"), 52)
    assert fabric.missing
    assert figures(thread.planned, thread.actual) == (12, 16)
    assert figures(notions.whole, notions.actual, notions.missing) == (1, None, "all of it")
    # 660 min at 30 an hour; 120 of them timed, which took 132
    assert figures(labor.whole, labor.planned, labor.actual) == (330, 60, 66)
    assert labor.likely == 360  # sewing 600 x 1.1, cutting as planned
    assert figures(overhead.whole, overhead.planned, overhead.actual) == (66, 12, D("13.20"))


def test_the_total_leaves_out_what_has_no_actual() -> None:
    lines = [compared("10", "12"), compared("5", None)]
    total = total_of(lines)
    assert figures(total.whole, total.planned, total.actual, total.likely) == (15, 10, 12, 17)


def test_prices_of_the_plan_by_key() -> None:
    snapshot = make_snapshot()
    listed = list_prices(snapshot)
    fabric, color = snapshot.fabrics[0], snapshot.fabric_colors[0]
    assert color.fabric == fabric.code
    assert listed[f"cloth:{color.code}"] * 1000 == fabric.price_per_m
    zipper = snapshot.zippers[0]
    key = f"zipper:{zipper.color_code}:{zipper.length_mm}"
    assert list_price(key, listed, D(1)) == zipper.price
    assert list_price(f"{key}:made-{zipper.length_mm - 13}", listed, D(1)) == zipper.price + 1
    assert list_price("notion:label:M", {"notion:label": D(2)}, D(1)) == 2
    assert list_price("notion:unknown", listed, D(1)) is None


def test_a_purchase_without_a_list_price_is_missing() -> None:
    known, unknown = compare_purchases([bought("2", "9"), bought("1", "5", listed=None)], "EUR")
    assert figures(known.planned, known.actual, known.share) == (8, 9, D("0.125"))
    assert unknown.actual is None


# Against the quote

QUOTED = Quoted("Q-1", "TO-1", "EUR", 10, D("11.90"), D(119), D(100), D(80), D(20))


def test_the_margin_that_was_reached_is_that_of_the_quoted_jackets() -> None:
    found = against_quote(QUOTED, 12, D(510), 60, "EUR")
    assert figures(found.cost, found.reached, found.difference) == (85, 15, -5)
    assert figures(found.quoted_share, found.reached_share) == (D("0.2"), D("0.15"))


def test_a_quote_in_another_currency_is_not_compared() -> None:
    found = against_quote(QUOTED, 12, D(510), 60, "SEK")
    assert found.reached is found.reached_share is found.difference is None


# What to correct


def found(**values: Any) -> Afterwards:
    nothing: dict[str, Any] = dict.fromkeys(
        ("cloth", "minutes", "wares", "purchases", "money", "quotes"), ()
    )
    facts = {"currency": "EUR", "pieces": 100, "spoiled": 0, "recut_mm": 0}
    return Afterwards(**{**nothing, **facts, **values})


def kinds(afterwards: Afterwards) -> list[str]:
    return [advice.kind for advice in to_correct(afterwards)]


@pytest.mark.parametrize(
    ("took", "jackets", "told"), [(67, 5, 1), (66, 5, 0), (67, 4, 0), (53, 5, 1)]
)
def test_a_stage_is_corrected_beyond_a_tenth_over_five_jackets(
    took: int, jackets: int, told: int
) -> None:
    minutes = compare_minutes([sewn(took, number) for number in range(jackets)], {})
    assert kinds(found(minutes=minutes)) == ["stage"] * told


def test_words_say_the_numbers() -> None:
    minutes = compare_minutes([sewn(75, number) for number in range(6)], {})
    (advice,) = to_correct(found(minutes=minutes))
    assert "25 % more" in advice.words
    assert "6 jackets" in advice.words


@pytest.mark.parametrize(("actual", "told"), [("1030", []), ("1031", ["cloth"]), ("900", [])])
def test_cloth_is_corrected_above_three_percent(actual: str, told: list[str]) -> None:
    assert kinds(found(cloth=(compared("1000", actual),))) == told


def test_cloth_says_whether_the_waste_share_covers_it() -> None:
    cloth = (compared("1000", "1040", of="oat"),)
    (not_enough,) = to_correct(found(cloth=cloth, fabric_waste=D("0.02")))
    (enough,) = to_correct(found(cloth=cloth, fabric_waste=D("0.05")))
    assert "does not cover" in not_enough.words
    assert "does not" not in enough.words
    assert enough.of == "oat"


def test_spoiled_pieces_are_told_above_their_share() -> None:
    assert kinds(found(spoiled=3)) == ["spoiled"]
    assert kinds(found(spoiled=2)) == []
    assert kinds(found(spoiled=0, pieces=0)) == []


def test_thread_beyond_the_need_is_told_and_other_wares_are_not() -> None:
    wares = (compared("2", "3", of=SPOOL), compared("2", "3", of="notion:label"))
    assert [(advice.kind, advice.of) for advice in to_correct(found(wares=wares))] == [
        ("thread", SPOOL)
    ]
    assert kinds(found(wares=(compared("2", "2", of=SPOOL),))) == []


def test_dearer_goods_are_told() -> None:
    assert kinds(found(purchases=(compared("100", "103", of="P-1"),))) == ["price"]
    assert kinds(found(purchases=(compared("100", "102", of="P-1"),))) == []


def test_nothing_known_asks_for_nothing() -> None:
    nothing = found(cloth=(compared("10", None),), minutes=compare_minutes([], {}))
    assert to_correct(nothing) == ()
    assert not nothing.has_actuals


def test_narrower_cloth_counts_by_its_area_in_money_and_whole_in_length() -> None:
    ticket = TicketCloth("T1", "spruce", 1000, 1100, 2, 2, counted=Decimal("0.5"))
    (length,) = compare_cloth([ticket], {})
    (valued,) = compare_cloth([ticket.by_area], {})
    assert (length.planned, length.actual) == (Decimal(1000), Decimal(1100))
    assert (valued.planned, valued.actual) == (Decimal(500), Decimal(550))
