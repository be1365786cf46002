"""What each person did on each day: stages done, and their minutes against the standard."""

from __future__ import annotations

import datetime
from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from django.contrib.auth.models import User
from django.utils import timezone

from production.history.lines import name
from production.models import StageEvent
from production.planning.minutes.stage_times import StageTime, worked_minutes
from production.planning.standing import STAGES
from production.work_study.stage_minutes import times_of

ZERO = Decimal(0)


@dataclass(frozen=True, slots=True)
class DayOf:
    """A person's day. `done` counts the jackets at each stage, `jackets` how many different ones
    they were; `minutes` is from start to done of the `timed` stages that count, `standard` the
    standard minutes of the same; both None where they are not shown."""

    day: datetime.date
    person: str
    done: tuple[int, ...]
    jackets: int
    timed: int
    minutes: Decimal | None
    standard: Decimal | None

    @property
    def ratio(self) -> Decimal | None:
        return self.minutes / self.standard if self.minutes and self.standard else None


def day_rows(
    first: datetime.date, last: datetime.date, asking: User, *, is_maker: bool
) -> list[DayOf]:
    """Latest day first. Minutes are shown of everybody to the maker, else of oneself alone. Three
    queries."""
    rows = list(_done(first, last))
    minutes = _minutes(first, last)
    days: dict[tuple[datetime.date, int | None], list[StageEvent]] = defaultdict(list)
    for event in rows:
        days[timezone.localdate(event.at), event.by_id].append(event)
    return [
        _row(day, events, minutes.get((day, by), ()) if is_maker or by == asking.pk else None)
        for (day, by), events in sorted(
            days.items(), key=lambda item: (-item[0][0].toordinal(), name(item[1][0].by))
        )
    ]


def _done(first: datetime.date, last: datetime.date) -> Iterable[StageEvent]:
    start, end = (
        timezone.make_aware(datetime.datetime.combine(day, datetime.time()))
        for day in (first, last + datetime.timedelta(days=1))
    )
    return (
        StageEvent.objects.filter(
            kind=StageEvent.Kind.DONE, undone_by=None, at__gte=start, at__lt=end
        )
        .select_related("by")
        .order_by("pk")
    )


#: The stages of a person's day that count, each with its minutes.
Timed = tuple[tuple[StageTime, Decimal], ...]


def _minutes(
    first: datetime.date, last: datetime.date
) -> dict[tuple[datetime.date, int | None], Timed]:
    """By day and log-in. Who had several jackets in work at once shared the minutes among them."""
    days = StageEvent.objects.filter(
        at__date__gte=first, at__date__lte=last, kind=StageEvent.Kind.DONE
    )
    counted = [
        time
        for time in times_of(StageEvent.objects.filter(jacket__in=days.values("jacket")))
        if time.counts and first <= time.done.date() <= last
    ]
    found: dict[tuple[datetime.date, int | None], list[tuple[StageTime, Decimal]]] = defaultdict(
        list
    )
    for time, minutes in zip(counted, worked_minutes(counted), strict=True):
        found[time.done.date(), time.who].append((time, minutes))
    return {key: tuple(some) for key, some in found.items()}


def _row(day: datetime.date, events: list[StageEvent], timed: Timed | None) -> DayOf:
    counts = Counter(event.stage for event in events)
    return DayOf(
        day=day,
        person=name(events[0].by),
        done=tuple(counts[stage] for stage in STAGES),
        jackets=len({event.jacket_id for event in events}),
        timed=len(timed or ()),
        minutes=sum((minutes for _, minutes in timed), ZERO) if timed else None,
        standard=sum((time.standard_minutes for time, _ in timed), ZERO) if timed else None,
    )
