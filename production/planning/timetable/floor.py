"""What is left to do in the workroom, by whom and at which machines: the frozen picture that the
schedule and the forecast are computed from.

Moments are whole minutes of the wall clock since midnight of the day that the picture begins on:
1440 x days + minutes of the day. Time changes are left out, an hour in a year.
"""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import dataclass

DAY = 1440


@dataclass(frozen=True, slots=True)
class Step:
    """Work on one jacket that one person does at one machine without leaving it.

    `minutes` are whole, with allowance; `machine` is the kind of machine ('' for none); `skills`
    are all needed. `threads` are the thread colors that must be on the machine, in their order, and
    `setting` its presser foot: another step at the same machine needs a change where they differ.
    """

    stage: str
    minutes: int
    machine: str = ""
    skills: tuple[str, ...] = ()
    threads: tuple[str, ...] = ()
    setting: str = ""
    #: Operations by code, for the words on the list of the day.
    operations: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class FloorJacket:
    """A jacket with the steps that are left, in their order. `due` is the moment by which it must
    be ready (end of the deadline's day), None for no deadline; `ready_from` the moment before which
    nothing can be done on it. `blocked` says what it waits for; a blocked jacket is planned last.
    `in_work_by` is who has its first step in hand."""

    code: str
    run: str
    team_order: str
    size: str
    due: int | None
    steps: tuple[Step, ...]
    ready_from: int = 0
    blocked: str = ""
    mends: bool = False
    in_work_by: str = ""


@dataclass(frozen=True, slots=True)
class Hand:
    """A person who works: `spells` are the stretches (start, end) in which they do, ascending and
    apart, from now to the horizon."""

    key: str
    name: str
    stages: tuple[str, ...]
    skills: tuple[str, ...]
    spells: tuple[tuple[int, int], ...]

    def can_do(self, step: Step) -> bool:
        return step.stage in self.stages and set(step.skills) <= set(self.skills)


@dataclass(frozen=True, slots=True)
class Held:
    """A pin: who does a stage of a jacket (the key of a hand, '' for anyone), and the day (in days
    from the beginning) on which it is begun."""

    jacket: str
    stage: str
    hand: str = ""
    day: int | None = None


@dataclass(frozen=True, slots=True)
class Floor:
    """Everything at the moment `now`. `machines` counts those of each kind; a kind that is not
    named there is never the narrow place. `thread_change`, `setting_change` are minutes."""

    begins: datetime.date
    now: int
    jackets: tuple[FloorJacket, ...]
    hands: tuple[Hand, ...]
    machines: Mapping[str, int]
    held: tuple[Held, ...] = ()
    thread_change: int = 3
    setting_change: int = 1


@dataclass(frozen=True, slots=True)
class Slot:
    """A step in the schedule. `step` counts within `FloorJacket.steps`; from `start` to `end` by
    the wall clock, breaks between spells included; `change_minutes` of it go into changing thread
    and foot before it."""

    jacket: str
    step: int
    stage: str
    hand: str
    machine: str
    start: int
    end: int
    change_minutes: int = 0
    is_held: bool = False
    #: Which of the machines of its kind, from 1, where people share them; else 0, their own.
    unit: int = 0


@dataclass(frozen=True, slots=True)
class LateJacket:
    """`why` says in words what holds it up, as 'the serger is taken until Thu 14:00'."""

    jacket: str
    due: int
    ready: int | None
    why: str


@dataclass(frozen=True, slots=True)
class FloorSchedule:
    """Who does what when. `late_jackets`, `late_minutes` (of the work clock), `change_minutes`,
    `ready` are what was aimed at, in that order. `value` is the aim as one number, of the jackets
    that are not blocked, `bound` a proven lower bound of it, and `gap` (value - bound) / value;
    None where nothing was proven. `unplanned` are jackets that nobody can finish within the
    horizon, with the reason; `notes` are for the reader, as pins that could not be kept."""

    begins: datetime.date
    now: int
    slots: tuple[Slot, ...]
    late: tuple[LateJacket, ...]
    late_jackets: int
    late_minutes: int
    change_minutes: int
    changes: int
    ready: int
    value: int
    bound: int | None
    gap: float | None
    seconds: float
    method: str
    unplanned: tuple[tuple[str, str], ...] = ()
    notes: tuple[str, ...] = ()


class FloorError(ValueError):
    """A workroom in which nothing can be planned; the message says what is missing."""


def moment(begins: datetime.date, at: int) -> datetime.datetime:
    """The wall-clock moment, without a time zone."""
    return datetime.datetime.combine(begins, datetime.time()) + datetime.timedelta(minutes=at)


def minutes_since(begins: datetime.date, at: datetime.datetime) -> int:
    """Whole minutes from midnight of `begins` to a wall-clock moment."""
    passed = at.replace(tzinfo=None) - datetime.datetime.combine(begins, datetime.time())
    return int(passed.total_seconds() // 60)
