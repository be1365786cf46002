"""Today's lists: what each person does today in the best order, with what is done ticked off."""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.db.models import F
from django.utils import timezone

from production.models import FloorPlan, Person, StageEvent
from production.planning.standing import STAGES
from production.planning.timetable.floor import DAY, FloorSchedule, Slot, moment
from production.scheduling.floor_plans import (
    Where,
    latest_schedule,
    out_of_date,
    schedule_of,
    where_now,
)
from production.scheduling.hands import hand_key, names_of
from production.scheduling.planned_work import Work, planned_work, times_on


@dataclass(frozen=True, slots=True)
class Row:
    """One stretch of work. `starts`, `ends` are times of the day, None where it goes on from a day
    before or to a day after."""

    number: int
    work: Work
    starts: datetime.time | None
    ends: datetime.time | None
    is_left_over: bool


@dataclass(frozen=True, slots=True)
class PersonDay:
    """`also_done` are the steps that the person did today beyond those rows."""

    key: str
    name: str
    rows: tuple[Row, ...]
    also_done: tuple[StageEvent, ...] = ()

    @property
    def left(self) -> int:
        return sum(not row.work.is_done for row in self.rows)


@dataclass(frozen=True, slots=True)
class Today:
    """The lists of a day from the schedule in use; `stale` says why it should be made anew."""

    day: datetime.date
    plan: FloorPlan | None
    schedule: FloorSchedule | None
    stale: tuple[str, ...]
    people: tuple[PersonDay, ...]

    def of(self, person: Person | None) -> PersonDay | None:
        key = hand_key(person) if person else ""
        return next((each for each in self.people if each.key == key), None)


def todays_list(person: Person, now: datetime.datetime | None = None) -> PersonDay | None:
    """None where nothing is planned or was done for them."""
    return todays_lists(now).of(person)


def todays_lists(now: datetime.datetime | None = None) -> Today:
    day, plan = timezone.localtime(now).date(), latest_schedule()
    if plan is None:
        return Today(day, None, None, (), ())
    found = schedule_of(plan)
    slots = _slots(found, (day - found.begins).days)
    rows = _rows(planned_work(found, slots), found, day)
    done = _done_on(day)
    lists = tuple(
        PersonDay(
            key, name, tuple(rows.get(key, ())), _further(done.get(key, ()), rows.get(key, ()))
        )
        for key, name in names_of({*rows, *done}).items()
    )
    return Today(day, plan, found, tuple(out_of_date(plan, now)), lists)


def _slots(found: FloorSchedule, day: int) -> list[Slot]:
    """Those of the day, counted from the beginning of the schedule, and those of days before whose
    stage is not done."""
    before = [slot for slot in found.slots if slot.start < (day + 1) * DAY]
    where = where_now(slot.jacket for slot in before if slot.end <= day * DAY)
    return [
        slot
        for slot in before
        if slot.end > day * DAY or not where.get(slot.jacket, Where("cut")).has_done(slot.stage)
    ]


def _rows(work: Iterable[Work], found: FloorSchedule, day: datetime.date) -> dict[str, list[Row]]:
    """By key of the person."""
    rows: dict[str, list[Row]] = {}
    for each in work:
        own = rows.setdefault(each.hand, [])
        starts, ends = times_on(found, each, day)
        is_over = moment(found.begins, each.end).date() < day
        own.append(Row(len(own) + 1, each, starts, ends, is_over))
    return rows


def _done_on(day: datetime.date) -> dict[str, list[StageEvent]]:
    """What was done that day, by key of the person; only by people who have a log-in."""
    events = (
        StageEvent.objects.filter(
            kind=StageEvent.Kind.DONE,
            stage__in=STAGES[:3],
            undone_by=None,
            at__date=day,
            by__person__isnull=False,
        )
        .select_related("jacket")
        .annotate(person=F("by__person"))
        .order_by("at", "pk")
    )
    found: dict[str, list[StageEvent]] = {}
    for event in events:
        found.setdefault(hand_key(vars(event)["person"]), []).append(event)
    return found


def _further(done: Iterable[StageEvent], rows: Sequence[Row]) -> tuple[StageEvent, ...]:
    listed = {(row.work.jacket.code, row.work.stage) for row in rows if row.work.is_done}
    return tuple(event for event in done if (event.jacket.code, event.stage) not in listed)
