"""The whole way with the real needs of thread and notions: list, order, goods in, taken, nothing
left to buy."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from decimal import Decimal

import pytest

from orders.models import ColorwayBlock, TeamOrder
from patterns.models import Block, Elastic, FabricColor, Supplier, Zipper
from production.buying import purchases
from production.buying.purchases import Bolt
from production.buying.shopping import shopping_of
from production.changing.change_state import load_supplement
from production.changing.changes import Cancel, change_after_freeze
from production.models import Run
from production.planning.snapshot import RunSnapshot
from production.planning.supplies.materials import notion_needs
from production.planning.threads.thread import explained
from production.services import load_plan, load_snapshot
from production.stock import wares
from tests.production.change_factories import facts, jacket, late_member
from tests.production.run_factories import FILLS
from tests.production.shopping_factories import make_stocked_run, spread

pytestmark = pytest.mark.django_db


def buy_all(run: Run) -> None:
    for group in shopping_of(run).groups:
        keys = [line.sold.key for line in group.lines if line.to_buy]
        supplier = Supplier.objects.get(name=group.supplier)
        purchase = purchases.order(run, supplier, keys, by=None, seen=group.mark)
        came, bolts = {}, []
        for number, line in enumerate(purchases.lines_of(purchase), start=1):
            if line.ware:
                came[line.pk] = line.quantity
            else:
                bolts.append(
                    Bolt(f"row-{number}", line.pk, f"B-{line.pk}", "lot-1", int(line.quantity))
                )
        goods = purchases.take_in(
            purchase, came=came, bolts=bolts, by=None, seen=purchases.mark_of(purchase)
        )
        assert goods.is_whole


def test_what_is_bought_and_taken_is_what_the_jackets_need() -> None:
    run = make_stocked_run(jackets=4)
    harbor = Supplier.objects.get(name="Harbor Haberdashery")
    Zipper.objects.create(
        color_code="black",
        color_name="black",
        hex_color="#000000",
        length_mm=650,
        price=Decimal("2.10"),
        supplier=harbor,
    )
    Elastic.objects.create(
        place="cuff",
        name="cuff elastic",
        width_mm=25,
        stretch_factor=Decimal("0.9"),
        join_mm=20,
        price_per_m=Decimal("1.20"),
        supplier=harbor,
    )
    for color in ("spruce", "oat"):
        spread(run, color=color)
    lines = {line.sold.key: line for line in shopping_of(run).lines}
    assert not [line.sold.trouble for line in lines.values() if line.sold.trouble]
    zippers = {key: line.to_buy for key, line in lines.items() if key.startswith("zipper")}
    assert zippers == {"zipper:black:600": 2, "zipper:black:650": 2}
    spools = {key for key in lines if key.startswith("thread")}
    assert spools == {f"thread:{need.thread_color}:spool" for need in load_plan(run).threads}
    for key in spools:
        metres = sum(need.metres for need in load_plan(run).threads if need.thread_color in key)
        holds = next(t.spool_m for t in load_snapshot(run).threads if t.code in key)
        assert lines[key].to_buy * holds >= metres
        assert sum(source.quantity for source in lines[key].sources) == metres
    buy_all(run)
    assert not any(line.to_buy for line in shopping_of(run).lines)
    assert not wares.take_for_run(run, None).missing
    assert not any(line.to_buy for line in shopping_of(run).lines)
    cloth = [line for line in shopping_of(run).lines if line.sold.key.startswith("cloth")]
    assert [int(line.stock.on_hand) for line in cloth] == [6000, 6000]


def by_hand(*parts: tuple[RunSnapshot, set[str]]) -> dict[str, Decimal]:
    """Zippers and metres of thread of the jackets with these codes, counted one by one."""
    found: Counter[str] = Counter()
    for snapshot, codes in parts:
        for one in snapshot.jackets:
            if one.code in codes:
                alone = replace(snapshot, jackets=(one,))
                (zipper,) = [n.need for n in notion_needs(alone) if n.need.unit == "piece"]
                found[zipper.ware] += 1
                for line in explained(alone):
                    found[line.thread_color] += line.whole_mm / 1000  # type: ignore[assignment]
    return {key: Decimal(value) for key, value in found.items()}


def test_two_runs_with_changes_after_the_freeze_count_each_wanted_jacket_once() -> None:
    first = make_stocked_run(jackets=3)
    later = make_stocked_run(jackets=2, code="R-0002", order="TO-2")
    Zipper.objects.create(
        color_code="black",
        color_name="black",
        hex_color="#000000",
        length_mm=650,
        price=Decimal("2.10"),
    )
    order = TeamOrder.objects.get(code="TO-1")
    for code, color in FILLS:
        ColorwayBlock.objects.create(
            colorway=order.colorways.get(),
            block=Block.objects.get(code=code),
            fabric_color=FabricColor.objects.get(code=color),
        )
    added = change_after_freeze(order, late_member(order, size="M"), None)
    moved = change_after_freeze(jacket(1), facts(jacket(1).jacket_order, size="M"), None)
    change_after_freeze(jacket(3), Cancel(), None)
    snapshots = [load_supplement(each)[0] for each in (added, moved)]
    assert snapshots[0] and snapshots[1]
    wanted = by_hand(
        (load_snapshot(first), {"TO-1-02"}),
        (snapshots[0], {"TO-1-04"}),
        (snapshots[1], {"TO-1-01"}),
    )
    lines = {line.sold.key: line for line in shopping_of(first).lines}
    zippers = {key: line.needed for key, line in lines.items() if key.startswith("zipper")}
    assert zippers == {key: wanted[key] for key in wanted if key.startswith("zipper")}
    for key, line in lines.items():
        if key.startswith("thread"):
            told = sum((source.quantity for source in line.sources), Decimal(0))
            short = told - wanted[key.split(":")[1]]
            # Each line of a source is rounded up to 0.1 m.
            assert 0 <= short < Decimal("0.1") * len(line.sources)
    for key, line in {line.sold.key: line for line in shopping_of(later).lines}.items():
        if key.startswith(("zipper", "thread")):
            assert line.stock.reserved == lines[key].needed
            assert line.to_buy == line.needed + line.stock.reserved
