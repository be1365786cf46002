"""When somebody works: a week, days off and extra hours as stretches of the wall clock."""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from production.planning.timetable.floor import DAY
from production.planning.timetable.floor_clock import Stretch, joined

ONE_DAY = datetime.timedelta(days=1)


@dataclass(frozen=True, slots=True)
class WeekSpell:
    """From `start` to `end`, in minutes of the day, on a weekday; 1 is Monday."""

    weekday: int
    start: int
    end: int


@dataclass(frozen=True, slots=True)
class ExtraSpell:
    day: datetime.date
    start: int
    end: int


#: First and last day.
Days = tuple[datetime.date, datetime.date]


def spells_of(
    week: Iterable[WeekSpell],
    days_off: Sequence[Days],
    extra: Iterable[ExtraSpell],
    begins: datetime.date,
    days: int,
) -> tuple[Stretch, ...]:
    """The stretches of so many days from `begins` on, in minutes since its midnight, ascending and
    apart: overlapping ones are one. Extra hours count on a day off too."""
    found = [
        (at * DAY + spell.start, at * DAY + spell.end)
        for spell in week
        for at in range((spell.weekday - begins.isoweekday()) % 7, days, 7)
        if not is_off(begins + at * ONE_DAY, days_off)
    ]
    for spell in extra:
        at = (spell.day - begins).days
        if 0 <= at < days:
            found.append((at * DAY + spell.start, at * DAY + spell.end))
    return tuple(joined(found, since=0))


def is_off(day: datetime.date, days_off: Iterable[Days]) -> bool:
    return any(first <= day <= last for first, last in days_off)


def from_now(spells: Iterable[Stretch], now: int) -> tuple[Stretch, ...]:
    """What is left of them."""
    return tuple(joined(spells, since=now))


def minutes_between(spells: Iterable[Stretch], start: int, end: int) -> int:
    """Minutes of the stretches that lie between two moments."""
    return sum(max(min(last, end) - max(first, start), 0) for first, last in spells)
