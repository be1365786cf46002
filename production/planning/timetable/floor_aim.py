"""What a timetable is worth as one number, and the schedule that is made of it."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass

from production.planning.timetable.floor import FloorSchedule, LateJacket, Slot
from production.planning.timetable.floor_machines import Placed
from production.planning.timetable.floor_room import Room, StepKey

#: The weights of the aim, in minutes of the work clock by which a team order is ready. One jacket
#: more that is late is never worth less than 10,000 minutes of lateness in all, a minute of
#: lateness is worth five minutes of changing, and a minute of changing 20 minutes of the last hour.
#: Our own weights; the order among them is what the workroom asks for.
LATE_JACKET, LATE_MINUTE, CHANGE_MINUTE = 1_000_000, 100, 20


@dataclass(frozen=True, slots=True)
class Aim:
    """`late_minutes` and `ready` count on the work clock, from now; `ready` adds up the last ends
    of the team orders, so that none is ready at its last minute only because others went first."""

    late_jackets: int
    late_minutes: int
    change_minutes: int
    ready: int

    @property
    def value(self) -> int:
        return (
            LATE_JACKET * self.late_jackets
            + LATE_MINUTE * self.late_minutes
            + CHANGE_MINUTE * self.change_minutes
            + self.ready
        )


def aim_of(room: Room, table: Collection[Placed]) -> Aim:
    """A jacket that nobody can do is as late as the known hours are long."""
    ready: dict[str, int] = {}
    change, orders = 0, ready_by_order(room, table)
    for placed in table:
        ready[placed.jacket] = max(ready.get(placed.jacket, 0), placed.end)
        change += placed.change
    over = (end - _due(room, code, end) for code, end in ready.items())
    late = [minutes for minutes in over if minutes > 0]
    lost = dict(room.impossible)
    for jacket in room.floor.jackets:
        if jacket.code in lost and (by := room.due(jacket)) is not None:
            late.append(max(room.clock.known - by, 1))
    return Aim(len(late), sum(late), change, sum(orders.values()))


def ready_by_order(room: Room, table: Iterable[Placed]) -> dict[str, int]:
    """The last end of each team order, on the work clock."""
    found: dict[str, int] = {}
    for placed in table:
        order = room.jackets[placed.jacket].team_order
        found[order] = max(found.get(order, 0), placed.end)
    return found


def missed(room: Room, table: Iterable[Placed]) -> list[Placed]:
    """Steps that begin after the day they are pinned to."""
    return [
        placed
        for placed in table
        if (day := room.days.get((placed.jacket, placed.step))) and placed.start >= day[1]
    ]


def worth(room: Room, table: Collection[Placed]) -> tuple[int, int]:
    """Less is better: pinned days that are not kept, then the aim."""
    return len(missed(room, table)), aim_of(room, table).value


def _due(room: Room, code: str, otherwise: int) -> int:
    due = room.due(room.jackets[code])
    return otherwise if due is None else due


def as_schedule(
    room: Room,
    table: Sequence[Placed],
    *,
    method: str,
    seconds: float,
    bound: int | None = None,
    notes: Sequence[str] = (),
) -> FloorSchedule:
    """The timetable by the wall clock. Steps that end after the known hours are left out, and their
    jackets are unplanned; `late` says of each jacket how it is late, not yet why."""
    aim = aim_of(room, table)
    slots = sorted(
        (_slot(room, placed) for placed in table if placed.end <= room.clock.known),
        key=lambda slot: (slot.start, slot.hand, slot.end, slot.jacket),
    )
    unplanned = (*room.impossible, *_out_of_hours(room, table))
    gone = {code for code, _ in unplanned}
    ready = {slot.jacket: slot.end for slot in slots if slot.jacket not in gone}
    for slot in slots:
        if slot.jacket in ready:
            ready[slot.jacket] = max(ready[slot.jacket], slot.end)
    late = tuple(
        LateJacket(jacket.code, jacket.due, ready.get(jacket.code), "")
        for jacket in room.floor.jackets
        if jacket.due is not None
        and (jacket.code in gone or ready.get(jacket.code, jacket.due) > jacket.due)
    )
    value = aim_of(room, [p for p in table if not room.jackets[p.jacket].blocked]).value
    return FloorSchedule(
        begins=room.floor.begins,
        now=room.floor.now,
        slots=tuple(slots),
        late=late,
        late_jackets=aim.late_jackets,
        late_minutes=aim.late_minutes,
        change_minutes=aim.change_minutes,
        changes=sum(placed.change > 0 for placed in table),
        ready=max((slot.end for slot in slots), default=room.floor.now),
        value=value,
        bound=bound,
        gap=None if bound is None else (value - bound) / value if value else 0.0,
        seconds=seconds,
        method=method,
        unplanned=unplanned,
        notes=(*room.notes, *notes),
    )


def _slot(room: Room, placed: Placed) -> Slot:
    jacket = room.jackets[placed.jacket]
    step = jacket.steps[placed.step]
    start, end = room.clock.begins(placed.start), room.clock.ends_at(placed.end)
    if placed.start == placed.end:  # rounded to no time at all: done with what comes before it
        pinned = [room.days[key] for key in _upto(placed) if key in room.days]
        day = max((room.clock.begins(first) for first, _ in pinned), default=0)
        start = end = max(end if placed.end else 0, day, jacket.ready_from, room.floor.now)
    return Slot(
        jacket=placed.jacket,
        step=placed.step,
        stage=step.stage,
        hand=placed.hand,
        machine=step.machine,
        start=start,
        end=end,
        change_minutes=placed.change,
        is_held=(placed.jacket, placed.step) in room.held,
        unit=placed.unit,
    )


def _upto(placed: Placed) -> Iterator[StepKey]:
    return ((placed.jacket, at) for at in range(placed.step + 1))


def _out_of_hours(room: Room, table: Iterable[Placed]) -> list[tuple[str, str]]:
    from production.planning.timetable.floor_words import moment_words

    known = room.clock.known
    codes = dict.fromkeys(placed.jacket for placed in table if placed.end > known)
    until = moment_words(room.floor.begins, room.clock.ends_at(known))
    return [
        (code, f"It is not finished when the hours that are known run out, {until}.")
        for code in codes
    ]
