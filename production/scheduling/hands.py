"""Who works in the workroom and when, at how many machines: people as the schedule counts them."""

from __future__ import annotations

import datetime
from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from django.db.models import QuerySet

from production.models import DaysOff, ExtraHours, Machine, Person
from production.planning.minutes.labor import STAGES
from production.planning.timetable.floor import DAY, Hand
from production.planning.timetable.floor_clock import Stretch
from production.planning.timetable.work_hours import Days, ExtraSpell, WeekSpell, spells_of

if TYPE_CHECKING:
    from patterns.models import Workroom

#: When work begins where nobody's hours are written down; invented.
FIRST_MINUTE = 9 * 60
#: Keys of the hands that stand in where nobody was entered.
UNNAMED = "unnamed-"


def hand_key(person: Person | int) -> str:
    return str(person.pk if isinstance(person, Person) else person)


def names_of(keys: set[str]) -> dict[str, str]:
    """Names by key of the hand, people in their order."""
    people = {hand_key(pk): name for pk, name in Person.objects.values_list("pk", "name")}
    unnamed = (key for key in keys if key.startswith(UNNAMED))
    numbers = sorted(int(key.removeprefix(UNNAMED)) for key in unnamed)
    return {
        **{key: name for key, name in people.items() if key in keys},
        **{f"{UNNAMED}{number}": f"Person {number}" for number in numbers},
    }


def hands_from(
    workroom: Workroom, begins: datetime.date, days: int, skills: Iterable[str]
) -> tuple[Hand, ...]:
    """The people who have not left, with all stretches of so many days in which they work. Where
    nobody was ever entered, the workroom's number of people stand in, who can do everything."""
    everybody_off, off = _days_off(begins, days)
    if not Person.objects.exists():
        return _unnamed(workroom, begins, days, tuple(sorted(set(skills))), everybody_off)
    people = Person.objects.filter(has_left=False).prefetch_related("spells")
    extra = _extra_hours(begins, days)
    return tuple(
        Hand(
            key=hand_key(person),
            name=person.name,
            stages=stages_of(person),
            skills=tuple(person.skills),
            spells=spells_of(
                [
                    WeekSpell(row.weekday, _minute(row.starts), _minute(row.ends))
                    for row in person.spells.all()
                ],
                [*everybody_off, *off[person.pk]],
                extra[person.pk],
                begins,
                days,
            ),
        )
        for person in people
    )


def stages_of(person: Person) -> tuple[str, ...]:
    can = (person.can_cut, person.can_sew, person.can_finish)
    return tuple(stage for stage, able in zip(STAGES, can, strict=True) if able)


def machines_in_use() -> dict[str, int]:
    """Machines by kind; 0 for a kind of which all are out of use."""
    counted: Counter[str] = Counter()
    for kind, is_out in Machine.objects.values_list("kind", "is_out_of_use"):
        counted[kind] += not is_out
    return dict(counted)


def _unnamed(
    workroom: Workroom,
    begins: datetime.date,
    days: int,
    skills: tuple[str, ...],
    days_off: Sequence[Days],
) -> tuple[Hand, ...]:
    minutes = min(workroom.minutes_per_person_day, DAY)
    first = min(FIRST_MINUTE, DAY - minutes)
    week = [
        WeekSpell(int(weekday), first, first + minutes) for weekday in workroom.working_weekdays
    ]
    spells: tuple[Stretch, ...] = spells_of(week, days_off, (), begins, days)
    return tuple(
        Hand(f"{UNNAMED}{number}", f"Person {number}", STAGES, skills, spells)
        for number in range(1, workroom.people + 1)
    )


def _days_off(begins: datetime.date, days: int) -> tuple[list[Days], dict[int, list[Days]]]:
    """Those of everybody, and those of each person by key."""
    everybody: list[Days] = []
    of_person: dict[int, list[Days]] = defaultdict(list)
    last = begins + datetime.timedelta(days=days)
    for row in DaysOff.objects.filter(last__gte=begins, first__lte=last):
        (everybody if row.person_id is None else of_person[row.person_id]).append(
            (row.first, row.last)
        )
    return everybody, of_person


def _extra_hours(begins: datetime.date, days: int) -> dict[int, list[ExtraSpell]]:
    found: dict[int, list[ExtraSpell]] = defaultdict(list)
    rows: QuerySet[ExtraHours] = ExtraHours.objects.filter(
        day__gte=begins, day__lte=begins + datetime.timedelta(days=days)
    )
    for row in rows:
        found[row.person_id].append(ExtraSpell(row.day, _minute(row.starts), _minute(row.ends)))
    return found


def _minute(at: datetime.time) -> int:
    return at.hour * 60 + at.minute
