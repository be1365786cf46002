"""Who works here and when: the only ways in which people, their hours and machines change."""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Mapping

from django.db import IntegrityError, transaction
from django.utils import timezone

from production.errors import ProductionError
from production.models import DaysOff, ExtraHours, Machine, Person, WorkSpell
from production.planning.timetable.hour_text import Spell, hours_text

#: More days in a row are a slip of the pen; invented.
MOST_DAYS = 400


class PeopleError(ProductionError):
    """People, hours or machines that cannot be as asked; the message says why."""


@transaction.atomic
def keep_person(
    person: Person, skills: Iterable[str], week: Mapping[int, Iterable[Spell]]
) -> Person:
    """Store a person with the hours of each weekday (1 is Monday); hours that were there before are
    gone. Raises PeopleError when somebody else bears the name."""
    person.skills = sorted(set(skills))
    try:
        with transaction.atomic():
            person.save()
    except IntegrityError as error:
        raise PeopleError(
            f"There is somebody called {person.name} already, or with that log-in."
        ) from error
    person.spells.all().delete()
    WorkSpell.objects.bulk_create(
        WorkSpell(person=person, weekday=weekday, starts=start, ends=end)
        for weekday, spells in week.items()
        for start, end in spells
    )
    return person


@transaction.atomic
def set_left(person: Person, *, has_left: bool) -> Person:
    """Somebody leaves or comes back; what they did stays in the history either way."""
    stored = Person.objects.select_for_update().get(pk=person.pk)
    stored.has_left = has_left
    stored.save(update_fields=["has_left"])
    return stored


@transaction.atomic
def take_days_off(
    person: Person | None, first: datetime.date, last: datetime.date, words: str = ""
) -> DaysOff:
    """Days on which a person does not work, or nobody. Raises PeopleError for days that are past,
    go backward, are too many or are off already."""
    if last < first:
        raise PeopleError(f"The last day, {last:%Y-%m-%d}, is before the first, {first:%Y-%m-%d}.")
    if last < timezone.localdate():
        raise PeopleError("These days are past, so nothing would change. Enter days to come.")
    if (last - first).days >= MOST_DAYS:
        raise PeopleError(f"These are {(last - first).days + 1} days; enter fewer at once.")
    _lock(person)
    taken = DaysOff.objects.filter(person=person, first__lte=last, last__gte=first).first()
    if taken:
        whose = person.name if person else "Everybody"
        raise PeopleError(
            f"{whose} is off from {taken.first:%Y-%m-%d} to {taken.last:%Y-%m-%d} already. "
            "Take that out first, or enter the other days alone."
        )
    return DaysOff.objects.create(person=person, first=first, last=last, words=words)


@transaction.atomic
def add_extra_hours(
    person: Person, day: datetime.date, spells: Iterable[Spell], words: str = ""
) -> list[ExtraHours]:
    """Work on one day beyond the person's week. Raises PeopleError for a day that is past and for
    hours in which they work then anyway."""
    if day < timezone.localdate():
        raise PeopleError(f"{day:%Y-%m-%d} is past. Enter a day to come.")
    _lock(person)
    there = [(row.starts, row.ends) for row in person.extra_hours.filter(day=day)]
    if not _is_off(person, day):
        week = person.spells.filter(weekday=day.isoweekday())
        there += [(row.starts, row.ends) for row in week]
    added = list(spells)
    for start, end in added:
        if any(start < until and since < end for since, until in there):
            raise PeopleError(
                f"{person.name} works {hours_text(there)} that day anyway; enter the hours beyond."
            )
    return [
        ExtraHours.objects.create(person=person, day=day, starts=start, ends=end, words=words)
        for start, end in added
    ]


def _is_off(person: Person, day: datetime.date) -> bool:
    off = DaysOff.objects.filter(first__lte=day, last__gte=day)
    return off.filter(person=person).exists() or off.filter(person=None).exists()


def _lock(person: Person | None) -> None:
    """Two entries for one person at once are told apart; those for everybody wait for anyone's."""
    people = Person.objects.select_for_update()
    list(people.filter(pk=person.pk) if person else people)


@transaction.atomic
def add_machine(kind: str, name: str) -> Machine:
    """Raises PeopleError for a name that another machine has."""
    if Machine.objects.filter(name__iexact=name).exists():
        raise PeopleError(f"There is a machine called {name} already. Give this one another name.")
    try:
        with transaction.atomic():
            return Machine.objects.create(kind=kind, name=name)
    except IntegrityError as error:
        raise PeopleError(f"There is a machine called {name} already.") from error


@transaction.atomic
def set_in_use(machine: Machine, *, in_use: bool) -> Machine:
    stored = Machine.objects.select_for_update().get(pk=machine.pk)
    stored.is_out_of_use = not in_use
    stored.save(update_fields=["is_out_of_use"])
    return stored
