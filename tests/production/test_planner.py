from __future__ import annotations

from collections import Counter
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from production.planning.plan import PlanError
from production.planning.planner import plan_run
from production.planning.snapshot import BlockShape, JacketSpec, RunSnapshot
from tests.production.planning_factories import (
    jacket_seams,
    l_shape,
    make_bolt,
    make_fabric,
    make_jacket,
    make_shape,
    make_snapshot,
    make_workroom,
    rectangle,
)


def test_the_plan_of_one_jacket_can_be_followed_on_paper() -> None:
    # On 1400 mm: the back 500, fronts 280 + 280 with gaps of 4 mm are 1068 wide and 600 deep.
    plan = plan_run(make_snapshot()).plan
    oat, spruce = plan.cut_tickets
    assert (oat.ticket, oat.fabric_color) == ("R-0001-T1", "oat")
    assert (spruce.ticket, spruce.fabric_color) == ("R-0001-T2", "spruce")
    (lay,) = spruce.lays
    assert (lay.lay, lay.plies, lay.length_mm) == ("R-0001-T2-L1", 1, 600)
    assert spruce.fabric_needed_mm == 654  # (600 + 40) / 0.98 = 653.06
    assert spruce.to_buy_mm == 654
    assert plan.team_orders == ("TO-1",)
    assert plan.schema == 1


def test_stock_is_used_before_cloth_is_bought() -> None:
    # A bolt that is too short for the one jacket gives nothing: no jacket is cut from two lots.
    bolts = (make_bolt("B-1", "spruce", 600), make_bolt("B-2", "oat", 99_000))
    oat, spruce = plan_run(make_snapshot(bolts=bolts)).plan.cut_tickets
    assert (spruce.from_stock_mm, spruce.to_buy_mm) == (0, 654)
    assert (oat.from_stock_mm, oat.to_buy_mm) == (oat.fabric_needed_mm, 0)


def test_only_blocks_that_are_cut_are_in_the_plan() -> None:
    plan = plan_run(make_snapshot()).plan
    assert [(b.block, b.size) for b in plan.blocks] == [("FR", "S"), ("BK", "S"), ("CO", "S")]


def test_jackets_keep_their_own_colors_in_the_plan() -> None:
    own = (("FR", "oat"), ("BK", "spruce"), ("CO", "spruce"))
    (jacket,) = plan_run(make_snapshot(jackets=(make_jacket(blocks=own),))).plan.jackets
    assert jacket.blocks == {"FR": "oat", "BK": "spruce", "CO": "spruce"}


def test_a_block_too_wide_for_its_cloth_stops_the_plan() -> None:
    snapshot = make_snapshot(fabrics=(make_fabric(usable_width_mm=450),))
    with pytest.raises(PlanError, match="BK in size S is 500 mm wide"):
        plan_run(snapshot)


def test_a_fold_that_is_not_symmetric_is_told() -> None:
    shapes = tuple(replace(shape, pairing="fold") for shape in make_snapshot().shapes)
    checks = plan_run(make_snapshot(shapes=shapes)).plan.checks
    assert [check.check for check in checks if not check.holds] == [
        "blocks cut on the fold are symmetric"
    ]


COLORS = ("spruce", "oat", "slate")
BLOCKS = ("FR", "BK", "CO")


@st.composite
def shapes(draw: st.DrawFn) -> tuple[BlockShape, ...]:
    found = []
    for block in BLOCKS:
        pairing = draw(st.sampled_from(("pair", "single", "fold")))
        outline = rectangle if pairing == "fold" else draw(st.sampled_from((rectangle, l_shape)))
        for size in "SM":
            depth_mm, breadth_mm = draw(st.floats(120, 900)), draw(st.floats(90, 700))
            found.append(make_shape(block, size, outline(depth_mm, breadth_mm), pairing))
    return tuple(found)


@st.composite
def jackets(draw: st.DrawFn) -> tuple[JacketSpec, ...]:
    """Members of both sizes, who chose their own colors, threads and zippers."""
    color = st.sampled_from(COLORS)
    values: list[dict[str, Any]] = draw(
        st.lists(
            st.fixed_dictionaries(
                {
                    "size": st.sampled_from("SM"),
                    "blocks": st.tuples(*(st.tuples(st.just(block), color) for block in BLOCKS)),
                    "zipper_color": st.sampled_from(("black", "white")),
                    "topstitch_thread": st.sampled_from((None, "thread-red", "thread-oat")),
                }
            ),
            min_size=1,
            max_size=25,
        )
    )
    return tuple(make_jacket(f"J{n}", **each) for n, each in enumerate(values))


@st.composite
def snapshots(draw: st.DrawFn) -> RunSnapshot:
    return make_snapshot(
        jackets=draw(jackets()),
        shapes=draw(shapes()),
        seams=jacket_seams("S") + jacket_seams("M"),
        fabrics=(
            make_fabric(
                usable_width_mm=draw(st.integers(700, 1600)),
                highest_plies=draw(st.integers(1, 20)),
            ),
        ),
        workroom=make_workroom(
            table_length_mm=draw(st.integers(940, 6000)), block_gap_mm=draw(st.integers(0, 15))
        ),
    )


@settings(deadline=None, max_examples=60)
@given(snapshots())
def test_any_roster_keeps_every_truth(snapshot: RunSnapshot) -> None:
    planned = plan_run(snapshot)
    assert [check for check in planned.plan.checks if not check.holds] == []
    per_jacket = Counter(piece.jacket for piece in planned.pieces)
    assert sum(per_jacket.values()) == sum(
        lay.plies * len(lay.placements) for t in planned.plan.cut_tickets for lay in t.lays
    )
    assert per_jacket.keys() == {jacket.code for jacket in snapshot.jackets}


@settings(deadline=None, max_examples=30)
@given(snapshots())
def test_a_lay_lies_between_its_lower_bound_and_plain_rows(snapshot: RunSnapshot) -> None:
    for ticket in plan_run(snapshot).plan.cut_tickets:
        for lay in ticket.lays:
            assert lay.lower_bound_mm <= lay.length_mm + 1e-6
            assert lay.length_mm <= lay.box_rows_mm + 1e-6
            assert lay.efficiency == pytest.approx(lay.lower_bound_mm / lay.length_mm)


@settings(deadline=None, max_examples=30)
@given(snapshots(), st.randoms(use_true_random=False))
def test_the_order_of_the_roster_changes_no_cloth_thread_or_notion(
    snapshot: RunSnapshot, random: Any
) -> None:
    shuffled = list(snapshot.jackets)
    random.shuffle(shuffled)
    one = plan_run(snapshot).plan
    other = plan_run(replace(snapshot, jackets=tuple(shuffled))).plan
    assert one.cut_tickets == other.cut_tickets
    assert one.threads == other.threads
    assert one.notions == other.notions
    assert one.costs == other.costs


@settings(deadline=None, max_examples=10)
@given(snapshots())
def test_the_same_snapshot_gives_the_same_plan(snapshot: RunSnapshot) -> None:
    assert plan_run(snapshot) == plan_run(snapshot)
