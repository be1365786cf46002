"""Whole spools and cones for the thread that is needed, and what they cost."""

from __future__ import annotations

import math
from dataclasses import replace
from decimal import Decimal

import pytest

from production.planning.costs import cost_parts
from production.planning.plan import Labor
from production.planning.snapshot import OperationSpec, RunSnapshot, ThreadSpec
from production.planning.threads.thread import (
    SpoolNeed,
    spool_needs,
    thread_needs,
    thread_prices,
    thread_wares,
)
from production.planning.threads.thread_spools import metre_price
from tests.production.planning_factories import make_sewing, make_snapshot, make_stretch

SIDE = make_stretch("side", "join", "BK", 1000, runs=2)
NECK = make_stretch("neck", "join", "CO", 400, topstitched=True)
NO_WORK = Labor((), (), Decimal(0), Decimal(0))


def sewn(*operations: OperationSpec, **values: object) -> RunSnapshot:
    return make_snapshot(**{"seams": (SIDE,), "operations": operations, **values})


def test_spools_hold_the_metres() -> None:
    threads = (ThreadSpec("thread-spruce", "spruce", "#123456", 2, Decimal(1)),)
    (need,) = thread_needs(sewn(make_sewing("seam", "join"), threads=threads))
    assert need.spools == 3  # 4.7 m on spools of 2 m


def test_work_on_one_machine_shares_its_spools_and_each_machine_has_its_own() -> None:
    seam, topstitch = make_sewing("seam", "join"), make_sewing("topstitch", "topstitched")
    overedge = make_sewing("edge", "join", machine="serger", stitch_type="504")
    snapshot = sewn(seam, topstitch, overedge, seams=(NECK,))
    needs = thread_needs(snapshot)
    assert [(need.use, need.spools) for need in needs] == [
        ("edge", 3),
        ("seam", 1),
        ("topstitch", 1),
    ]
    whole = sum((need.metres for need in needs), Decimal(0))
    assert spool_needs(snapshot, needs) == (SpoolNeed("thread-oat", whole, 4),)  # 3 + 1


def test_bought_spools_hold_all_metres_of_a_machine() -> None:
    threads = (ThreadSpec("thread-spruce", "spruce", "#123456", 7, Decimal(1)),)
    snapshot = sewn(make_sewing("seam", "join"), make_sewing("again", "join"), threads=threads)
    needs = thread_needs(snapshot)  # twice 4.7 m
    assert [need.spools for need in needs] == [1, 1]
    assert spool_needs(snapshot, needs) == (SpoolNeed("thread-spruce", Decimal("9.4"), 2),)
    double = sewn(make_sewing("seam", "join", rows=2), make_sewing("again", "join"))
    assert spool_needs(double, thread_needs(double))[0].spools == 2  # both needles at once


ON_CONES = ThreadSpec("thread-oat", "oat", "#123456", 1000, Decimal("4.50"), 5000, Decimal("9.80"))
ON_SPOOLS = ThreadSpec("thread-oat", "oat", "#123456", 1000, Decimal("4.50"))
EDGE = make_sewing(
    "edge", "join", machine="serger", stitch_type="504", seam_width_mm=Decimal(5), takes_cones=True
)


def on_neck(*operations: OperationSpec, thread: ThreadSpec = ON_CONES) -> RunSnapshot:
    return sewn(*operations, seams=(NECK,), threads=(thread,))


def test_a_serger_takes_cones_and_a_lockstitch_spools_of_the_same_thread() -> None:
    snapshot = on_neck(make_sewing("seam", "join"), EDGE)
    (need,) = spool_needs(snapshot, thread_needs(snapshot))
    assert (need.spools, need.cones) == (1, 3)
    wares = thread_wares(snapshot, thread_needs(snapshot))
    assert [(ware.ware, ware.unit, ware.quantity) for ware in wares] == [
        ("thread:thread-oat:spool", "spool", Decimal(1)),
        ("thread:thread-oat:cone", "cone", Decimal(3)),
    ]


@pytest.mark.parametrize(("stitch_type", "cones"), [("504", 3), ("514", 4)])
def test_as_many_cones_of_one_color_stand_on_the_serger_as_it_has_threads(
    stitch_type: str, cones: int
) -> None:
    snapshot = on_neck(replace(EDGE, stitch_type=stitch_type))
    (need,) = spool_needs(snapshot, thread_needs(snapshot))
    assert (need.spools, need.cones) == (0, cones)


def test_a_thread_that_is_not_sold_on_cones_is_taken_on_spools() -> None:
    snapshot = on_neck(EDGE, thread=ON_SPOOLS)
    (need,) = spool_needs(snapshot, thread_needs(snapshot))
    assert (need.spools, need.cones) == (3, 0)


def test_an_operation_that_takes_no_cones_is_sewn_from_spools() -> None:
    snapshot = on_neck(replace(EDGE, takes_cones=False))
    (need,) = spool_needs(snapshot, thread_needs(snapshot))
    assert (need.spools, need.cones) == (3, 0)


def test_cones_hold_all_metres_of_the_machine() -> None:
    small = replace(ON_CONES, cone_m=2)
    snapshot = on_neck(EDGE, replace(EDGE, code="again"), thread=small)
    needs = thread_needs(snapshot)
    (need,) = spool_needs(snapshot, needs)
    assert need.cones == math.ceil(sum(need.metres for need in needs) / 2) > 3


def test_a_double_needle_takes_two_spools() -> None:
    snapshot = on_neck(make_sewing("hem", "join", rows=2))
    (need,) = spool_needs(snapshot, thread_needs(snapshot))
    assert need.spools == 2


def test_spools_and_cones_are_paid_for_at_their_own_price() -> None:
    snapshot = on_neck(make_sewing("seam", "join"), EDGE)
    prices = thread_prices(snapshot, thread_needs(snapshot))
    assert [(one.unit, one.quantity, one.price) for one in prices] == [
        ("spool", 1, Decimal("4.50")),
        ("cone", 3, Decimal("9.80")),
    ]
    lines = [part for part in cost_parts(snapshot, (), thread_needs(snapshot), (), NO_WORK)
             if part.line == "thread"]  # fmt: skip
    assert [part.amount for part in lines] == [Decimal("4.50"), Decimal("29.40")]


def test_a_metre_costs_less_from_the_cone() -> None:
    assert metre_price(EDGE, ON_CONES) == Decimal("9.80") / 5000
    assert metre_price(EDGE, ON_SPOOLS) == Decimal("4.50") / 1000
    assert metre_price(make_sewing("seam", "join"), ON_CONES) == Decimal("4.50") / 1000
