"""Simple orders of jackets, each good for something; the best of them starts the search."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator

from production.planning.timetable.floor import FloorJacket
from production.planning.timetable.floor_capacity import FAR, minutes_of, resources
from production.planning.timetable.floor_room import Room

Named = tuple[str, tuple[str, ...]]
#: Not all hours of the narrow place can be used; with so many of a hundred some more are in time.
SHARES = (100, 96, 92, 86)


def simple_orders(room: Room) -> Iterator[Named]:
    """Orders by name. Mends come first within the same deadline in all that begin with it."""
    jackets = list(room.jackets.values())

    def by(key: Callable[[FloorJacket], object]) -> tuple[str, ...]:
        return tuple(jacket.code for jacket in sorted(jackets, key=key))  # type: ignore[arg-type]

    yield "by deadline", by(lambda j: (due_or_far(j), not j.mends))
    yield "by deadline, then threads", by(lambda j: (due_or_far(j), not j.mends, _threads(j)))
    yield "by slack", by(lambda j: (due_or_far(j) - minutes_of(j), not j.mends))
    yield "by deadline, shortest first", by(lambda j: (due_or_far(j), not j.mends, minutes_of(j)))
    yield "by deadline, longest first", by(lambda j: (due_or_far(j), not j.mends, -minutes_of(j)))
    yield (
        "by deadline, then Johnson's rule",
        by(lambda j: (due_or_far(j), not j.mends, *johnson_key(j))),
    )
    yield "shortest first", by(minutes_of)
    yield from _most_on_time(room)


def due_or_far(jacket: FloorJacket) -> int:
    return FAR if jacket.due is None else jacket.due


def _threads(jacket: FloorJacket) -> tuple[tuple[tuple[str, ...], str], ...]:
    return tuple((step.threads, step.setting) for step in jacket.steps)


def johnson_key(jacket: FloorJacket) -> tuple[int, int]:
    """Where a jacket comes by Johnson's rule for two machines (Johnson, "Optimal two- and
    three-stage production schedules", NRLQ 1, 1954): those shorter at first ascending, then the
    others descending in the last. With more steps the halves are taken as the two."""
    half = len(jacket.steps) // 2
    first = sum(step.minutes for step in jacket.steps[:half])
    last = sum(step.minutes for step in jacket.steps[len(jacket.steps) - half :])
    return (0, first) if first < last else (1, -last)


def most_on_time(jackets: Iterable[tuple[str, int, int]]) -> tuple[list[str], list[str]]:
    """Codes on time, by due date, and late ones, of (code, minutes, due) on one clock: Moore, "An n
    job, one machine sequencing algorithm", Management Science 15(1), 1968."""
    kept: list[tuple[str, int, int]] = []
    late: list[str] = []
    total = 0
    for each in sorted(jackets, key=lambda each: each[2]):
        kept.append(each)
        total += each[1]
        if total > each[2]:
            longest = max(kept, key=lambda one: one[1])
            kept.remove(longest)
            total -= longest[1]
            late.append(longest[0])
    return [code for code, _, _ in kept], late


def _most_on_time(room: Room) -> Iterator[Named]:
    """Moore's order for every resource on which jackets are late, with all or less of its hours;
    those that he gives up come last, shortest first."""
    found: dict[tuple[str, ...], str] = {}
    for capacity, needs in resources(room):
        without = [code for code in room.jackets if code not in {need.code for need in needs}]
        for share in SHARES:
            works = [
                (need.code, need.minutes, capacity.until(need.done_by) * share // 100)
                for need in needs
            ]
            on_time, late = most_on_time(works)
            late.sort(key=lambda code: minutes_of(room.jackets[code]))
            if late:
                found[*without, *on_time, *late] = f"most on time by {share} % of the hours"
    for order, name in found.items():
        yield name, order
