"""Each truth is broken on purpose in a sound plan, and only its own check must notice."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from decimal import Decimal

import pytest

from production.planning import checks
from production.planning.checks import check_plan
from production.planning.plan import CutTicket, Lay, Plan
from production.planning.planner import RunPlan, plan_run
from production.planning.snapshot import RunSnapshot
from tests.production.planning_factories import make_jacket, make_sewing, make_snapshot, moved

SNAPSHOT = make_snapshot(
    jackets=(make_jacket("J1"), make_jacket("J2"), make_jacket("J3", size="M"))
)
ALL_CHECKS = (
    "every piece of every jacket stands on exactly one cut ticket",
    "every left has its right",
    "lays cut exactly what the tickets ask",
    "no overlap, inside the width, nap kept",
    "blocks cut on the fold are symmetric",
    "fabric covers the blocks",
    "thread, zippers and elastic cover the seams",
    "minutes of jackets add up to the minutes of the run",
    "schedule is a capacity sum",
)


@pytest.fixture(scope="module")
def sound() -> RunPlan:
    return plan_run(SNAPSHOT)


def broken(
    run_plan: RunPlan,
    plan: Plan,
    minutes: Mapping[str, Mapping[str, Decimal]] | None = None,
    snapshot: RunSnapshot = SNAPSHOT,
) -> dict[str, str]:
    found = check_plan(snapshot, plan, minutes or run_plan.jacket_minutes)
    return {check.check: check.detail for check in found if not check.holds}


def with_ticket(plan: Plan, at: int, change: Callable[[CutTicket], CutTicket]) -> Plan:
    tickets = list(plan.cut_tickets)
    tickets[at] = change(tickets[at])
    return replace(plan, cut_tickets=tuple(tickets))


def with_lay(plan: Plan, at: int, change: Callable[[Lay], Lay]) -> Plan:
    return with_ticket(plan, at, lambda t: replace(t, lays=(change(t.lays[0]), *t.lays[1:])))


SPRUCE = 1  # tickets stand in the order of their color codes: oat, spruce


def test_a_sound_plan_keeps_every_truth(sound: RunPlan) -> None:
    assert tuple(check.check for check in sound.plan.checks) == ALL_CHECKS
    assert all(check.holds for check in sound.plan.checks)
    assert broken(sound, sound.plan) == {}


def test_the_pieces_check_gives_its_numbers(sound: RunPlan) -> None:
    assert sound.plan.checks[0].detail.startswith(
        "12 pieces over 2 cut tickets = 12 pieces of 3 jackets"
    )


def test_a_dropped_placement_breaks_what_the_lays_cut(sound: RunPlan) -> None:
    plan = with_lay(sound.plan, SPRUCE, lambda lay: replace(lay, placements=lay.placements[1:]))
    assert list(broken(sound, plan)) == [checks.LAYS]


def test_pieces_cut_too_many_are_shown_as_far_as_the_workroom_allows(sound: RunPlan) -> None:
    def one_more_ply(lay: Lay) -> Lay:
        return replace(lay, plies=lay.plies + 1)

    plan = with_lay(sound.plan, SPRUCE, one_more_ply)
    for allowed, is_broken in ((1, True), (2, False)):
        room = replace(SNAPSHOT.workroom, over_cut=allowed)
        snapshot = replace(SNAPSHOT, workroom=room)
        found = check_plan(snapshot, plan, sound.jacket_minutes)
        lays = next(check for check in found if check.check == checks.LAYS)
        assert lays.holds is not is_broken
        assert ("as the workroom allows: R-0001-T2 BK" in lays.detail) is not is_broken


def test_too_little_is_never_made_up_for_by_over_cutting(sound: RunPlan) -> None:
    snapshot = replace(SNAPSHOT, workroom=replace(SNAPSHOT.workroom, over_cut=9))
    plan = with_lay(sound.plan, SPRUCE, lambda lay: replace(lay, placements=lay.placements[1:]))
    assert list(broken(sound, plan, snapshot=snapshot)) == [checks.LAYS]


def test_more_plies_than_the_tool_goes_through_break_the_layout(sound: RunPlan) -> None:
    room = replace(SNAPSHOT.workroom, tool_highest_plies=1)
    plan = with_lay(sound.plan, SPRUCE, lambda lay: replace(lay, plies=2))
    found = broken(sound, plan, snapshot=replace(SNAPSHOT, workroom=room))
    assert "2 plies, the tool goes through 1" in found[checks.LAYOUT]


def test_a_doubled_placement_breaks_the_lays_and_the_layout(sound: RunPlan) -> None:
    plan = with_lay(
        sound.plan,
        SPRUCE,
        lambda lay: replace(lay, placements=(*lay.placements, lay.placements[0])),
    )
    assert list(broken(sound, plan)) == [checks.LAYS, checks.LAYOUT]


def test_a_shifted_placement_breaks_the_layout(sound: RunPlan) -> None:
    plan = with_lay(
        sound.plan,
        SPRUCE,
        lambda lay: replace(
            lay, placements=(moved(lay.placements[0], y_mm=100), *lay.placements[1:])
        ),
    )
    found = broken(sound, plan)
    assert list(found) == [checks.LAYOUT]
    assert "overlap" in found[checks.LAYOUT]


def test_a_missing_left_breaks_the_pieces_the_pairs_and_the_lays(sound: RunPlan) -> None:
    def take_a_left(ticket: CutTicket) -> CutTicket:
        first, *others = ticket.lines
        return replace(ticket, lines=(replace(first, left=first.left - 1), *others))

    found = broken(sound, with_ticket(sound.plan, SPRUCE, take_a_left))
    assert list(found) == [checks.PIECES, checks.PAIRS, checks.LAYS]
    assert found[checks.PIECES] == "FR S left spruce: jackets need 2, tickets have 1"
    assert found[checks.PAIRS] == "R-0001-T2 FR S: 1 left, 2 right"


def test_a_jacket_left_out_breaks_the_pieces(sound: RunPlan) -> None:
    plan = replace(sound.plan, jackets=sound.plan.jackets[1:])
    assert checks.PIECES in broken(sound, plan)


def test_a_single_block_written_as_a_pair_is_noticed(sound: RunPlan) -> None:
    def as_pair(ticket: CutTicket) -> CutTicket:
        first, *others = ticket.lines
        return replace(ticket, lines=(replace(first, left=1, right=1, single=0), *others))

    assert checks.PAIRS in broken(sound, with_ticket(sound.plan, 0, as_pair))


def test_a_lopsided_fold_breaks_the_symmetry(sound: RunPlan) -> None:
    def lopsided(x: float, y: float) -> tuple[float, float]:
        return (x + 0.2, y) if x > 0 and y > 0 else (x, y)

    blocks = tuple(
        replace(b, cut_outline_mm=tuple(lopsided(x, y) for x, y in b.cut_outline_mm))
        for b in sound.plan.blocks
    )
    found = broken(sound, replace(sound.plan, blocks=blocks))
    assert list(found) == [checks.FOLDS]
    assert found[checks.FOLDS].startswith("BK S: off by 0.20 mm")


def test_too_little_fabric_is_noticed(sound: RunPlan) -> None:
    plan = with_ticket(sound.plan, SPRUCE, lambda t: replace(t, fabric_needed_mm=100))
    assert "100 mm of 1400 mm width" in broken(sound, plan)[checks.FABRIC]


def test_fabric_neither_in_stock_nor_bought_is_noticed(sound: RunPlan) -> None:
    plan = with_ticket(sound.plan, SPRUCE, lambda t: replace(t, to_buy_mm=t.to_buy_mm - 1))
    assert list(broken(sound, plan)) == [checks.FABRIC]


def test_thread_shorter_than_its_seam_is_noticed(sound: RunPlan) -> None:
    threads = tuple(replace(need, metres=Decimal("0.1")) for need in sound.plan.threads)
    found = broken(sound, replace(sound.plan, threads=threads))
    assert list(found) == [checks.NEEDS]
    assert "seam: 0.2 m of thread for at least 11.4 m" in found[checks.NEEDS]  # in two colors


def test_too_few_spools_are_noticed(sound: RunPlan) -> None:
    threads = tuple(replace(need, metres=Decimal(1001), spools=1) for need in sound.plan.threads)
    assert list(broken(sound, replace(sound.plan, threads=threads))) == [checks.NEEDS]


@pytest.mark.parametrize("unit", ["piece", "m"])
def test_a_missing_notion_is_noticed(sound: RunPlan, unit: str) -> None:
    dropped = next(need for need in sound.plan.notions if need.unit == unit)
    notions = tuple(need for need in sound.plan.notions if need is not dropped)
    assert list(broken(sound, replace(sound.plan, notions=notions))) == [checks.NEEDS]


def test_a_seam_that_no_operation_sews_is_named(sound: RunPlan) -> None:
    snapshot = replace(SNAPSHOT, operations=(make_sewing("seam", "join"),))
    plan = replace(
        sound.plan, threads=tuple(need for need in sound.plan.threads if need.use == "seam")
    )
    found = broken(sound, plan, snapshot=snapshot)
    assert found[checks.NEEDS] == (
        "seam hem is sewn by no operation with a stitch type; "
        "seam zip is sewn by no operation with a stitch type"
    )


def test_lost_minutes_are_noticed(sound: RunPlan) -> None:
    minutes = {code: dict(stages) for code, stages in sound.jacket_minutes.items()}
    minutes["J1"]["sew"] -= Decimal("0.04")  # more than 0.01 for each of the 3 jackets
    assert list(broken(sound, sound.plan, minutes)) == [checks.MINUTES]
    del minutes["J1"]
    assert "jacket J1 has no minutes" in broken(sound, sound.plan, minutes)[checks.MINUTES]


def test_many_faults_are_counted_and_not_all_listed(sound: RunPlan) -> None:
    plan = replace(sound.plan, cut_tickets=())
    assert broken(sound, plan)[checks.PIECES].endswith("and 3 more")  # 8 kinds of piece


def test_the_schedule_explains_its_method(sound: RunPlan) -> None:
    detail = sound.plan.checks[-1].detail
    assert "2 people x 360 minutes" in detail
    assert "20 % of all minutes" in detail
