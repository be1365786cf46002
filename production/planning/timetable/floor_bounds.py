"""What no timetable can beat: lower bounds from the hours of hands and machines alone.

Each asks only part of the truth (work may be cut into pieces and shared out at will), so the bound
holds for every timetable, but the best timetable may lie well above it.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from itertools import accumulate, combinations

from production.planning.timetable.floor import Floor
from production.planning.timetable.floor_aim import Aim, aim_of
from production.planning.timetable.floor_capacity import (
    Capacity,
    Need,
    first_moment,
    minutes_of,
    resources,
)
from production.planning.timetable.floor_orders import most_on_time
from production.planning.timetable.floor_room import Room, Setting, change_minutes, setting_of


def least(room: Room) -> Aim:
    """Each part of the aim at its own bound."""
    lost = aim_of(room, ())
    over: list[int] = []
    ready: dict[str, int] = {}
    for jacket in room.jackets.values():
        end, due = first_moment(room, jacket) + minutes_of(jacket), room.due(jacket)
        ready[jacket.team_order] = max(ready.get(jacket.team_order, 0), end)
        over += [max(0, end - due)] if due is not None else []
    late, minutes = sum(each > 0 for each in over), sum(over)
    change, together = _least_changes(room), sum(ready.values())
    for capacity, needs in resources(room):
        dated = [need for need in needs if need.due is not None]
        late = max(late, _late_jackets(capacity, dated))
        minutes = max(minutes, _late_minutes(capacity, dated))
        together = max(together, _last_ends(room, capacity, needs, ready))
    return Aim(lost.late_jackets + late, lost.late_minutes + minutes, change, together)


def _last_ends(
    room: Room, capacity: Capacity, needs: Sequence[Need], alone: Mapping[str, int]
) -> int:
    """The last ends of all team orders, added up, where one resource does their work. By the k-th
    end the work of k orders is done, so at least that of the k with the least; orders that do not
    need the resource end no sooner than they do alone."""
    work: dict[str, int] = {}
    for need in needs:
        order = room.jackets[need.code].team_order
        work[order] = work.get(order, 0) + need.minutes
    after = min((need.after for need in needs), default=0)
    found = sum(end for order, end in alone.items() if order not in work)
    return found + sum(capacity.reaches(done) + after for done in accumulate(sorted(work.values())))


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
