"""Jackets alike taken as one bundle that goes through the workroom together, which makes a large
floor small enough for the solver, and the timetable of bundles given back to their jackets."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import replace

from production.planning.timetable.floor import Floor, FloorJacket
from production.planning.timetable.floor_machines import Placed
from production.planning.timetable.floor_room import Room, StepKey


def bundled(
    room: Room, order: Sequence[str], most: int
) -> tuple[Floor, dict[str, tuple[str, ...]]]:
    """The floor with at most `most` jackets in a bundle, by the order given, and the codes in each
    bundle by the code of its first. What is pinned, in work or blocked stays by itself."""
    groups: dict[object, list[FloorJacket]] = defaultdict(list)
    pinned = {pin.jacket for pin in room.floor.held}
    for code in order:
        jacket = room.jackets[code]
        is_alone = code in pinned or jacket.in_work_by or jacket.blocked
        groups[code if is_alone else _alike(jacket)].append(jacket)
    bundles: dict[str, tuple[str, ...]] = {}
    jackets = []
    for group in groups.values():
        for at in range(0, len(group), most):
            bundle = group[at : at + most]
            bundles[bundle[0].code] = tuple(jacket.code for jacket in bundle)
            jackets.append(_as_one(bundle))
    return replace(room.floor, jackets=tuple(jackets)), bundles


def _alike(jacket: FloorJacket) -> object:
    steps = tuple((s.stage, s.machine, s.skills, s.threads, s.setting) for s in jacket.steps)
    return jacket.team_order, jacket.due, jacket.ready_from, jacket.mends, steps


def _as_one(bundle: Sequence[FloorJacket]) -> FloorJacket:
    minutes = [sum(steps) for steps in zip(*(_minutes(j) for j in bundle), strict=True)]
    first = bundle[0]
    steps = (replace(s, minutes=m) for s, m in zip(first.steps, minutes, strict=True))
    return replace(first, steps=tuple(steps))


def _minutes(jacket: FloorJacket) -> list[int]:
    return [step.minutes for step in jacket.steps]


def given_back(
    room: Room, table: Mapping[StepKey, Placed], bundles: Mapping[str, tuple[str, ...]]
) -> dict[StepKey, Placed]:
    """Within a bundle one jacket after the other, each step by the hand and machine of the
    bundle's. Their order counts, not yet their moments: `settle` gives those."""
    found = {}
    for (code, at), placed in table.items():
        start = placed.start
        for number, each in enumerate(bundles[code]):
            end = start + room.jackets[each].steps[at].minutes + placed.change * (number == 0)
            found[each, at] = replace(placed, jacket=each, start=start, end=end)
            start = end
    return found
