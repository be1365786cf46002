"""Jackets of which somebody can do the first steps but nobody a later one: they are planned as far
as they come, so that nobody stands idle, and told as unplanned."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from production.planning.timetable.floor import Floor, FloorJacket, FloorSchedule, LateJacket
from production.planning.timetable.floor_aim import Aim, aim_of
from production.planning.timetable.floor_room import Room


def beginnings(room: Room) -> Floor:
    """The floor with those jackets cut off before what nobody can do, their deadlines gone, since
    they are late in any case."""
    reached = dict(room.impossible)
    return replace(
        room.floor,
        jackets=tuple(
            _beginning(room, jacket) if jacket.code in reached else jacket
            for jacket in room.floor.jackets
        ),
    )


def _beginning(room: Room, jacket: FloorJacket) -> FloorJacket:
    able = room.first_missing(jacket)
    return replace(jacket, steps=jacket.steps[:able], due=None) if able else jacket


def told_whole(made: FloorSchedule, whole: Room, cut: Room) -> FloorSchedule:
    """The schedule of the beginnings, with their jackets late and unplanned as `whole` has them."""
    there = dict(made.unplanned)
    lost = [(code, words) for code, words in whole.impossible if code not in there]
    if not lost:
        return made
    before, after = aim_of(cut, ()), aim_of(whole, ())
    more = Aim(
        after.late_jackets - before.late_jackets, after.late_minutes - before.late_minutes, 0, 0
    )
    value = made.value + more.value
    bound = None if made.bound is None else made.bound + more.value
    return replace(
        made,
        unplanned=(*lost, *made.unplanned),
        late=(*made.late, *_late(whole, [code for code, _ in lost])),
        late_jackets=made.late_jackets + more.late_jackets,
        late_minutes=made.late_minutes + more.late_minutes,
        value=value,
        bound=bound,
        gap=None if bound is None else (value - bound) / value if value else 0.0,
    )


def _late(room: Room, codes: Iterable[str]) -> list[LateJacket]:
    jackets = {jacket.code: jacket for jacket in room.floor.jackets}
    return [
        LateJacket(code, due, None, "") for code in codes if (due := jackets[code].due) is not None
    ]
