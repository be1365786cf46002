"""Jackets that cannot go on, and why. Quantities are those of the small jacket: a zipper each."""

from __future__ import annotations

import datetime
from decimal import Decimal
from math import ceil
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from patterns.models import FabricColor, PatternSize, Supplier
from production.glance.blocked import blocked_words
from production.models import LayPly, Purchase, PurchaseLine, Run, StockLot
from production.planning.cutting.lays import ply_pieces
from production.planning.supplies.jacket_wares import jacket_wares
from production.planning.threads.thread import thread_needs
from production.reporting.cut_counts import planned_lay, stored_plies
from production.reporting.missing import Missing, report_missing
from production.services import load_snapshot
from production.stock import wares
from production.stock.ware_catalog import ware_for
from production.tracking import record
from tests.production.planning_factories import make_jacket, make_snapshot
from tests.production.report_factories import make_cut_run
from tests.production.run_factories import make_run, make_team_order
from tests.production.shopping_factories import put_on_shelf

pytestmark = pytest.mark.django_db

ZIPPERS, SPOOLS = "zipper:black:600", "thread:thread-spruce:spool"
SOON = datetime.date(2027, 1, 15)


def at_sewing(run: Run) -> None:
    for jacket in run.jackets.all():
        record(jacket.code, "done", "cut", by=None)


def make_run_of_s(jackets: int, code: str = "R-0001", order: str = "TO-1", **values: Any) -> Run:
    """Each takes the zipper of 60 cm."""
    made = make_team_order(order, jackets=jackets, state="in_production", **values)
    made.jacket_orders.update(size=PatternSize.objects.get(code="S"))
    return make_run(code=code, order=made)


def words(run: Run) -> dict[str, str]:
    return blocked_words(run.jackets.all())


def test_what_jackets_take_adds_up_to_what_the_run_needs():
    snapshot = make_snapshot(
        jackets=(make_jacket("J1"), make_jacket("J2", size="M"), make_jacket("J3"))
    )
    found = jacket_wares([snapshot])

    assert found.takes["J1"] == found.takes["J3"]
    assert found.takes["J1"][ZIPPERS] == 1
    assert found.takes["J2"]["zipper:black:650"] == 1
    # 2 pieces of 200 mm x 0.9 + 20 mm.
    assert found.takes["J1"]["elastic:cuff"] == Decimal("0.4")
    planned = sum(need.metres for need in thread_needs(snapshot))
    taken = sum(
        quantity for own in found.takes.values() for key, quantity in own.items() if "thread" in key
    )
    # The plan rounds each use up to 0.1 m.
    assert planned - Decimal(1) < taken <= planned
    assert found.kinds[SPOOLS].holds == 1000


def test_nothing_blocks_where_no_book_of_the_shelf_is_kept():
    run = make_run(2)
    at_sewing(run)
    assert words(run) == {}


def test_zippers_go_to_the_earlier_deadline_and_then_to_the_older_jacket():
    late = make_run_of_s(2)
    early = make_run_of_s(1, "R-0002", "TO-2", deadline=SOON)
    for run in (late, early):
        at_sewing(run)
    put_on_shelf(ZIPPERS, 2)

    assert words(early) == {}
    assert words(late) == {
        "TO-1-02": "no separating zipper 60 cm, black: 1 there, 2 needed; not ordered"
    }


def test_who_is_sewn_has_used_theirs_and_who_is_sent_back_needs_no_second_one():
    run = make_run_of_s(4)
    at_sewing(run)
    put_on_shelf(ZIPPERS, 3)
    wares.take(ware_for(ZIPPERS), run=run, quantity=Decimal(2), by=None)
    assert list(words(run)) == ["TO-1-04"]

    record("TO-1-03", "done", "sew", by=None)
    record("TO-1-03", "send_back", "sew", by=None, reason="the zipper waves")
    assert words(run) == {
        "TO-1-04": "no separating zipper 60 cm, black: 2 there, 3 needed; not ordered"
    }

    record("TO-1-03", "undo", "sew", by=None)
    record("TO-1-03", "undo", "sew", by=None)
    assert words(run) == {
        "TO-1-04": "no separating zipper 60 cm, black: 3 there, 4 needed; not ordered"
    }


def test_a_jacket_that_waits_for_a_piece_leaves_the_wares_to_those_that_can_be_sewn():
    run = make_cut_run(3)  # 01 and 03 are of size S and take this zipper
    run.jackets.update(stage="sew")
    put_on_shelf(ZIPPERS, 1)
    report_missing(Missing("TO-1-01", "CO", "single", "a hole"), None)

    assert list(words(run)) == ["TO-1-01"]
    run.jackets.filter(code="TO-1-01").update(in_work=True)
    assert sorted(words(run)) == ["TO-1-01", "TO-1-03"]


def test_who_is_in_work_has_it_in_hand():
    run = make_run_of_s(2)
    at_sewing(run)
    put_on_shelf(ZIPPERS, 1)
    record("TO-1-02", "start", "sew", by=None)
    assert list(words(run)) == ["TO-1-01"]


def test_what_was_sewn_without_being_taken_is_gone_from_the_shelf_until_it_is_counted():
    run = make_run_of_s(3)
    at_sewing(run)
    put_on_shelf(ZIPPERS, 2)
    record("TO-1-01", "done", "sew", by=None)
    assert list(words(run)) == ["TO-1-03"]

    wares.count(ware_for(ZIPPERS), quantity=Decimal(1), reason="one is left", by=None)
    assert words(run) == {
        "TO-1-03": "no separating zipper 60 cm, black: 1 there, 2 needed; not ordered"
    }


def test_thread_counts_in_metres_and_not_in_spools():
    run = make_run_of_s(3)
    at_sewing(run)
    each = jacket_wares([load_snapshot(run)]).takes["TO-1-01"][SPOOLS]
    assert 10 < each < 100
    put_on_shelf(SPOOLS, 1)
    assert words(run) == {}

    # A spool that holds the thread of two jackets and a half, as it was frozen.
    for thread in run.snapshot["threads"]:
        thread["spool_m"] = int(each * Decimal("2.5"))
    run.created_at += datetime.timedelta(seconds=1)  # another run, as far as memory goes
    run.save()
    holds = int(each * Decimal("2.5"))
    assert words(run) == {
        "TO-1-03": f"no thread spruce, spool: {holds} m there, {ceil(3 * each)} m needed; "
        "not ordered"
    }


def test_a_purchase_on_the_way_is_named():
    run = make_run_of_s(1)
    at_sewing(run)
    ware = put_on_shelf(ZIPPERS, 1)
    wares.count(ware, quantity=Decimal(0), reason="lost", by=None)
    today = timezone.localdate()
    purchase = Purchase.objects.create(
        code="P-0001",
        supplier=Supplier.objects.create(name="Harbor Haberdashery"),
        ordered_on=today,
        expected_on=today,
    )
    PurchaseLine.objects.create(purchase=purchase, ware=ware, quantity=5, price=10)
    assert words(run)["TO-1-01"].endswith("0 there, 1 needed; ordered with P-0001")


def test_to_be_cut_only_cloth_to_buy_and_missing_pieces_block():
    run = make_cut_run(3)
    assert words(run) == {}  # No ply is stored yet.

    oat = FabricColor.objects.get(code="oat")
    for lay in run.cut_tickets.get(fabric_color=oat).lays.all():
        stored_plies(lay)
    why = f"no cloth yet for CO: {oat.name}, {oat.fabric.name}; not ordered"
    assert words(run) == {f"TO-1-0{number}": why for number in (1, 2, 3)}

    bolt = StockLot.objects.get(code="B-OAT")
    first = LayPly.objects.filter(lay__ticket__fabric_color=oat).order_by("pk")[0]
    first.lay.placements = first.lay.placements[:-1]  # as if another lay cut one of them
    first.lay.save()
    yields = ply_pieces(planned_lay(first.lay), 1)
    assert sum(yields.values()) == 2
    first.lot, first.start_mm = bolt, 0
    first.save()
    LayPly.objects.create(lay=first.lay, number=2, takes_mm=500)
    assert len(words(run)) == 1

    LayPly.objects.update(lot=bolt, start_mm=0)
    assert words(run) == {}


def test_a_missing_piece_blocks_at_every_stage():
    run = make_cut_run(2, cut=(1,))
    report_missing(Missing("TO-1-01", "CO", "single", "a hole"), None)
    assert words(run) == {"TO-1-01": "waits for block CO (no recut ticket yet)"}


def test_as_many_queries_for_many_jackets_as_for_few():
    counts = []
    for number, jackets in enumerate((2, 8), start=1):
        run = make_run_of_s(jackets, f"R-000{number}", f"TO-{number}")
        at_sewing(run)
        put_on_shelf(ZIPPERS, 1)
        words(run)
        with CaptureQueriesContext(connection) as asked:
            assert words(run)
        counts.append(len(asked))
        run.jackets.update(cancelled_at=timezone.now())
    assert counts[0] == counts[1]
