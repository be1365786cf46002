"""The schedule of the workroom: who does what when, so that few jackets are late, by few minutes,
with few changes of thread and foot, and every team order is ready soon; in this order.

    simple orders -> the best -> solver (OR-Tools CP-SAT), small moves -> checked -> explained

Whatever the search hands back is looked at by `floor_check` before it is believed; the best
timetable of the simple orders is there whatever happens.
"""

from __future__ import annotations

import time
from dataclasses import replace

from production.planning.timetable.floor import Floor, FloorSchedule
from production.planning.timetable.floor_aim import as_schedule, worth
from production.planning.timetable.floor_begun import beginnings, told_whole
from production.planning.timetable.floor_bounds import least
from production.planning.timetable.floor_check import faults
from production.planning.timetable.floor_choices import Table
from production.planning.timetable.floor_dispatch import after_them, pins_not_kept
from production.planning.timetable.floor_late import explained
from production.planning.timetable.floor_room import Room, prepare
from production.planning.timetable.floor_search import Best, improve, starts

#: Kept back for checking and explaining, in seconds: at least, and for each step.
KEPT, KEPT_EACH = 0.1, 0.0004
#: Share of the time for the simple orders.
STARTS_SHARE = 0.25


def schedule(floor: Floor, seconds: float = 4.0, workers: int = 2, seed: int = 1) -> FloorSchedule:
    """The best schedule found in so many seconds, building, checking and explaining included.

    `value` is the aim as one number (`floor_aim` has the weights); `bound` is proven, from the
    hours of hands and machines and, where the solver saw everything, by the solver. The same floor
    gets the same schedule as far as the clock allows: how far the search comes depends on it.
    Raises FloorError where nobody has any hours.
    """
    begun = time.perf_counter()
    whole = prepare(floor)
    room = prepare(beginnings(whole)) if whole.impossible else whole
    made = told_whole(_search(room, begun, seconds, workers, seed), whole, room)
    return replace(explained(floor, made), seconds=time.perf_counter() - begun)


def _search(room: Room, begun: float, seconds: float, workers: int, seed: int) -> FloorSchedule:
    """The better of the best simple order and of what the search makes of it, not yet explained."""
    steps = sum(len(jacket.steps) for jacket in room.floor.jackets)
    until = begun + max(seconds - KEPT - KEPT_EACH * steps, seconds / 2)
    open_room = room.only(code for code, each in room.jackets.items() if not each.blocked)
    name, start = _best_start(open_room, begun + STARTS_SHARE * seconds)
    proven = least(open_room).value
    found = _improved(open_room, start, until, workers, seed, proven)
    notes = _notes(room, found, proven)
    greedy = _finished(room, start, f"best of the simple orders: {name}", begun, proven, notes)
    if found is None:
        return greedy
    bound = max(proven, found.bound or 0)
    made = _finished(room, found.table, f"{name}, then {found.words}", begun, bound, notes)
    if wrong := faults(room.floor, made):
        note = f"The better timetable was not used: {wrong[0]}."
        return replace(greedy, notes=(*greedy.notes, note))
    return made


def _best_start(room: Room, until: float) -> tuple[str, Table]:
    if not room.jackets:
        return "nothing to do", {}
    return min(starts(room, until), key=lambda named: worth(room, named[1].values()))


def _improved(
    room: Room, start: Table, until: float, workers: int, seed: int, proven: int
) -> Best | None:
    if not start:
        return None
    return improve(room, start, until, workers, seed, proven)


def _finished(
    room: Room, table: Table, method: str, begun: float, bound: int, notes: list[str]
) -> FloorSchedule:
    """The schedule with the blocked jackets after the others."""
    whole = after_them(room, table)
    return as_schedule(
        room,
        whole,
        method=method,
        seconds=time.perf_counter() - begun,
        bound=bound,
        notes=[*pins_not_kept(room, whole), *notes],
    )


def _notes(room: Room, found: Best | None, proven: int) -> list[str]:
    notes = []
    if found is not None and found.bound is not None and found.bound > proven:
        notes.append("The bound was proven by the solver over every step.")
    else:
        notes.append(
            "The bound counts the hours of people and machines alone; the best schedule may lie "
            "well above it."
        )
    blocked = sum(bool(jacket.blocked) for jacket in room.jackets.values())
    if blocked:
        notes.append(
            f"Blocked jackets come after everything else: {blocked}. The value and its bound leave "
            "them out."
        )
    return notes
