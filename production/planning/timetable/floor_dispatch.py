"""A timetable from an order of jackets: one after the other, each takes the first places that are
left for its steps. Several simple orders are tried; the best of them starts the solver."""

from __future__ import annotations

import time
from collections.abc import Iterable, Mapping, Sequence

from production.planning.timetable.floor import Floor, FloorJacket, FloorSchedule, Held
from production.planning.timetable.floor_aim import as_schedule, missed, worth
from production.planning.timetable.floor_machines import Bench, Placed
from production.planning.timetable.floor_orders import due_or_far, simple_orders
from production.planning.timetable.floor_room import Room, StepKey, prepare

Table = tuple[Placed, ...]
Order = Sequence[str]


def dispatch(floor: Floor, order: Order | None = None) -> FloorSchedule:
    """The timetable of an order of jacket codes, or the best of some simple orders. What is in work
    goes on first, mends come before others of the same deadline unless an order is given, blocked
    jackets last of all. Nothing is proven, so there is no bound. Raises FloorError where nobody has
    any hours."""
    begun = time.perf_counter()
    room = prepare(floor)
    if order is None:
        table, method = best_start(room)
    else:
        table, method = timetable(room, order), "in the order given"
    return as_schedule(
        room,
        table,
        method=method,
        seconds=time.perf_counter() - begun,
        notes=pins_not_kept(room, table),
    )


def best_start(room: Room) -> tuple[Table, str]:
    """The best timetable of the simple orders and the name of its order."""
    by_order: dict[tuple[str, ...], str] = {}
    for name, order in simple_orders(room):
        by_order.setdefault(order, name)
    made = [(timetable(room, order), name) for order, name in by_order.items()]
    return min(made, key=lambda each: worth(room, each[0]))


def timetable(room: Room, order: Iterable[str]) -> Table:
    """Jackets with a pinned day whose day is full come first in a second try; a day that is full
    even so is not kept."""
    codes = _whole(room, order)
    table = _fill(room, codes)
    late = {placed.jacket for placed in missed(room, table)}
    if not late:
        return table
    first = sorted(late, key=lambda code: _first_day(room, code))
    again = _fill(room, [*first, *(code for code in codes if code not in late)])
    return min((again, table), key=lambda found: len(missed(room, found)))


def _first_day(room: Room, code: str) -> tuple[int, str]:
    return min(start for (jacket, _), (start, _) in room.days.items() if jacket == code), code


def after_them(room: Room, table: Mapping[StepKey, Placed]) -> Table:
    """The timetable with the jackets that it leaves out, the blocked ones, after it."""
    bench = Bench(room)
    done: dict[StepKey, Placed] = {}
    for placed in sorted(table.values(), key=lambda placed: (placed.start, placed.end)):
        bench.put(placed)
        done[placed.jacket, placed.step] = placed
    left = sorted(
        (code for code in room.jackets if (code, 0) not in done),
        key=lambda code: (due_or_far(room.jackets[code]), not room.jackets[code].mends),
    )
    if left:
        bench.close(_ends(done.values()))
    for code in left:
        for at in range(len(room.jackets[code].steps)):
            _put(room, bench, done, code, at)
    return tuple(done.values())


def _whole(room: Room, order: Iterable[str]) -> list[str]:
    """Every jacket once, in the order given and then of the floor, the blocked ones at the end."""
    codes = list(dict.fromkeys([*(code for code in order if code in room.jackets), *room.jackets]))
    return sorted(codes, key=lambda code: bool(room.jackets[code].blocked))


def _fill(room: Room, codes: Sequence[str]) -> Table:
    bench = Bench(room)
    done: dict[StepKey, Placed] = {}
    for code in codes:
        if (code, 0) in room.in_work and not room.jackets[code].blocked:
            _put(room, bench, done, code, 0)
    is_closed = False
    for code in codes:
        if room.jackets[code].blocked and not is_closed:
            bench.close(_ends(done.values()))
            is_closed = True
        for at in range(len(room.jackets[code].steps)):
            if (code, at) not in done:
                _put(room, bench, done, code, at)
    return tuple(done.values())


def _ends(table: Iterable[Placed]) -> dict[str, int]:
    """When each hand is done."""
    ends: dict[str, int] = {}
    for placed in table:
        ends[placed.hand] = max(ends.get(placed.hand, 0), placed.end)
    return ends


def _put(room: Room, bench: Bench, done: dict[StepKey, Placed], code: str, at: int) -> None:
    jacket = room.jackets[code]
    earliest = done[code, at - 1].end if at else room.clock.worked(jacket.ready_from)
    earliest = max(earliest, room.days.get((code, at), (0, 0))[0])
    placed = bench.place(code, at, earliest)
    bench.put(placed)
    done[code, at] = placed


def pins_not_kept(room: Room, table: Iterable[Placed]) -> list[str]:
    notes = []
    for placed in missed(room, table):
        jacket = room.jackets[placed.jacket]
        pin = _pin(room.floor.held, jacket, placed.step)
        notes.append(
            f"The day pinned for {jacket.code}, {pin.stage}, is not kept: there is no time left "
            "on it after what comes before."
        )
    return notes


def _pin(held: Iterable[Held], jacket: FloorJacket, at: int) -> Held:
    stage = jacket.steps[at].stage
    return next(pin for pin in held if (pin.jacket, pin.stage) == (jacket.code, stage))
