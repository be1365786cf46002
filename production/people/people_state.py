"""Who works when, and what nobody can do, as the pages of people read it."""

from __future__ import annotations

import datetime
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby

from django.db.models import Q, QuerySet
from django.utils import timezone

from patterns.models import Operation
from production.models import DaysOff, ExtraHours, Machine, Person
from production.planning.standing import WORK
from production.planning.timetable.floor_words import listed
from production.planning.timetable.hour_text import Spell, hours_text, minutes_of
from production.scheduling.hands import stages_of

WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


@dataclass(frozen=True, slots=True)
class PersonRow:
    """A person with their week; `days` has the stretches of each weekday from Monday on."""

    person: Person
    days: tuple[tuple[Spell, ...], ...]
    off: tuple[DaysOff, ...]
    extra: tuple[ExtraHours, ...]

    @property
    def stages(self) -> str:
        return ", ".join(WORK[stage] for stage in stages_of(self.person)) or "no stage"

    @property
    def hours(self) -> float:
        return sum(minutes_of(spells) for spells in self.days) / 60

    @property
    def week_words(self) -> str:
        # Hours are not torn apart at the end of a line.
        return week_words(self.days).replace("-", "\N{NON-BREAKING HYPHEN}")


def week_words(days: Sequence[Iterable[Spell]]) -> str:
    """'Mon to Fri 9-12:30, 13-16; Sat 9-12'; 'no hours in the week' for none."""
    alike: dict[str, list[int]] = {}
    for at, spells in enumerate(days):
        alike.setdefault(hours_text(spells), []).append(at)
    told = [f"{_days_words(some)} {text}" for text, some in alike.items() if text]
    return "; ".join(told) or "no hours in the week"


def _days_words(days: Sequence[int]) -> str:
    """Weekdays by their number from 0 on, three or more in a row as a span."""
    words: list[str] = []
    for _, group in groupby(enumerate(days), key=lambda pair: pair[1] - pair[0]):
        row = [WEEKDAYS[day] for _, day in group]
        words += row if len(row) < 3 else [f"{row[0]} to {row[-1]}"]
    return listed(words)


def people_rows(*, has_left: bool = False) -> tuple[PersonRow, ...]:
    """In four queries, however many people."""
    today = timezone.localdate()
    people = Person.objects.filter(has_left=has_left).select_related("user")
    off: dict[int | None, list[DaysOff]] = defaultdict(list)
    for row in DaysOff.objects.filter(last__gte=today):
        off[row.person_id].append(row)
    extra: dict[int, list[ExtraHours]] = defaultdict(list)
    for hours in ExtraHours.objects.filter(day__gte=today):
        extra[hours.person_id].append(hours)
    return tuple(
        PersonRow(person, week_of(person), tuple(off[person.pk]), tuple(extra[person.pk]))
        for person in people.prefetch_related("spells")
    )


def week_of(person: Person) -> tuple[tuple[Spell, ...], ...]:
    if person._state.adding:
        return ((),) * 7
    spells = list(person.spells.all())
    return tuple(
        tuple((row.starts, row.ends) for row in spells if row.weekday == weekday)
        for weekday in range(1, 8)
    )


def days_off_to_come() -> QuerySet[DaysOff]:
    return DaysOff.objects.filter(last__gte=timezone.localdate()).select_related("person")


def extra_hours_to_come() -> QuerySet[ExtraHours]:
    return ExtraHours.objects.filter(day__gte=timezone.localdate()).select_related("person")


def known_skills(person: Person | None = None) -> list[str]:
    """Skills that operations name, and those that somebody was given."""
    found = set(Operation.objects.exclude(skill="").values_list("skill", flat=True))
    for skills in Person.objects.values_list("skills", flat=True):
        found.update(skills)
    return sorted(found | set(person.skills if person else ()))


@dataclass(frozen=True, slots=True)
class MachineKind:
    """A kind with its machines and the names of the operations at them."""

    kind: str
    machines: tuple[Machine, ...]
    operations: tuple[str, ...]

    @property
    def in_use(self) -> int:
        return sum(not machine.is_out_of_use for machine in self.machines)


def machine_kinds() -> tuple[MachineKind, ...]:
    """Kinds that operations name, in the order of work, then others that machines are listed of."""
    operations: dict[str, list[str]] = {}
    for kind, name in Operation.objects.exclude(machine="").values_list("machine", "name"):
        operations.setdefault(kind, []).append(name)
    machines: dict[str, list[Machine]] = {}
    for machine in Machine.objects.all():
        machines.setdefault(machine.kind, []).append(machine)
    return tuple(
        MachineKind(kind, tuple(machines.get(kind, ())), tuple(operations.get(kind, ())))
        for kind in dict.fromkeys([*operations, *machines])
    )


def cannot_be_done(today: datetime.date | None = None) -> tuple[str, ...]:
    """What nobody here can do or no machine is there for, in sentences; nothing where nobody was
    ever entered, since unnamed hands that can do everything stand in then."""
    return (*_without_hands(today or timezone.localdate()), *_without_machines())


def _without_hands(today: datetime.date) -> Iterator[str]:
    if not Person.objects.exists():
        return
    people = list(Person.objects.filter(has_left=False))
    if not people:
        yield "Everybody has left, so nothing can be planned. Add a person, or take one back."
        return
    works = Q(spells__isnull=False) | Q(extra_hours__day__gte=today)
    with_hours = set(Person.objects.filter(works).values_list("pk", flat=True))
    told: set[tuple[str, str]] = set()
    for operation in Operation.objects.all():
        need = (operation.stage, operation.skill)
        able = [
            one
            for one in people
            if operation.stage in stages_of(one)
            and (not operation.skill or operation.skill in one.skills)
        ]
        if need in told or any(one.pk in with_hours for one in able):
            continue
        told.add(need)
        skill = f" and has the skill \u201c{operation.skill}\u201d" if operation.skill else ""
        if able:
            names = ", ".join(one.name for one in able)
            yield f"{operation.name}: only {names} can do it, with no hours in the week."
        else:
            yield f"{operation.name}: nobody does {WORK[operation.stage]}{skill}."


def _without_machines() -> Iterator[str]:
    for kind in machine_kinds():
        if kind.machines and not kind.in_use and kind.operations:
            yield f"{', '.join(kind.operations)}: every {kind.kind} machine is out of use."
