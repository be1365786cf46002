"""The computation of a change after the freeze: the difference, its minutes and its money."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from decimal import Decimal
from itertools import count

from hypothesis import given, settings
from hypothesis import strategies as st

from production.planning.change_costs import cost_of_change, cost_of_work
from production.planning.changes import (
    Difference,
    HeldBlock,
    Piece,
    SparePiece,
    check_with_supplements,
    difference,
    frozen_blocks,
    left_from,
    minutes_by_stage,
    on_tickets,
    stage_after,
    wanted_blocks,
    with_cuts,
)
from production.planning.plan import Plan
from production.planning.planner import plan_run
from production.planning.snapshot import JacketSpec, RunSnapshot
from tests.production.planning_factories import make_jacket, make_snapshot, make_workroom

COLORS = ("spruce", "oat", "slate")


def planned(*jackets: JacketSpec, **values: object) -> tuple[RunSnapshot, Plan]:
    snapshot = make_snapshot(jackets=jackets, **values)
    return snapshot, plan_run(snapshot).plan


def held(jacket: JacketSpec, *, cut: bool = False) -> tuple[HeldBlock, ...]:
    snapshot, plan = planned(jacket)
    return tuple(replace(block, cut=cut) for block in frozen_blocks(jacket, snapshot, plan))


def wanted(jacket: JacketSpec) -> tuple[HeldBlock, ...]:
    return wanted_blocks(jacket, make_snapshot(jackets=(jacket,)))


def codes(blocks: tuple[HeldBlock, ...]) -> list[str]:
    return [block.block for block in blocks]


def spares(*blocks: HeldBlock) -> list[SparePiece]:
    pieces = [piece for block in blocks for piece in block.pieces]
    return [SparePiece(number, piece, "R-0001-T9") for number, piece in enumerate(pieces, 1)]


def test_another_color_of_one_block_cuts_that_block_alone():
    change = difference(
        held(make_jacket()),
        wanted(make_jacket(blocks=(("FR", "spruce"), ("BK", "spruce"), ("CO", "slate")))),
        (),
    )
    assert codes(change.kept) == ["FR", "BK"]
    assert codes(change.to_cut) == ["CO"]


def test_another_size_takes_every_block_anew():
    change = difference(held(make_jacket()), wanted(make_jacket(size="M")), ())
    assert codes(change.to_cut) == ["FR", "BK", "CO"]
    assert change.kept == ()


def test_spare_parts_serve_for_uncut_blocks_where_asked_to():
    fresh, cut = held(make_jacket()), held(make_jacket(), cut=True)
    lying = spares(*(block for block in cut if block.block != "CO"))
    assert difference(fresh, fresh, lying).from_spare == ()
    change = difference(fresh, fresh, lying, instead_of_cutting=True)
    assert codes(change.from_spare) == codes(change.withdrawn) == ["FR", "BK"]
    assert codes(change.kept) == ["CO"]
    assert change.to_cut == change.to_spare == ()
    assert difference(cut, cut, lying, instead_of_cutting=True).kept == cut


def test_cut_blocks_go_to_the_spare_parts_and_uncut_ones_are_withdrawn():
    fresh, cut = held(make_jacket()), held(make_jacket(), cut=True)
    assert codes(difference(fresh, (), ()).withdrawn) == ["FR", "BK", "CO"]
    assert difference(fresh, (), ()).to_spare == ()
    assert codes(difference(cut, (), ()).to_spare) == ["FR", "BK", "CO"]
    assert difference(cut, (), ()).withdrawn == ()


def test_spare_parts_alike_serve_before_anything_is_cut():
    gone = held(make_jacket(), cut=True)
    change = difference((), wanted(make_jacket()), spares(*gone))
    assert change.to_cut == ()
    assert codes(change.from_spare) == ["FR", "BK", "CO"]
    assert all(block.cut and block.ticket == "R-0001-T9" for block in change.from_spare)
    assert change.spares_taken == (1, 2, 3, 4)


def test_a_spare_part_of_another_size_or_color_serves_nothing():
    gone = held(make_jacket(blocks=(("FR", "slate"), ("BK", "spruce"), ("CO", "oat"))), cut=True)
    change = difference((), wanted(make_jacket(size="M")), spares(*gone))
    assert change.from_spare == ()
    change = difference((), wanted(make_jacket()), spares(*gone))
    assert codes(change.to_cut) == ["FR"]


def test_a_left_without_its_right_stays_among_the_spare_parts():
    front = held(make_jacket(), cut=True)[0]
    change = difference((), wanted(make_jacket()), spares(front)[:1])
    assert codes(change.to_cut) == ["FR", "BK", "CO"]
    assert change.spares_taken == ()


def test_one_spare_part_serves_one_jacket():
    collar = held(make_jacket(), cut=True)[2]
    lying = spares(collar)
    first = difference((), wanted(make_jacket()), lying)
    left = [spare for spare in lying if spare.number not in first.spares_taken]
    assert codes(first.from_spare) == ["CO"]
    assert difference((), wanted(make_jacket()), left).from_spare == ()


def test_a_block_is_cut_once_cutting_was_done_after_it_was_given():
    given_at_5 = held(make_jacket())
    assert not any(block.cut for block in with_cuts(given_at_5, 5, [3, 5]))
    assert all(block.cut for block in with_cuts(given_at_5, 5, [3, 6]))


def test_a_supplement_plans_only_the_blocks_to_cut():
    jacket = make_jacket(to_cut=("FR",))
    _, plan = planned(jacket)
    [ticket] = plan.cut_tickets
    assert [(line.block, line.left, line.right) for line in ticket.lines] == [("FR", 1, 1)]
    assert plan.jackets[0].blocks == {"FR": "spruce"}
    assert all(check.holds for check in plan.checks)


def test_a_supplement_with_nothing_to_cut_has_no_ticket():
    _, plan = planned(make_jacket(to_cut=()))
    assert plan.cut_tickets == ()
    assert plan.costs.fabric == 0
    assert all(check.holds for check in plan.checks)


def test_a_changed_jacket_goes_back_to_cutting_and_a_new_zipper_back_to_sewing():
    moved = Difference(to_cut=held(make_jacket()))
    assert [stage_after(stage, moved) for stage in ("cut", "sew", "hand_over")] == ["cut"] * 3
    kept = Difference(kept=held(make_jacket()))
    assert [stage_after(stage, kept) for stage in ("cut", "sew", "finish")] == ["cut", "sew", "sew"]


def test_minutes_of_kept_uncut_blocks_stay_and_new_ones_come_on_top():
    jacket = make_jacket()
    becomes = make_jacket(blocks=(("FR", "spruce"), ("BK", "spruce"), ("CO", "slate")))
    change = difference(held(jacket), wanted(becomes), ())
    before = {"cut": Decimal(40), "sew": Decimal(60), "finish": Decimal(20)}
    after = minutes_by_stage(
        before,
        change,
        {"cut": Decimal(7)},
        (make_snapshot(jackets=(jacket,)), jacket),
        (make_snapshot(jackets=(becomes,)), becomes),
    )
    # Three of the four pieces (two fronts, a back, a collar) are still to be cut: 30 of 40 minutes.
    assert after["cut"] == Decimal("37.00")
    assert after["sew"] >= before["sew"]  # the collar's thread is one more color
    assert after["finish"] == before["finish"]


def test_what_is_left_counts_from_the_stage_on():
    minutes = {"cut": Decimal(1), "sew": Decimal(20), "finish": Decimal(300)}
    assert left_from("cut", minutes) == 321
    assert left_from("finish", minutes) == 300
    assert left_from("handed_over", minutes) == 0


def test_saved_work_costs_less_than_nothing():
    costs = cost_of_work(Decimal(-30), make_workroom())  # 24.00 an hour, 20 % overhead
    assert (costs.labor, costs.overhead, costs.total) == (
        Decimal("-12.00"),
        Decimal("-2.40"),
        Decimal("-14.40"),
    )


def test_a_jacket_not_yet_sewn_needs_no_second_zipper_of_the_same_length():
    was = make_snapshot(jackets=(make_jacket(),))
    becomes = make_jacket(blocks=(("FR", "slate"), ("BK", "spruce"), ("CO", "oat")), to_cut=("FR",))
    snapshot, plan = planned(becomes)
    known = (was, make_jacket())
    early = cost_of_change(Decimal(0), snapshot, plan, known, sewn=False)
    late = cost_of_change(Decimal(0), snapshot, plan, known, sewn=True)
    new = cost_of_change(Decimal(0), snapshot, plan, None, sewn=False)
    assert (early.notions, early.thread) == (0, 0)
    assert early.total == plan.costs.fabric > 0
    assert late == new
    assert late.notions == plan.costs.notions
    assert 0 < late.thread < plan.costs.thread  # by the metre, not by whole spools


def test_another_zipper_color_is_bought():
    was = make_snapshot(jackets=(make_jacket(),))
    snapshot, plan = planned(make_jacket(zipper_color="white", to_cut=()))
    costs = cost_of_change(Decimal(0), snapshot, plan, (was, make_jacket()), sewn=False)
    assert costs.total == costs.notions == Decimal("2.00")


def test_a_lost_piece_breaks_the_check():
    pieces = Counter(piece for block in held(make_jacket()) for piece in block.pieces)
    none: Counter[Piece] = Counter()
    assert check_with_supplements(pieces, none, pieces, none).holds
    fewer = pieces - Counter({("FR", "S", "left", "spruce"): 1})
    broken = check_with_supplements(pieces, none, fewer, none)
    assert not broken.holds
    assert "FR S left spruce" in broken.detail
    assert check_with_supplements(
        pieces, none, fewer, Counter([("FR", "S", "left", "spruce")])
    ).holds
    assert not check_with_supplements(pieces, pieces, pieces, none).holds


Step = tuple[str, int, str, tuple[str, str, str]]
looks = st.tuples(*(st.sampled_from(COLORS) for _ in range(3)))
steps = st.lists(
    st.tuples(
        st.sampled_from(("add", "change", "cancel", "cut")),
        st.integers(0, 20),
        st.sampled_from("SM"),
        looks,
    ),
    max_size=14,
)


@settings(deadline=None, max_examples=80)
@given(steps=steps)
def test_whatever_is_changed_nothing_is_lost_and_every_left_has_its_right(steps: list[Step]):
    """Random changes of a small run, followed piece by piece as the services do it."""
    jackets = {n: held(make_jacket(f"J{n}", size="SM"[n % 2])) for n in range(3)}
    tickets = Counter(pieces_of(*jackets.values()))
    withdrawn: Counter[Piece] = Counter()
    lying: dict[int, SparePiece] = {}
    numbers = count(100)
    for kind, which, size, look in steps:
        if kind != "add" and not jackets:
            continue
        number = next(numbers) if kind == "add" else sorted(jackets)[which % len(jackets)]
        before = jackets.get(number, ())
        if kind == "cut":
            jackets[number] = with_cuts(before, 0, [1])
            continue
        want = make_jacket(size=size, blocks=tuple(zip(("FR", "BK", "CO"), look, strict=True)))
        change = difference(before, () if kind == "cancel" else wanted(want), lying.values())
        assert_difference_only(before, change)
        for taken in change.spares_taken:
            del lying[taken]
        for piece in pieces_of(change.to_spare):
            part = SparePiece(next(numbers), piece, "T")
            lying[part.number] = part
        tickets.update(pieces_of(change.to_cut))
        withdrawn.update(pieces_of(change.withdrawn))
        jackets[number] = change.held
        if kind == "cancel":
            del jackets[number]
        worn = Counter(pieces_of(*jackets.values()))
        spare = Counter(part.piece for part in lying.values())
        assert check_with_supplements(tickets, withdrawn, worn, spare).holds
        for counted in (tickets, withdrawn, worn, spare):
            sides = Counter(piece[2] for piece in counted.elements())
            assert sides["left"] == sides["right"]


def pieces_of(*blocks: tuple[HeldBlock, ...]) -> list[Piece]:
    return [piece for some in blocks for block in some for piece in block.pieces]


def assert_difference_only(before: tuple[HeldBlock, ...], change: Difference) -> None:
    had = {block.kind for block in before}
    assert not had & {block.kind for block in (*change.to_cut, *change.from_spare)}
    assert had == {b.kind for b in (*change.kept, *change.withdrawn, *change.to_spare)}


def test_blocks_to_cut_get_the_tickets_of_the_supplement():
    jacket = make_jacket(to_cut=("CO",))
    _, plan = planned(jacket, run="R-0001-S1")
    collar = replace(held(make_jacket())[2], ticket="")
    assert on_tickets(Difference(to_cut=(collar,)), plan).to_cut[0].ticket == "R-0001-S1-T1"
