from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from production.planning.costs import plan_costs, rounded
from production.planning.cutting_prices import CuttingPrice
from production.planning.materials import PricedNotion
from production.planning.plan import Costs, CutTicket, Labor, Lay, NotionNeed, ThreadNeed
from production.planning.savings import lay_sums
from tests.production.planning_factories import make_fabric, make_jacket, make_snapshot


def make_ticket(needed_mm: int, from_stock_mm: int = 0) -> CutTicket:
    to_buy_mm = needed_mm - from_stock_mm
    return CutTicket(
        "T", "fleece", "spruce", "one_way", (), (), needed_mm, from_stock_mm, to_buy_mm
    )


def costs_of(
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


def test_fabric_from_stock_costs_as_much_as_bought_fabric() -> None:
    assert costs_of((make_ticket(1234),)).fabric == Decimal("12.34")
    assert costs_of((make_ticket(1234, from_stock_mm=1234),)).fabric == Decimal("12.34")


def test_narrower_cloth_costs_as_its_area() -> None:
    # 1000 mm on a remnant of half of the width count as 500 mm; the rest of 234 mm counts whole.
    fabric = make_fabric(end_allowance_mm=0, shrinkage=Decimal(0))
    half = Lay("L", "face_up", 1, fabric.usable_width_mm // 2, 1000, 1, 1000, 1000, ())
    whole = replace(half, usable_width_mm=fabric.usable_width_mm, length_mm=234)
    ticket = replace(make_ticket(1234), lays=(half, whole))
    assert costs_of((ticket,), fabrics=(fabric,)).fabric == Decimal("7.34")
    price = CuttingPrice(0.01, 0, 0, 0, width_mm=fabric.usable_width_mm)
    assert price.of((half, whole), 0) == pytest.approx(7.34)
    sums = lay_sums((half, whole), fabric, price)
    assert (sums.fabric_mm, sums.cost, sums.cloth_cost) == (1234, Decimal("7.34"), Decimal("7.34"))
    folded = replace(half, mode="folded", plies=2)
    assert price.of((folded,), 0) == pytest.approx(10)


def test_each_line_is_rounded_half_up_before_it_is_added() -> None:
    # 0.125 m at 11.50 is 1.4375; three lines of 1.44, though 4.3125 together would be 4.31.
    dear = (make_fabric(price_per_m=Decimal("11.50")),)
    assert costs_of((make_ticket(125),) * 3, fabrics=dear).fabric == Decimal("4.32")
    assert rounded(Decimal("0.125")) == Decimal("0.13")


def test_thread_is_paid_by_the_spools_of_its_color() -> None:
    # 1200 m on the lockstitch take two spools of 1000 m, not one for each operation.
    seam = ThreadNeed("thread-oat", "seam", "301", Decimal(900), 1)
    topstitch = ThreadNeed("thread-oat", "topstitch", "301", Decimal(300), 1)
    zipper = ThreadNeed("thread-oat", "zipper", "301", Decimal("0.1"), 1)
    assert costs_of(threads=(seam, topstitch, zipper)).thread == Decimal("9.00")  # 2 x 4.50


def test_notions_are_paid_by_their_unit() -> None:
    zippers = PricedNotion(NotionNeed("zipper", "S", "black", Decimal(3), "piece"), Decimal("2.10"))
    elastic = PricedNotion(NotionNeed("elastic", "S", "", Decimal("1.481"), "m"), Decimal("0.95"))
    assert costs_of(notions=(zippers, elastic)).notions == Decimal("7.71")  # 6.30 + 1.41


def test_overhead_is_a_share_of_labor() -> None:
    costs = costs_of(minutes="100")
    assert costs.labor == Decimal("40.00")  # 100 / 60 x 24
    assert costs.overhead == Decimal("8.00")  # 20 %


def test_the_total_adds_up_the_printed_lines() -> None:
    need = ThreadNeed("thread-oat", "seam", "301", Decimal("4.7"), 1)
    costs = costs_of((make_ticket(1000),), (need,), minutes="100", jackets=3)
    assert costs.total == Decimal("62.50")  # 10.00 + 4.50 + 0 + 40.00 + 8.00
    assert costs.per_jacket == Decimal("20.83")
