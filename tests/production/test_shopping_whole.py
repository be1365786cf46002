"""The whole way with the real needs of thread and notions: list, order, goods in, taken, nothing
left to buy."""

from __future__ import annotations

from decimal import Decimal

import pytest

from patterns.models import Elastic, Supplier, Zipper
from production import purchases, wares
from production.models import Run
from production.purchases import Bolt
from production.services import load_plan, load_snapshot
from production.shopping import shopping_of
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
