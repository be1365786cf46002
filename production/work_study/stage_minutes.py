"""The running correction: how long stages really took, read from the events of jackets."""

from __future__ import annotations

import datetime
from collections.abc import Iterable
from dataclasses import replace
from decimal import Decimal
from itertools import groupby

from django.db.models import QuerySet
from django.utils import timezone

from production.models import Jacket, Run, StageEvent
from production.planning.minutes.stage_times import Correction, StageTime, corrections
from production.planning.standing import DONE, SENT_BACK, STARTED
from production.tracking import live_events
from production.work_study.taken_over import factor_since, taken_over

#: What is longer ago tells of another workroom. Invented.
DAYS_THAT_COUNT = 365


def stage_corrections(run: Run | None = None) -> dict[str, Correction]:
    """By stage how actual minutes relate to standard minutes: of one run to its own, or of all
    jackets that something happened to within the last year to those of today."""
    return corrections(stage_times(run))


def stage_times(run: Run | None = None) -> list[StageTime]:
    """The stages of jackets from start to end, of one run, or of all within the last year with the
    standards of today: once these have followed what jackets took, it must not count again."""
    if run:
        return times_of(StageEvent.objects.filter(jacket__run=run))
    since = timezone.now() - datetime.timedelta(days=DAYS_THAT_COUNT)
    lately = StageEvent.objects.filter(at__gte=since).values("jacket")
    return _in_standards_of_today(times_of(StageEvent.objects.filter(jacket__in=lately)))


def _in_standards_of_today(times: list[StageTime]) -> list[StageTime]:
    taken = taken_over()
    if not taken:
        return times
    jackets = Jacket.objects.filter(pk__in={time.jacket for time in times})
    planned = dict(jackets.values_list("pk", "run__created_at"))
    return [
        replace(
            time,
            standard_minutes=time.standard_minutes
            * factor_since(taken, time.stage, planned[time.jacket]),
        )
        for time in times
    ]


def times_of(events: QuerySet[StageEvent]) -> list[StageTime]:
    """The same from all events of some jackets."""
    in_order = events.select_related("jacket", "undoes").order_by("jacket", "pk")
    return [
        time
        for _, own in groupby(in_order, key=lambda event: event.jacket_id)
        for time in _stage_times(live_events(list(own)))
    ]


def _stage_times(events: Iterable[StageEvent]) -> Iterable[StageTime]:
    """Each stage of one jacket the first time that it was done; what comes after a defect is
    mending, for which there is no standard."""
    started: dict[str, StageEvent] = {}
    for event in events:
        if event.kind == SENT_BACK:
            return
        if event.kind == STARTED:
            started[event.stage] = event
        elif event.kind == DONE and event.stage in started:
            start = started[event.stage]
            yield StageTime(
                event.stage,
                start.by_id,
                timezone.localtime(start.at),
                timezone.localtime(event.at),
                Decimal(event.jacket.standard_minutes.get(event.stage, 0)),
                event.jacket_id,
            )
