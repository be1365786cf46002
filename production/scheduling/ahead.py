"""The days ahead as the page of the schedule shows them: deadlines, the narrow place, the tapes."""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from patterns.models import Workroom
from production.models import FloorPlan, Jacket
from production.planning.timetable.floor import DAY, FloorSchedule, Hand, LateJacket, Slot, moment
from production.planning.timetable.floor_clock import Stretch, joined
from production.planning.timetable.floor_words import day_words
from production.planning.timetable.work_hours import minutes_between
from production.scheduling.floor_plans import schedule_of
from production.scheduling.frames import worked
from production.scheduling.hands import hands_from, machines_in_use
from production.scheduling.lateness import LateDeadline, by_deadline, still_late
from production.scheduling.planned_work import Work, planned_work
from production.scheduling.tapes import DayStretch, day_stretch, days_with_work

DAYS_A_PAGE = 5


@dataclass(frozen=True, slots=True)
class Deadline:
    """`ready` is the moment by which the last of its planned jackets is ready."""

    day: datetime.date
    clubs: tuple[str, ...]
    jackets: int
    ready: datetime.datetime | None
    late: LateDeadline | None


@dataclass(frozen=True, slots=True)
class Load:
    """How much of the hours until the last jacket is ready somebody, or a kind of machine, is
    taken."""

    name: str
    taken: int
    whole: int

    @property
    def percent(self) -> int:
        return round(100 * self.taken / self.whole) if self.whole else 100


@dataclass(frozen=True, slots=True)
class Ahead:
    plan: FloorPlan
    schedule: FloorSchedule
    deadlines: tuple[Deadline, ...]
    loads: tuple[Load, ...]
    until: str
    days: tuple[DayStretch, ...]
    page: int
    pages: int

    @property
    def page_numbers(self) -> range:
        return range(1, self.pages + 1)

    @property
    def narrow(self) -> Load | None:
        return self.loads[0] if self.loads else None


def days_ahead(plan: FloorPlan, page: int = 1) -> Ahead:
    """A schedule with so many days of its tapes."""
    found = schedule_of(plan)
    last = max((slot.end for slot in found.slots), default=found.now)
    hands = _hands(found, last // DAY + 1)
    all_days = days_with_work(found, hands)
    pages = max(-(-len(all_days) // DAYS_A_PAGE), 1)
    page = min(max(page, 1), pages)
    chosen = all_days[(page - 1) * DAYS_A_PAGE : page * DAYS_A_PAGE]
    machines, late = machines_in_use(), still_late(found)
    return Ahead(
        plan=plan,
        schedule=found,
        deadlines=tuple(_deadlines(found, late)),
        loads=tuple(_loads(found, hands, machines, last)),
        until=day_words(found.begins, last - 1),
        days=tuple(_days(found, chosen, hands, machines, {each.jacket for each in late})),
        page=page,
        pages=pages,
    )


def _hands(found: FloorSchedule, days: int) -> tuple[Hand, ...]:
    room = Workroom.objects.first() or Workroom()
    return hands_from(room, found.begins, days, ())


def _days(
    found: FloorSchedule,
    days: Sequence[int],
    hands: Sequence[Hand],
    machines: Mapping[str, int],
    late: set[str],
) -> Iterable[DayStretch]:
    slots = [slot for slot in found.slots if days and slot.end > days[0] * DAY]
    kept = [slot for slot in slots if slot.start < (days[-1] + 1) * DAY]
    work = planned_work(found, kept)
    spells = {hand.key: hand.spells for hand in hands}
    for day in days:
        own = [each for each in work if _is_on(each, day, spells.get(each.hand, ()))]
        yield day_stretch(found, day, own, hands, machines, late)


def _is_on(work: Work, day: int, spells: Iterable[Stretch]) -> bool:
    return any(
        start < (day + 1) * DAY and end > day * DAY
        for start, end in worked(work.start, work.end, spells)
    )


def _deadlines(found: FloorSchedule, late: Iterable[LateJacket]) -> Iterable[Deadline]:
    ready: dict[str, int] = {}
    for slot in found.slots:
        ready[slot.jacket] = max(ready.get(slot.jacket, 0), slot.end)
    of_day = {each.deadline: each for each in by_deadline(found, late)}
    rows: dict[datetime.date, list[tuple[str, str]]] = {}
    listed = Jacket.objects.filter(
        code__in=[*ready, *(code for code, _ in found.unplanned)], cancelled_at=None
    ).order_by("jacket_order__team_order__deadline", "pk")
    for day, club, code in listed.values_list(
        "jacket_order__team_order__deadline", "jacket_order__team_order__club__name", "code"
    ):
        rows.setdefault(day, []).append((club, code))
    for day, own in rows.items():
        ends = [ready[code] for _, code in own if code in ready]
        yield Deadline(
            day,
            tuple(dict.fromkeys(club for club, _ in own)),
            len(own),
            moment(found.begins, max(ends)) if ends else None,
            of_day.get(day),
        )


def _loads(
    found: FloorSchedule, hands: Sequence[Hand], machines: Mapping[str, int], last: int
) -> list[Load]:
    """The fullest first. Kinds of machine of which nobody counted any are never full."""
    loads = []
    for hand in hands:
        own = [slot for slot in found.slots if slot.hand == hand.key]
        if own:
            loads.append(_load(hand.name, own, hand.spells, 1, found.now, last))
    anybody = tuple(joined((spell for hand in hands for spell in hand.spells), found.now))
    for kind, count in machines.items():
        own = [slot for slot in found.slots if slot.machine == kind]
        if own and count:
            loads.append(_load(f"the {kind}", own, anybody, count, found.now, last))
    return sorted(loads, key=lambda load: -load.percent)


def _load(
    name: str,
    slots: Iterable[Slot],
    spells: Sequence[Stretch],
    count: int,
    now: int,
    last: int,
) -> Load:
    taken = sum(minutes_between(spells, slot.start, slot.end) for slot in slots)
    return Load(name, taken, count * minutes_between(spells, now, last))
