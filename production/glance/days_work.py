"""What each person does today on the jackets of a run, from the schedule in use."""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby

from django.utils import timezone

from production.models import Jacket
from production.planning.standing import STAGES
from production.planning.timetable.floor import DAY, FloorSchedule, Slot, moment
from production.scheduling.floor_plans import latest_schedule, schedule_of
from production.scheduling.hands import names_of


@dataclass(frozen=True, slots=True)
class Stretch:
    """A stage of one jacket; `starts` is a time of the day, None where it goes on from before."""

    code: str
    size: str
    stage: str
    starts: datetime.time | None


#: So many rows of a person are named; the rest stands on the page of today.
NAMED_AT_ONCE = 5


@dataclass(frozen=True, slots=True)
class OwnWork:
    name: str
    rows: tuple[Stretch, ...]

    @property
    def first(self) -> tuple[Stretch, ...]:
        return self.rows[:NAMED_AT_ONCE]

    @property
    def more(self) -> int:
        return len(self.rows) - len(self.first)


@dataclass(frozen=True, slots=True)
class DaysWork:
    """`made_at` is when the schedule was made, None where there is none. `late` are jackets that
    it makes late, with their reasons: (reason, codes)."""

    made_at: datetime.datetime | None = None
    people: tuple[OwnWork, ...] = ()
    late: tuple[tuple[str, tuple[str, ...]], ...] = ()


def days_work(jackets: Iterable[Jacket]) -> DaysWork:
    """Two queries. What is done by now is left out."""
    plan = latest_schedule()
    if plan is None:
        return DaysWork()
    found, own = schedule_of(plan), {jacket.code: jacket for jacket in jackets}
    day = (timezone.localdate() - found.begins).days
    slots = [slot for slot in found.slots if slot.jacket in own and _is_of(slot, day)]
    left = [slot for slot in slots if _is_left(own[slot.jacket], slot.stage)]
    names = names_of({slot.hand for slot in left})
    people = tuple(
        OwnWork(name, rows)
        for hand, name in names.items()
        if (rows := _rows(left, hand, found, own, day))
    )
    return DaysWork(plan.at, people, _late(found, own))


def _is_of(slot: Slot, day: int) -> bool:
    return slot.start < (day + 1) * DAY and slot.end > day * DAY


def _is_left(jacket: Jacket, stage: str) -> bool:
    if jacket.cancelled_at or jacket.stage not in STAGES:
        return False
    return STAGES.index(jacket.stage) <= STAGES.index(stage)


def _rows(
    slots: Sequence[Slot],
    hand: str,
    found: FloorSchedule,
    own: Mapping[str, Jacket],
    day: int,
) -> tuple[Stretch, ...]:
    """Slots that follow one another on the same stage of a jacket make one row."""
    in_order = sorted((slot for slot in slots if slot.hand == hand), key=lambda slot: slot.start)
    return tuple(
        Stretch(
            code,
            own[code].size,
            stage,
            moment(found.begins, first.start).time() if first.start >= day * DAY else None,
        )
        for (code, stage), some in groupby(in_order, lambda slot: (slot.jacket, slot.stage))
        for first in [next(some)]
    )


def _late(
    found: FloorSchedule, own: Mapping[str, Jacket]
) -> tuple[tuple[str, tuple[str, ...]], ...]:
    reasons: dict[str, list[str]] = {}
    for late in found.late:
        jacket = own.get(late.jacket)
        if jacket and _is_left(jacket, STAGES[2]):
            reasons.setdefault(late.why, []).append(late.jacket)
    return tuple((why, tuple(codes)) for why, codes in reasons.items())
