"""The progress line: how much of a run's work was done by the end of each day, against the even
pace that just meets the deadline and what is to be expected from here.

Work is counted in standard minutes. A jacket that is sent back to be mended loses the stages that
it has to go through again, so that the line can fall.
"""

from __future__ import annotations

import datetime
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from production.planning.schedule import ONE_DAY, working_days
from production.planning.standing import DONE, SENT_BACK, STAGES

LEVELS = (0.1, 0.5, 0.9)
#: How far ahead the picture looks at most.
MOST_DAYS = 180


@dataclass(frozen=True, slots=True)
class Doing:
    """One event of a jacket that counts, on its day."""

    jacket: str
    day: datetime.date
    kind: str
    stage: str


@dataclass(frozen=True, slots=True)
class Ahead:
    """Share of all work that is done by the end of a day at 10 %, 50 % and 90 %: with nine chances
    in ten at least `low`, with one in ten `high` or more."""

    day: datetime.date
    low: float
    even: float
    high: float


@dataclass(frozen=True, slots=True)
class Progress:
    """Shares of `total_minutes` by the end of each day: `done` until today, `pace` until the
    deadline, `fan` from today to the end."""

    total_minutes: float
    begins: datetime.date
    today: datetime.date
    deadline: datetime.date
    done: tuple[tuple[datetime.date, float], ...]
    pace: tuple[tuple[datetime.date, float], ...]
    fan: tuple[Ahead, ...]

    @property
    def done_share(self) -> float:
        return self.done[-1][1]

    @property
    def pace_share(self) -> float:
        """What the even pace would have done by the end of today."""
        return next((share for day, share in self.pace if day >= self.today), 1.0)

    @property
    def ends(self) -> datetime.date:
        """The last day that there is something to show of."""
        days = [self.deadline, self.today, *(one.day for one in self.fan)]
        return max(days)


def progress(
    standard_minutes: Mapping[str, Mapping[str, float]],
    doings: Iterable[Doing],
    *,
    begins: datetime.date,
    today: datetime.date,
    deadline: datetime.date,
    weekdays: str,
    fan: Sequence[tuple[float, ...]],
) -> Progress:
    """`standard_minutes` by jacket and stage; `doings` in the order in which they happened; `fan`
    are the shares of what is left, at LEVELS, by the end of today and of each day after it."""
    begins = min(begins, today, deadline)
    total = sum(sum(stages.values()) for stages in standard_minutes.values())
    done = _done(standard_minutes, doings, begins, today, total)
    now = done[-1][1]
    return Progress(
        total_minutes=total,
        begins=begins,
        today=today,
        deadline=deadline,
        done=done,
        pace=_pace(begins, deadline, weekdays),
        fan=_until_done(
            Ahead(today + number * ONE_DAY, *(now + (1 - now) * share for share in shares))
            for number, shares in enumerate(fan)
        ),
    )


def _done(
    standard_minutes: Mapping[str, Mapping[str, float]],
    doings: Iterable[Doing],
    begins: datetime.date,
    today: datetime.date,
    total: float,
) -> tuple[tuple[datetime.date, float], ...]:
    gained: dict[datetime.date, float] = defaultdict(float)
    reached: dict[str, set[str]] = defaultdict(set)
    for doing in doings:
        minutes = standard_minutes.get(doing.jacket)
        if minutes is None:
            continue
        day, stages = max(begins, min(doing.day, today)), reached[doing.jacket]
        if doing.kind == DONE and doing.stage not in stages:
            stages.add(doing.stage)
            gained[day] += minutes.get(doing.stage, 0.0)
        elif doing.kind == SENT_BACK:
            again = stages & set(STAGES[STAGES.index(doing.stage) :])
            stages -= again
            gained[day] -= sum(minutes.get(stage, 0.0) for stage in again)
    sofar, found = 0.0, []
    for day in _days(begins, today):
        sofar += gained[day]
        found.append((day, sofar / total if total else 1.0))
    return tuple(found)


def _pace(
    begins: datetime.date, deadline: datetime.date, weekdays: str
) -> tuple[tuple[datetime.date, float], ...]:
    """The same share on each working day from the first to the deadline."""
    days = working_days(begins, deadline, weekdays) or 1
    return tuple(
        (day, min(working_days(begins, day, weekdays) / days, 1.0))
        for day in _days(begins, deadline)
    )


def _until_done(fan: Iterable[Ahead]) -> tuple[Ahead, ...]:
    """Without the days after the one by whose end all is done for as good as certain."""
    found = []
    for one in fan:
        found.append(one)
        if one.low >= 1 - 1e-9:
            break
    return tuple(found)


def _days(first: datetime.date, last: datetime.date) -> Iterable[datetime.date]:
    return (first + number * ONE_DAY for number in range((last - first).days + 1))
