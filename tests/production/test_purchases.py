"""From the shopping list to an order, and from the order to the shelf and the bolts."""

from __future__ import annotations

import datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from django.utils import timezone

from patterns.models import Fabric, FabricColor, Supplier, ThreadColor, Workroom, Zipper
from patterns.services import workroom
from production.buying import purchases
from production.buying.purchases import Bolt, PurchaseError
from production.buying.shopping import on_order, shopping_of
from production.errors import MovedOnError, ProductionError
from production.models import LayPly, Purchase, PurchaseLine, Run, StockLot, WareMovement
from production.stock import cloth_waiting, wares
from production.stock.cloth_upkeep import add_flaw
from tests.production.run_factories import make_person
from tests.production.shopping_factories import (
    CLOTH,
    ELASTIC,
    HARBOR,
    MILL,
    SPOOLS,
    ZIPPERS,
    at_once,
    count_on_needs,
    line_of,
    make_lot,
    make_stocked_run,
    spread,
)

pytestmark = pytest.mark.django_db
TODAY = timezone.localdate()


@pytest.fixture(autouse=True)
def run(db: None, monkeypatch: pytest.MonkeyPatch) -> Run:
    count_on_needs(monkeypatch)
    return make_stocked_run()


def ordered(run: Run, *keys: str, supplier: str = HARBOR, **values: Any) -> Purchase:
    row = Supplier.objects.get(name=supplier)
    values.setdefault("seen", mark(run, supplier))
    return purchases.order(run, row, keys, **{"by": None, **values})


def mark(run: Run, supplier: str = HARBOR) -> str:
    return next(group.mark for group in shopping_of(run).groups if group.supplier == supplier)


def took_in(purchase: Purchase, *bolts: Bolt, **values: Any) -> purchases.GoodsIn:
    came = {
        line.pk: Decimal(values.pop(line.ware.key.partition(":")[0], 0))
        for line in purchases.lines_of(purchase)
        if line.ware
    }
    values.setdefault("seen", purchases.mark_of(purchase))
    return purchases.take_in(purchase, came=came, bolts=bolts, by=None, **values)


def bolt(purchase: Purchase, code: str = "B-101", length_mm: int = 20_000, **values: Any) -> Bolt:
    line = purchase.lines.get(fabric_color__isnull=False)
    return Bolt(f"bolt-{line.pk}-1", line.pk, code, values.pop("dye_lot", "lot-1"), length_mm)


def places(laid: cloth_waiting.LaidOn) -> list[tuple[str, int | None]]:
    return [(str(ply.lot), ply.start_mm) for ply in laid.plies]


# The list


def test_the_list_names_need_supplier_price_and_sources(run: Run) -> None:
    spools, zippers = line_of(run, SPOOLS), line_of(run, ZIPPERS)
    assert (spools.sold.supplier, spools.to_buy, spools.price) == (HARBOR, 3, Decimal("12.00"))
    assert {source.unit for source in spools.sources} == {"thread_m"}
    assert (zippers.needed, zippers.to_buy, zippers.price) == (2, 2, Decimal("4.00"))
    assert line_of(run, ELASTIC).to_buy == Decimal("3.0")
    assert line_of(run, CLOTH).sources[0].what == "ticket R-0001-T2 as planned"
    assert line_of(run, CLOTH).sources[0].jackets == "TO-1-01, TO-1-02"


def test_cloth_counts_by_the_plies_that_are_cut_laid_and_short(run: Run) -> None:
    plies = spread(run, takes_mm=1500, plies=4)
    lot = make_lot(length_mm=4000)
    for number, ply in enumerate(plies[:2]):
        ply.lot, ply.start_mm = lot, 1500 * number
        ply.save()
    run.snapshot["workroom"]["fabric_waste"] = "0.1"
    run.save()
    found = line_of(run, CLOTH)
    assert (found.needed, found.allowance, found.stock.on_hand) == (6000, 600, 4000)
    assert found.stock.unfit == 400  # 1 m is free, and 0.6 m of it serves the allowance
    assert found.to_buy == 3000
    (source,) = found.sources
    assert source.what == "lay R-0001-T2-L9, 4 plies, from B-1, 2 on no bolt yet"


def test_cloth_that_others_are_planned_on_is_reserved(run: Run) -> None:
    later = make_stocked_run(code="R-0002", order="TO-2")
    (own,) = spread(run, takes_mm=3000, plies=1)
    own.lot, own.start_mm = make_lot(length_mm=8000), 0
    own.save()
    spread(run, takes_mm=1000, plies=1, color="oat")
    spread(later, takes_mm=2000, plies=1)
    spread(later, takes_mm=2000, plies=1, color="oat")
    found = line_of(later, CLOTH)
    assert (found.stock.on_hand, found.stock.reserved, found.to_buy) == (8000, 3000, 2000)
    oat = line_of(later, "cloth:oat")
    assert (oat.stock.reserved, oat.to_buy, oat.for_others) == (1000, 3000, 1000)


def test_order_by_counts_from_the_start_of_cutting(run: Run) -> None:
    found = shopping_of(run)
    planned = datetime.date.fromisoformat(run.plan["schedule"]["latest_cutting_start"])
    assert found.starts_on == planned
    assert line_of(run, CLOTH).order_by == planned - datetime.timedelta(days=10)
    assert line_of(run, SPOOLS).order_by == planned - datetime.timedelta(days=5)


def test_more_work_than_was_planned_moves_the_start_forward(run: Run) -> None:
    planned = shopping_of(run).starts_on
    run.jackets.update(standard_minutes={"sew": "5000.00"})
    assert shopping_of(run).starts_on < planned


def test_a_thing_without_a_supplier_is_told_and_stays_on_the_list(run: Run) -> None:
    Zipper.objects.update(supplier=None)
    found = line_of(run, ZIPPERS)
    assert (found.sold.supplier, found.order_by, found.can_be_ordered) == ("", None, False)
    assert found.sold.trouble == "No supplier is named for it."


@pytest.mark.parametrize(
    ("currency", "price"), [("JPY", Decimal(7)), ("BHD", Decimal("7.200")), ("EUR", Decimal("7.2"))]
)
def test_prices_have_the_decimals_of_the_currency(run: Run, currency: str, price: Decimal) -> None:
    workroom()
    Workroom.objects.update(currency=currency)
    ThreadColor.objects.update(price_per_spool=Decimal("2.40"))
    found = ordered(run, SPOOLS).lines.get()
    assert line_of(run, SPOOLS).to_buy == 0
    assert found.price == price


# Ordering


def test_ticked_lines_become_a_purchase(run: Run) -> None:
    person = make_person(role="maker")
    purchase = ordered(run, SPOOLS, ZIPPERS, by=person, note="by mail")
    assert (purchase.code, purchase.run, purchase.by) == ("P-0001", run, person)
    assert purchase.expected_on == purchase.ordered_on + datetime.timedelta(days=5)
    lines: Any = purchase.lines.values_list("ware__key", "quantity", "price")
    assert list(lines) == [(SPOOLS, 3, 12), (ZIPPERS, 2, 4)]
    assert on_order() == {SPOOLS: 3, ZIPPERS: 2}
    assert line_of(run, SPOOLS).to_buy == 0
    assert line_of(run, ELASTIC).to_buy == 3
    assert ordered(run, ELASTIC).code == "P-0002"


def test_cloth_is_ordered_in_mm(run: Run) -> None:
    spread(run)
    Fabric.objects.update(sold_in=Fabric.SoldIn.EIGHTH_YARD)
    (line,) = ordered(run, CLOTH, supplier=MILL).lines.all()
    assert line.fabric_color == FabricColor.objects.get(code="spruce")
    assert line.quantity == Decimal("6057.900")  # 53 eighths of a yard hold 6 m


@pytest.mark.parametrize(
    ("keys", "values", "words"),
    [
        ((), {}, "Tick what is to be ordered"),
        ((CLOTH,), {}, "cloth:spruce is not to be bought from Harbor Haberdashery"),
        (("thread:red:spool",), {}, "not to be bought"),
        ((SPOOLS,), {"ordered_on": TODAY + datetime.timedelta(days=1)}, "still to come"),
        ((SPOOLS,), {"note": "x" * 81}, "Say it in 80 letters"),
        ((SPOOLS,), {"supplier": MILL}, "not to be bought from Low Mill Cloth"),
    ],
)
def test_a_wrong_order_is_refused_and_nothing_is_written(
    run: Run, keys: tuple[str, ...], values: dict[str, Any], words: str
) -> None:
    with pytest.raises(PurchaseError, match=words):
        ordered(run, *keys, **values)
    assert not Purchase.objects.exists()


def test_a_price_too_large_to_be_written_down_is_refused(run: Run) -> None:
    ThreadColor.objects.update(price_per_spool=Decimal("999999.99"))
    Fabric.objects.update(price_per_m=Decimal("999999.99"))
    spread(run, takes_mm=20_000, plies=4)
    with pytest.raises(PurchaseError, match="more than can be written down in one line"):
        ordered(run, CLOTH, supplier=MILL)
    assert not Purchase.objects.exists()


def test_the_same_order_sent_twice_is_made_once(run: Run) -> None:
    seen = mark(run)
    ordered(run, SPOOLS, seen=seen)
    with pytest.raises(MovedOnError, match="perhaps because this was ordered a moment ago"):
        ordered(run, SPOOLS, seen=seen)
    assert Purchase.objects.count() == 1


@pytest.mark.django_db(transaction=True)
def test_two_orders_at_once_are_one(run: Run, tmp_path: Path) -> None:
    seen = mark(run)

    def send() -> object:
        return ordered(Run.objects.get(), SPOOLS, seen=seen).code

    found = at_once(tmp_path, [send, send])
    assert sorted(type(each).__name__ for each in found) == ["MovedOnError", "str"]


def test_what_one_run_orders_serves_the_earlier_one_first(run: Run) -> None:
    """Both see the same order, and together they have what they need."""
    later = make_stocked_run(code="R-0002", order="TO-2")
    assert (line_of(run, SPOOLS).to_buy, line_of(later, SPOOLS).to_buy) == (3, 6)
    ordered(later, SPOOLS)
    assert (line_of(run, SPOOLS).to_buy, line_of(later, SPOOLS).to_buy) == (0, 0)


# Goods in


def test_wares_come_in_whole(run: Run) -> None:
    purchase = ordered(run, SPOOLS, ZIPPERS)
    assert took_in(purchase, thread=3, zipper=2).is_whole
    assert wares.balances() == {SPOOLS: 3, ZIPPERS: 2}
    lines = WareMovement.objects.values_list("purchase_line__ware__key", flat=True)
    assert set(lines) == {SPOOLS, ZIPPERS}
    assert on_order() == {}
    assert not vars(purchases.purchases().get())["is_open"]
    assert line_of(run, SPOOLS).to_buy == 0


def test_part_of_it_comes_and_the_rest_stays_on_order(run: Run) -> None:
    purchase = ordered(run, SPOOLS, ZIPPERS)
    assert not took_in(purchase, thread=1).is_whole
    assert on_order() == {SPOOLS: 2, ZIPPERS: 2}
    assert took_in(purchase, thread=2, zipper=2).is_whole
    assert wares.balances()[SPOOLS] == 3


def test_cloth_comes_as_bolts_with_their_dye_lots(run: Run) -> None:
    spread(run)
    purchase = ordered(run, CLOTH, supplier=MILL)
    goods = took_in(purchase, bolt(purchase, "B-101", 4000), bolt(purchase, "B-102", 2000))
    assert [lot.code for lot in goods.lots] == ["B-101", "B-102"]
    lot = StockLot.objects.get(code="B-101")
    (moved,) = lot.movements.all()
    assert (lot.dye_lot, lot.usable_width_mm, moved.mm) == ("lot-1", 1400, 4000)
    assert moved.purchase_line == purchase.lines.get()
    assert goods.is_whole


def test_plies_that_waited_are_laid_onto_the_bolt_that_came(run: Run) -> None:
    spread(run, takes_mm=1500, plies=4)
    purchase = ordered(run, CLOTH, supplier=MILL)
    first = took_in(purchase, bolt(purchase, "B-101", 3500))
    assert cloth_waiting.in_words(first.laid) == "2 plies of R-0001-T2 are planned on B-101."
    assert line_of(run, CLOTH).to_buy == 500  # of two plies 3 m long, 2.5 m are on order
    second = took_in(purchase, bolt(purchase, "B-102", 3000, dye_lot="lot-2"), more_came=True)
    assert list(LayPly.objects.order_by("number").values_list("lot__code", "start_mm")) == [
        ("B-101", 0),
        ("B-101", 1500),
        ("B-102", 0),
        ("B-102", 1500),
    ]
    assert second.laid.apart == (("R-0001-T2", ("lot-1", "lot-2")),)
    assert "keep the jackets of each apart" in cloth_waiting.apart_words(second.laid)[0]
    assert line_of(run, CLOTH).to_buy == 0


def test_more_than_was_ordered_asks_for_a_word(run: Run) -> None:
    purchase = ordered(run, SPOOLS)
    with pytest.raises(PurchaseError, match="5 spools would have come of 3 spools") as refused:
        took_in(purchase, thread=5)
    assert refused.value.field == "more_came"
    assert wares.balances() == {}
    took_in(purchase, thread=5, more_came=True)
    assert WareMovement.objects.get().reason == "more came than was ordered"
    assert wares.balances() == {SPOOLS: 5}
    assert on_order() == {}


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({}, "Say what came"),
        ({"thread": -1}, "never less"),
        ({"thread": "1.5"}, "whole spools"),
        ({"thread": 1, "received_on": TODAY + datetime.timedelta(days=1)}, "still to come"),
    ],
)
def test_a_wrong_delivery_is_refused_and_nothing_is_booked(
    run: Run, values: dict[str, Any], words: str
) -> None:
    purchase = ordered(run, SPOOLS, ZIPPERS)
    with pytest.raises(ProductionError, match=words):
        took_in(purchase, **values)
    assert not WareMovement.objects.exists()
    assert set(PurchaseLine.objects.values_list("received", flat=True)) == {0}


def test_one_wrong_bolt_keeps_the_whole_delivery_out(run: Run) -> None:
    """All in one transaction: the first bolt is not in the book either."""
    spread(run)
    make_lot("B-102")
    purchase = ordered(run, CLOTH, supplier=MILL)
    second = bolt(purchase, "B-102", 1000)
    with pytest.raises(PurchaseError, match="B-102 is a lot of spruce already") as refused:
        took_in(purchase, bolt(purchase, "B-101", 1000), second)
    assert refused.value.field == f"{second.row}-code"
    assert not StockLot.objects.filter(code="B-101").exists()
    assert purchase.lines.get().received == 0


def test_a_bolt_for_spools_and_spools_for_cloth_are_refused(run: Run) -> None:
    purchase = ordered(run, SPOOLS)
    line = purchase.lines.get()
    with pytest.raises(PurchaseError, match="comes in no bolts"):
        took_in(purchase, Bolt("row", line.pk, "B-101", "lot-1", 3))
    spread(run)
    other = ordered(run, CLOTH, supplier=MILL)
    with pytest.raises(PurchaseError, match="comes in bolts"):
        purchases.take_in(
            other,
            came={other.lines.get().pk: Decimal(1)},
            bolts=[],
            by=None,
            seen=purchases.mark_of(other),
        )
    with pytest.raises(PurchaseError, match="not of this purchase"):
        purchases.take_in(
            other, came={line.pk: Decimal(1)}, bolts=[], by=None, seen=purchases.mark_of(other)
        )


def test_the_same_delivery_sent_twice_is_booked_once(run: Run) -> None:
    purchase = ordered(run, SPOOLS)
    seen = purchases.mark_of(purchase)
    took_in(purchase, thread=1, seen=seen)
    with pytest.raises(MovedOnError, match="same tap sent twice"):
        took_in(purchase, thread=1, seen=seen)
    assert wares.balances() == {SPOOLS: 1}


@pytest.mark.django_db(transaction=True)
def test_two_deliveries_at_once_are_booked_once(run: Run, tmp_path: Path) -> None:
    purchase = ordered(run, SPOOLS)
    seen = purchases.mark_of(purchase)

    def book() -> object:
        took_in(Purchase.objects.get(), thread=2, seen=seen)
        return wares.balances()

    found = at_once(tmp_path, [book, book])
    assert sum(isinstance(each, MovedOnError) for each in found) == 1
    assert {SPOOLS: Decimal(2)} in found


# Closing


def test_closing_takes_the_rest_off_what_is_on_order(run: Run) -> None:
    purchase = ordered(run, SPOOLS, note="by mail")
    took_in(purchase, thread=1)
    purchases.close(purchase, reason="sold out", by=make_person(), seen=purchases.mark_of(purchase))
    assert on_order() == {}
    assert wares.balances() == {SPOOLS: 1}
    assert line_of(run, SPOOLS).to_buy == 2
    purchase.refresh_from_db()
    assert purchase.note == "by mail; closed by ana: sold out"
    with pytest.raises(MovedOnError, match="is closed"):
        took_in(purchase, thread=1)


@pytest.mark.parametrize("reason", ["", "x" * 61])
def test_closing_asks_why(run: Run, reason: str) -> None:
    purchase = ordered(run, SPOOLS)
    with pytest.raises(PurchaseError, match="Say"):
        purchases.close(purchase, reason=reason, by=None, seen=purchases.mark_of(purchase))
    assert Purchase.objects.get().closed_at is None


def test_what_has_come_whole_is_not_closed(run: Run) -> None:
    purchase = ordered(run, SPOOLS)
    took_in(purchase, thread=3)
    with pytest.raises(PurchaseError, match="nothing is left to close"):
        purchases.close(purchase, reason="why", by=None, seen=purchases.mark_of(purchase))


# Cloth that lies here


def test_waiting_plies_go_onto_the_dye_lot_with_most_room(run: Run) -> None:
    plies = spread(run, takes_mm=1500, plies=4)
    make_lot("B-1", 2000, dye_lot="small")
    make_lot("B-2", 3200, dye_lot="large")
    make_lot("B-3", 1600, dye_lot="large")
    assert cloth_waiting.colors_with_room(run) == {"spruce": 3}
    laid = cloth_waiting.lay_on_hand(run, "spruce")
    assert places(laid) == [
        ("B-2", 0),
        ("B-2", 1500),
        ("B-3", 0),
    ]
    plies[3].refresh_from_db()
    assert plies[3].lot is None


def test_flaws_and_narrow_bolts_are_passed_over(run: Run) -> None:
    spread(run, takes_mm=1500, plies=2)
    lot = make_lot("B-1", 5000)
    add_flaw(lot, at_mm=1000, across_mm=0, length_mm=100, width_mm=50)
    make_lot("B-2", 5000, usable_width_mm=1300)
    laid = cloth_waiting.lay_on_hand(run, "spruce")
    assert places(laid) == [("B-1", 1100), ("B-1", 2600)]


def test_nothing_is_laid_where_nothing_fits(run: Run) -> None:
    spread(run, takes_mm=1500)
    assert cloth_waiting.lay_on_hand(run, "spruce") == cloth_waiting.LaidOn()
    make_lot("B-1", 1000)
    assert cloth_waiting.lay_on_hand(run, "spruce") == cloth_waiting.LaidOn()
    assert cloth_waiting.colors_with_room(run) == {}
    assert FabricColor.objects.count() == 2
