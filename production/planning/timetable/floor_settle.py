"""A timetable moved up: everything as early as it can, in the same order on every hand and
machine, with the exact hours of each hand."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import replace

from production.planning.timetable.floor_clock import MOST_AWAY
from production.planning.timetable.floor_machines import Placed
from production.planning.timetable.floor_room import Room, Setting, StepKey, setting_of


def settle(room: Room, table: Mapping[StepKey, Placed]) -> dict[StepKey, Placed]:
    """No step ends later than before, and changes are those of the order on each machine."""
    hand_ends: dict[str, int] = defaultdict(int)
    unit_ends: dict[tuple[str, int | str], int] = defaultdict(int)
    on_unit: dict[tuple[str, int | str], Setting] = {}
    done: dict[StepKey, Placed] = {}
    for placed in sorted(table.values(), key=_when):
        code, at, hand, number = placed.jacket, placed.step, placed.hand, placed.unit
        step = room.jackets[code].steps[at]
        if step.machine in room.shared and step.machine not in room.changing:
            # Nothing is ever changed there: any free machine will do.
            units = range(1, room.shared[step.machine] + 1)
            number = min(units, key=lambda unit: unit_ends[step.machine, unit])
        earliest = (
            done[code, at - 1].end if at else room.clock.worked(room.jackets[code].ready_from)
        )
        earliest = max(earliest, hand_ends[hand], room.days.get((code, at), (0, 0))[0])
        change, unit = 0, (step.machine, number or hand)
        if step.machine:
            earliest = max(earliest, unit_ends[unit])
            change = room.change(on_unit.get(unit), step)
        most_away = MOST_AWAY if number else None
        start, end = room.presences[hand].fit(earliest, step.minutes + change, most_away)
        if end > start:
            hand_ends[hand] = unit_ends[unit] = end
            on_unit[unit] = setting_of(step)
        done[code, at] = replace(placed, unit=number, start=start, end=end, change=change)
    return done


def _when(placed: Placed) -> tuple[int, int, str, int]:
    return placed.start, placed.end, placed.jacket, placed.step
