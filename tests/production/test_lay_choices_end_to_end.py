"""Small tickets through the real nesting, seconds long: what the lays keep to, and what is refused
before anything is begun. Shapes, widths and plies are invented."""

from __future__ import annotations

import sys
from dataclasses import replace
from typing import Any

import pytest

from production.planning.cutting.cutting import LayChoice, TicketToCut, lay_choices, tickets_to_cut
from production.planning.cutting.lays import asked, laid_out, validate_lay
from production.planning.nesting import solver
from production.planning.plan import PlanError
from production.planning.planner import plan_run
from production.planning.snapshot import FabricSpec, RunSnapshot
from tests.production.planning_factories import (
    make_fabric,
    make_jacket,
    make_shape,
    make_snapshot,
    make_workroom,
    rectangle,
)
from tests.production.test_cutting import OPERATIONS, Shelf

SECONDS = 4.0


def snapshot_of(fabric: FabricSpec | None = None, jackets: int = 3, **room: Any) -> RunSnapshot:
    return make_snapshot(
        jackets=tuple(make_jacket(f"J{n}", size="S") for n in range(jackets)),
        operations=OPERATIONS,
        fabrics=(fabric or make_fabric(),),
        workroom=make_workroom(**room),
    )


def choices_of(snapshot: RunSnapshot, seconds: float = SECONDS) -> tuple[LayChoice, ...]:
    """All ways to cut the spruce, each looked at as the plan would be."""
    ticket = tickets_to_cut(snapshot)[1]
    found = lay_choices(ticket, seconds, Shelf())
    for choice in found:
        assert_sound(ticket, choice)
    return found


def assert_sound(ticket: TicketToCut, choice: LayChoice) -> None:
    room = ticket.workroom
    assert not asked(ticket.lines) - laid_out(choice.lays)
    for lay in choice.lays:
        assert validate_lay(lay, ticket.shapes, ticket.fabric, room.block_gap_mm, room) == []


def turns_of(choices: tuple[LayChoice, ...]) -> set[float]:
    return {place.rotation_deg for one in choices for lay in one.lays for place in lay.placements}


def most_plies(choices: tuple[LayChoice, ...]) -> int:
    return max(lay.plies for choice in choices for lay in choice.lays)


@pytest.mark.parametrize(("nap", "turns"), [("one_way", {0.0}), ("two_way", {0.0, 180.0})])
def test_blocks_lie_as_the_nap_allows_and_along_the_stretch(nap: str, turns: set[float]) -> None:
    assert turns_of(choices_of(snapshot_of(make_fabric(nap=nap)))) <= turns


def test_only_a_block_that_is_free_on_grain_lies_across() -> None:
    """A collar that is wider than the cloth unless it is turned."""
    snapshot = snapshot_of(make_fabric(usable_width_mm=300))
    others = [shape for shape in snapshot.shapes if shape.block != "CO"]
    wide = make_shape("CO", "S", rectangle(80, 400), "single")
    collars = {
        free: replace(snapshot, shapes=(*others, replace(wide, is_free_on_grain=free)))
        for free in (True, False)
    }
    found = lay_choices(tickets_to_cut(collars[True])[0], SECONDS, Shelf())
    for choice in found:
        assert_sound(tickets_to_cut(collars[True])[0], choice)
    assert turns_of(found) <= {90.0, 270.0}
    with pytest.raises(
        PlanError, match="Block CO in size S is 400 mm wide, but Test fleece has 30"
    ):
        lay_choices(tickets_to_cut(collars[False])[0], SECONDS, Shelf())


@pytest.mark.parametrize(("fabric", "tool"), [(8, 2), (2, 8)])
def test_plies_keep_to_the_fabric_and_to_the_tool(fabric: int, tool: int) -> None:
    cloth = make_fabric(highest_plies=fabric)
    snapshot = snapshot_of(cloth, 5, tool_highest_plies=tool, table_length_mm=1300)
    assert most_plies(choices_of(snapshot)) == 2


@pytest.mark.parametrize("allowed", [0, 1])
def test_no_more_is_cut_than_the_workroom_allows(allowed: int) -> None:
    """Five jackets in lays of at most three plies."""
    cloth = make_fabric(highest_plies=3)
    snapshot = snapshot_of(cloth, 5, over_cut=allowed, table_length_mm=1300)
    ticket = tickets_to_cut(snapshot)[1]
    for choice in choices_of(snapshot):
        over = laid_out(choice.lays) - asked(ticket.lines)
        assert max(over.values(), default=0) <= allowed
        plan = plan_run(snapshot, {"spruce": choice.lays}).plan
        assert all(check.holds for check in plan.checks)
        assert bool(over) == any("kinds of piece too many" in each.detail for each in plan.checks)


@pytest.mark.parametrize(
    ("fabric", "room", "words"),
    [
        ({}, {"table_length_mm": 500}, "is 600 mm long, but the table holds 460 mm"),
        ({"highest_plies": 0}, {}, "may be cut in 0 plies. Give it 1 or more"),
        ({}, {"tool_highest_plies": 0}, "The cutting tool goes through 0 plies"),
        ({"usable_width_mm": 400}, {}, "is 500 mm wide, but Test fleece has 400 mm"),
        ({"usable_width_mm": 0}, {}, "has 0 mm of usable width. Measure the cloth"),
    ],
)
def test_what_cannot_be_cut_is_refused_by_name_before_any_plan_is_told(
    fabric: dict[str, Any], room: dict[str, Any], words: str
) -> None:
    snapshot = snapshot_of(make_fabric(**fabric), **room)
    told: list[LayChoice] = []
    with pytest.raises(PlanError, match=words):
        lay_choices(tickets_to_cut(snapshot)[1], SECONDS, Shelf(), on_better=told.append)
    assert told == []
    with pytest.raises(PlanError):
        plan_run(snapshot)


def test_without_any_cloth_on_hand_all_of_it_is_to_be_bought() -> None:
    planned = plan_run(snapshot_of())
    for use in planned.cloth.values():
        assert use.from_stock_mm == 0 < use.to_buy_mm
        assert {spread.bolt for spread in use.spreads} == {None}


def test_rows_of_a_solver_that_was_killed_say_so(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(
        solver, "COMMAND", (sys.executable, "-c", "import os; os.kill(os.getpid(), 9)")
    )
    fabric = next(each for each in choices_of(snapshot_of()) if each.aim == "fabric")
    for method, note in fabric.methods.values():
        assert method == "rows" and note.startswith(solver.KILLED)
