"""People of the workroom and moments of its days, for the floor."""

from __future__ import annotations

import datetime
from typing import Any

from django.utils import timezone

from production.models import Person, WorkSpell
from production.planning.timetable.floor import Floor, FloorJacket

#: A Monday; the deadline of the factories' orders is 26 February 2027.
MONDAY = datetime.date(2027, 2, 1)


def at(hour: int, minute: int = 0, day: datetime.date = MONDAY) -> datetime.datetime:
    return timezone.make_aware(datetime.datetime.combine(day, datetime.time(hour, minute)))


def make_worker(name: str, hours: tuple[int, int] = (9, 17), **values: Any) -> Person:
    """Works from Monday to Friday."""
    worker = Person.objects.create(name=name, **values)
    WorkSpell.objects.bulk_create(
        WorkSpell(
            person=worker,
            weekday=weekday,
            starts=datetime.time(hours[0]),
            ends=datetime.time(hours[1]),
        )
        for weekday in range(1, 6)
    )
    return worker


def of(floor: Floor, code: str) -> FloorJacket:
    return next(jacket for jacket in floor.jackets if jacket.code == code)
