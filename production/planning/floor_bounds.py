"""What no timetable can beat: lower bounds from the hours of hands and machines alone.

Each asks only part of the truth (work may be cut into pieces and shared out at will), so the bound
holds for every timetable, but the best timetable may lie well above it.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from itertools import combinations

from production.planning.floor import Floor
from production.planning.floor_aim import Aim, aim_of
from production.planning.floor_capacity import Capacity, Need, first_moment, minutes_of, resources
from production.planning.floor_orders import most_on_time
from production.planning.floor_room import Room, Setting, change_minutes, setting_of


def least(room: Room) -> Aim:
    """Each part of the aim at its own bound."""
    lost = aim_of(room, ())
    alone = [(first_moment(room, j) + minutes_of(j), room.due(j)) for j in room.jackets.values()]
    over = [max(0, end - due) for end, due in alone if due is not None]
    late, minutes = sum(each > 0 for each in over), sum(over)
    ready = max((end for end, _ in alone), default=0)
    change = _least_changes(room)
    for capacity, needs in resources(room):
        dated = [need for need in needs if need.due is not None]
        late = max(late, _late_jackets(capacity, dated))
        minutes = max(minutes, _late_minutes(capacity, dated))
        total = sum(need.minutes for need in needs)
        ready = max(ready, capacity.reaches(total) + min((n.after for n in needs), default=0))
    return Aim(lost.late_jackets + late, lost.late_minutes + minutes, change, ready)


def _late_jackets(capacity: Capacity, needs: Sequence[Need]) -> int:
    works = [(n.code, n.minutes, capacity.until(n.done_by)) for n in needs]
    return len(most_on_time(works)[1])


def _late_minutes(capacity: Capacity, needs: Sequence[Need]) -> int:
    """The shortest first against the earliest due first: no order ends its i-th jacket sooner, and
    no other matching of ends with due dates is less late in all."""
    done, found = 0, 0
    for minutes, due in zip(
        sorted(n.minutes for n in needs), sorted(n.done_by for n in needs), strict=True
    ):
        done += minutes
        found += max(0, capacity.reaches(done) - due)
    return found


def _least_changes(room: Room) -> int:
    """In minutes, over all kinds of machines. Steps of no minutes are done in passing and need
    nothing on the machine."""
    settings: dict[str, set[Setting]] = {}
    users: dict[str, set[str]] = {}
    for (code, at), able in room.able.items():
        step = room.jackets[code].steps[at]
        if step.machine and step.minutes:
            settings.setdefault(step.machine, set()).add(setting_of(step))
            users.setdefault(step.machine, set()).update(able)
    return sum(
        least_changes(room.floor, found, room.shared.get(kind, len(users[kind])))
        for kind, found in settings.items()
    )


def least_changes(floor: Floor, settings: Collection[Setting], machines: int) -> int:
    """The least minutes in which so many machines of a kind can have each of these threads and feet
    on them at some time, whatever is on each at first.

    Draw a line between two settings wherever some machine goes from one to the other. Those that
    one machine has on it hang together, so there are at most as many parts as machines, every
    setting in one of them; the changes cost at least as much as the cheapest lines that leave so
    few parts. Kruskal finds these (Proc. AMS 7, 1956): the cheapest first, unless both ends hang
    together already.
    """
    part = {setting: {setting} for setting in settings}
    parts, found = len(part), 0
    lines = sorted(
        (change_minutes(floor, one, other), at, one, other)
        for at, (one, other) in enumerate(combinations(sorted(part), 2))
    )
    for minutes, _, one, other in lines:
        if parts <= machines:
            break
        if part[one] is not part[other]:
            part[one] |= part[other]
            part.update(dict.fromkeys(part[other], part[one]))
            parts, found = parts - 1, found + minutes
    return found
