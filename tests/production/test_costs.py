from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from orders import money
from production.planning.costs import LINES, cost_parts, costs_of, plan_costs, rounded
from production.planning.cutting.cutting_prices import CuttingPrice
from production.planning.cutting.savings import lay_sums
from production.planning.plan import (
    Costs,
    CutTicket,
    Labor,
    Lay,
    NotionNeed,
    PlanError,
    ThreadNeed,
)
from production.planning.supplies.materials import PricedNotion
from production.sheets import cost_lines
from tests.production.planning_factories import (
    make_fabric,
    make_jacket,
    make_snapshot,
    make_workroom,
)


def make_ticket(needed_mm: int, from_stock_mm: int = 0) -> CutTicket:
    to_buy_mm = needed_mm - from_stock_mm
    return CutTicket(
        "T", "fleece", "spruce", "one_way", (), (), needed_mm, from_stock_mm, to_buy_mm
    )


def costs_of_run(
    tickets: tuple[CutTicket, ...] = (),
    threads: tuple[ThreadNeed, ...] = (),
    notions: tuple[PricedNotion, ...] = (),
    minutes: str = "0",
    jackets: int = 1,
    **values: object,
) -> Costs:
    labor = Labor((), (), Decimal(0), Decimal(minutes))
    snapshot = make_snapshot(jackets=tuple(make_jacket(f"J{n}") for n in range(jackets)), **values)
    return plan_costs(snapshot, tickets, threads, notions, labor)


def make_notion(quantity: str, price: str, unit: str = "piece") -> PricedNotion:
    return PricedNotion(NotionNeed("zipper", "S", "black", Decimal(quantity), unit), Decimal(price))


def test_fabric_from_stock_costs_as_much_as_bought_fabric() -> None:
    assert costs_of_run((make_ticket(1234),)).fabric == Decimal("12.34")
    assert costs_of_run((make_ticket(1234, from_stock_mm=1234),)).fabric == Decimal("12.34")


def test_narrower_cloth_costs_as_its_area() -> None:
    # 1000 mm on a remnant of half of the width count as 500 mm; the rest of 234 mm counts whole.
    fabric = make_fabric(end_allowance_mm=0, shrinkage=Decimal(0))
    half = Lay("L", "face_up", 1, fabric.usable_width_mm // 2, 1000, 1, 1000, 1000, ())
    whole = replace(half, usable_width_mm=fabric.usable_width_mm, length_mm=234)
    ticket = replace(make_ticket(1234), lays=(half, whole))
    assert costs_of_run((ticket,), fabrics=(fabric,)).fabric == Decimal("7.34")
    price = CuttingPrice(0.01, 0, 0, 0, width_mm=fabric.usable_width_mm)
    assert price.of((half, whole), 0) == pytest.approx(7.34)
    sums = lay_sums((half, whole), fabric, price)
    assert (sums.fabric_mm, sums.cost, sums.cloth_cost) == (1234, Decimal("7.34"), Decimal("7.34"))
    folded = replace(half, mode="folded", plies=2)
    assert price.of((folded,), 0) == pytest.approx(10)


def test_each_part_is_rounded_half_up_before_it_is_added() -> None:
    # 0.125 m at 11.50 is 1.4375; three parts of 1.44, though 4.3125 together would be 4.31.
    dear = (make_fabric(price_per_m=Decimal("11.50")),)
    assert costs_of_run((make_ticket(125),) * 3, fabrics=dear).fabric == Decimal("4.32")
    assert rounded(Decimal("0.125")) == Decimal("0.13")


def test_thread_is_paid_by_the_spools_of_its_color() -> None:
    # 1200 m on the lockstitch take two spools of 1000 m, not one for each operation.
    seam = ThreadNeed("thread-oat", "seam", "301", Decimal(900), 1)
    topstitch = ThreadNeed("thread-oat", "topstitch", "301", Decimal(300), 1)
    zipper = ThreadNeed("thread-oat", "zipper", "301", Decimal("0.1"), 1)
    assert costs_of_run(threads=(seam, topstitch, zipper)).thread == Decimal("9.00")  # 2 x 4.50


def test_notions_are_paid_by_their_unit() -> None:
    elastic = PricedNotion(NotionNeed("elastic", "S", "", Decimal("1.481"), "m"), Decimal("0.95"))
    costs = costs_of_run(notions=(make_notion("3", "2.10"), elastic))
    assert costs.notions == Decimal("7.71")  # 6.30 + 1.41


def test_overhead_is_a_share_of_labor() -> None:
    costs = costs_of_run(minutes="100")
    assert costs.labor == Decimal("40.00")  # 100 / 60 x 24
    assert costs.overhead == Decimal("8.00")  # 20 %


def test_waste_is_a_share_of_fabric_and_one_of_notions() -> None:
    room = make_workroom(fabric_waste=Decimal("0.03"), notion_waste=Decimal("0.02"))
    costs = costs_of_run(
        (make_ticket(10_500),), notions=(make_notion("3", "2.10"),), minutes="60", workroom=room
    )
    # 10.5 m at 10.00 are 105.00, of which 3 % are 3.15; 3 at 2.10 are 6.30, of which 2 % are 0.126.
    assert costs.waste == Decimal("3.28")  # 3.15 + 0.13
    # 105.00 + 6.30 + 24.00 labor + 4.80 overhead + 3.28 waste
    assert costs.total == Decimal("143.38")


def test_each_part_of_the_waste_says_what_it_is_of() -> None:
    room = make_workroom(fabric_waste=Decimal("0.03"), notion_waste=Decimal("0.02"))
    snapshot = make_snapshot(workroom=room)
    labor = Labor((), (), Decimal(0), Decimal(0))
    parts = cost_parts(snapshot, (make_ticket(10_500),), (), (make_notion("3", "2.10"),), labor)
    waste = [(part.name, part.quantity, part.price) for part in parts if part.line == "waste"]
    assert waste == [
        ("fabric", Decimal("0.03"), Decimal("105.00")),
        ("notions", Decimal("0.02"), Decimal("6.30")),
    ]


def test_the_total_adds_up_the_printed_lines() -> None:
    need = ThreadNeed("thread-oat", "seam", "301", Decimal("4.7"), 1)
    costs = costs_of_run((make_ticket(1000),), (need,), minutes="100", jackets=3)
    assert costs.total == Decimal("62.50")  # 10.00 + 4.50 + 0 + 40.00 + 8.00
    assert costs.per_jacket == Decimal("20.83")


@pytest.mark.parametrize(
    ("currency", "labor", "overhead"),
    # 7 min at 24.00 an hour are 2.80; 20 % of that are 0.56, and of 3 yen 0.6.
    [("EUR", "2.80", "0.56"), ("JPY", "3", "1"), ("KWD", "2.800", "0.560")],
)
def test_lines_are_rounded_to_what_the_currency_can_pay(
    currency: str, labor: str, overhead: str
) -> None:
    costs = costs_of_run(minutes="7", workroom=make_workroom(currency=currency))
    assert (str(costs.labor), str(costs.overhead)) == (labor, overhead)
    assert costs.total == costs.labor + costs.overhead


def test_a_price_below_zero_is_refused() -> None:
    free = (make_fabric(price_per_m=Decimal("-1")),)
    with pytest.raises(PlanError, match="Fabric: Test fleece, spruce stands at -1"):
        costs_of_run((make_ticket(1000),), fabrics=free)
    with pytest.raises(PlanError, match="below 0"):
        costs_of_run(minutes="10", workroom=make_workroom(overhead=Decimal("-0.1")))


def test_a_page_shows_every_line_that_the_total_adds_up() -> None:
    from production.planning.planner import plan_run

    room = make_workroom(fabric_waste=Decimal("0.05"), notion_waste=Decimal("0.1"))
    plan = plan_run(make_snapshot(workroom=room)).plan
    shown = dict(cost_lines(plan))
    total, _ = shown.pop("Total"), shown.pop("Per jacket")
    assert sum(shown.values()) == total
    assert shown["Waste"] > 0


amounts = st.decimals(0, 500, places=4)
shares = st.decimals(0, 1, places=3)


@given(
    currency=st.sampled_from(["EUR", "USD", "JPY", "KRW", "KWD", "TND"]),
    fabric_price=amounts,
    lengths_mm=st.lists(st.integers(0, 200_000), min_size=1, max_size=5),
    notions=st.lists(st.tuples(amounts, amounts), max_size=5),
    minutes=st.decimals(0, 20_000, places=2),
    wage=amounts,
    rates=st.tuples(shares, shares, shares),
    jackets=st.integers(1, 5),
)
def test_random_prices_and_quantities_add_up_to_the_smallest_coin(
    currency, fabric_price, lengths_mm, notions, minutes, wage, rates, jackets
) -> None:
    overhead, fabric_waste, notion_waste = rates
    room = make_workroom(
        currency=currency,
        labor_per_hour=wage,
        overhead=overhead,
        fabric_waste=fabric_waste,
        notion_waste=notion_waste,
    )
    snapshot = make_snapshot(
        workroom=room,
        fabrics=(make_fabric(price_per_m=fabric_price),),
        jackets=tuple(make_jacket(f"J{n}") for n in range(jackets)),
    )
    parts = cost_parts(
        snapshot,
        tuple(make_ticket(length_mm) for length_mm in lengths_mm),
        (ThreadNeed("thread-oat", "seam", "301", Decimal(900), 1),),
        tuple(make_notion(str(many), str(price)) for many, price in notions),
        Labor((), (), Decimal(0), minutes),
    )
    costs = costs_of(parts, snapshot)
    assert sum(part.amount for part in parts) == costs.total
    assert sum(getattr(costs, line) for line in LINES) == costs.total
    assert all(part.amount == money.rounded(part.amount, currency) for part in parts)
    # No line is further from its exact amount than half a coin for each of its parts.
    exact = sum(Decimal(mm) / 1000 * fabric_price for mm in lengths_mm)
    half_a_coin = Decimal(1).scaleb(-money.decimals_of(currency)) / 2
    assert abs(costs.fabric - exact) <= half_a_coin * len(lengths_mm)
