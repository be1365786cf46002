"""What hands and machines can give, and what each jacket takes of them, on the work clock."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from production.planning.timetable.floor import FloorJacket
from production.planning.timetable.floor_room import Room, StepKey

#: Later than anything.
FAR = 10**9


@dataclass(frozen=True, slots=True)
class Need:
    """What one jacket takes of a resource, in minutes, with the least that comes before and after;
    `due` on the work clock."""

    code: str
    minutes: int
    before: int
    after: int
    due: int | None

    @property
    def done_by(self) -> int:
        """The moment by which the resource must be done with it."""
        return FAR if self.due is None else self.due - self.after


@dataclass(frozen=True, slots=True)
class Capacity:
    """So many at once in each stretch (start, end, number) of the work clock."""

    stretches: tuple[tuple[int, int, int], ...]

    def until(self, work: int) -> int:
        return sum(
            (min(end, work) - start) * at_once
            for start, end, at_once in self.stretches
            if start < work
        )

    def reaches(self, minutes: int) -> int:
        """The work minute at which so many minutes can have been worked."""
        for start, end, at_once in self.stretches:
            if at_once and minutes <= (end - start) * at_once:
                return start - (-minutes // at_once)
            minutes -= (end - start) * at_once
        return self.stretches[-1][1]


def minutes_of(jacket: FloorJacket, since: int = 0) -> int:
    return sum(step.minutes for step in jacket.steps[since:])


def first_moment(room: Room, jacket: FloorJacket) -> int:
    return room.clock.worked(jacket.ready_from)


def resources(room: Room) -> Iterator[tuple[Capacity, list[Need]]]:
    """All hands; those who alone can do something; each kind of machine that is shared; with what
    is needed of each."""
    return (found for found in _resources(room) if found[1])


def _resources(room: Room) -> Iterator[tuple[Capacity, list[Need]]]:
    groups = {frozenset(room.hands), *(frozenset(able) for able in room.able.values())}
    for group in sorted(groups, key=sorted):
        needs = _needs(room, {key for key, able in room.able.items() if group.issuperset(able)})
        yield _capacity(room, group, len(group), needs), needs
    for kind, count in room.shared.items():
        at_kind = {
            (code, at) for code, at in room.able if room.jackets[code].steps[at].machine == kind
        }
        users = {hand for key in at_kind for hand in room.able[key]}
        needs = _needs(room, at_kind)
        yield _capacity(room, users, count, needs), needs


def _needs(room: Room, chosen: set[StepKey]) -> list[Need]:
    found = []
    for jacket in room.jackets.values():
        steps = [
            at
            for at, step in enumerate(jacket.steps)
            if (jacket.code, at) in chosen and step.minutes
        ]
        if steps:
            found.append(
                Need(
                    jacket.code,
                    sum(jacket.steps[at].minutes for at in steps),
                    first_moment(room, jacket) + minutes_of(jacket) - minutes_of(jacket, steps[0]),
                    minutes_of(jacket, steps[-1] + 1),
                    room.due(jacket),
                )
            )
    return found


def _capacity(room: Room, hands: Iterable[str], most: int, needs: Sequence[Need]) -> Capacity:
    """From the moment at which the first of the needs can begin."""
    since = min((need.before for need in needs), default=0)
    edges: dict[int, int] = {since: 0, room.clock.last: 0}
    for hand in hands:
        presence = room.presences[hand]
        for start, end in zip(presence.starts, presence.ends, strict=True):
            if end > since:
                edges[max(start, since)] = edges.get(max(start, since), 0) + 1
                edges[end] = edges.get(end, 0) - 1
    stretches, there = [], 0
    moments = sorted(edges)
    for start, end in pairwise(moments):
        there += edges[start]
        stretches.append((start, end, min(there, most)))
    return Capacity(tuple(stretches))
