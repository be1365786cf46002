"""The schedule as work of people: what each does on a jacket's stage, at which machines, in which
threads."""

from __future__ import annotations

import datetime
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from patterns.models import Operation, ThreadColor
from production.glance.blocked import blocked_words
from production.models import Jacket, Pin
from production.planning.standing import WORK
from production.planning.timetable.floor import FloorSchedule, Slot, moment
from production.planning.timetable.floor_steps import Leg
from production.scheduling.floor_legs import legs_of
from production.scheduling.floor_plans import Where

#: A jacket and the number of one of its steps.
SlotKey = tuple[str, int]


@dataclass(frozen=True, slots=True)
class Thread:
    name: str
    hex_color: str


@dataclass(frozen=True, slots=True)
class Part:
    """What is done at one machine, by the names of the operations; `machine` is '' for work by
    hand. `change_minutes` go into changing thread and foot before it."""

    machine: str
    operations: tuple[str, ...]
    threads: tuple[Thread, ...]
    foot: str
    change_minutes: int


@dataclass(frozen=True, slots=True)
class Work:
    """A stretch of one person's work on a stage of one jacket, from `start` to `end` in minutes as
    in the schedule. `hand` is the key of who does it."""

    jacket: Jacket
    stage: str
    hand: str
    start: int
    end: int
    parts: tuple[Part, ...]
    is_held: bool
    is_done: bool
    is_in_work: bool
    pin: Pin | None = None
    blocked: str = ""

    @property
    def why(self) -> str:
        """Why it stands here, where that is not the schedule's own doing."""
        words = [self.blocked] if self.blocked and not self.is_done else []
        if self.jacket.mend_reason and not self.is_done and self.jacket.stage == self.stage:
            words.append(f"to mend: {self.jacket.mend_reason}")
        if self.pin:
            words.append(f"held by hand{f': {self.pin.words}' if self.pin.words else ''}")
        return "; ".join(words)

    @property
    def told_parts(self) -> tuple[Part, ...]:
        """Those worth telling: of a stage that is split over machines and hands, also by hand."""
        is_split = self.stage == "sew" or any(part.machine for part in self.parts)
        return self.parts if is_split else ()

    @property
    def what(self) -> str:
        return WORK[self.stage].capitalize()


@dataclass(frozen=True, slots=True)
class _Names:
    legs: Mapping[int, Mapping[str, tuple[Leg, ...]]]
    operations: Mapping[str, str]
    threads: Mapping[str, Thread]

    @classmethod
    def of(cls, jackets: Iterable[Jacket]) -> _Names:
        return cls(
            legs_of(jackets),
            dict(Operation.objects.values_list("code", "name")),
            {
                code: Thread(name, color)
                for code, name, color in ThreadColor.objects.values_list(
                    "code", "name", "hex_color"
                )
            },
        )

    def part(self, jacket: Jacket, slot: Slot, at: int, count: int) -> Part:
        """The part of the slot that is number `at` of the `count` slots of its stage."""
        legs = [
            leg
            for leg in self.legs.get(jacket.run_id, {}).get(jacket.code, ())
            if leg.stage == slot.stage
        ]
        # What was worked on the stage in hand before the schedule was made is no slot any more.
        place = at + len(legs) - count
        if place < 0:  # the jacket was changed since: it is a matter of planning anew
            return Part(slot.machine, (), (), "", slot.change_minutes)
        leg = legs[place]
        return Part(
            slot.machine,
            tuple(self.operations.get(code, code) for code in leg.operations),
            tuple(self.threads.get(code, Thread(code, "")) for code in leg.threads),
            leg.setting,
            slot.change_minutes,
        )


def planned_work(found: FloorSchedule, slots: Sequence[Slot] | None = None) -> list[Work]:
    """The slots, all unless given, as stretches of work, by person and start. Slots of one stage of
    a jacket that follow one another in the same hand are one stretch. Jackets that were cancelled
    since are left out."""
    chosen = found.slots if slots is None else slots
    jackets = _jackets({slot.jacket for slot in chosen})
    names, pins = _Names.of(jackets.values()), _pins()
    blocked = blocked_words(jackets.values())
    places = _places(found.slots)
    work: list[Work] = []
    for group in _stretches(slot for slot in chosen if slot.jacket in jackets):
        jacket, first = jackets[group[0].jacket], group[0]
        where = Where(jacket.stage, jacket.in_work)
        work.append(
            Work(
                jacket=jacket,
                stage=first.stage,
                hand=first.hand,
                start=first.start,
                end=group[-1].end,
                parts=tuple(
                    names.part(jacket, slot, *places[slot.jacket, slot.step]) for slot in group
                ),
                is_held=any(slot.is_held for slot in group),
                is_done=where.has_done(first.stage),
                is_in_work=jacket.in_work and jacket.stage == first.stage,
                pin=pins.get((jacket.pk, first.stage)),
                blocked=blocked.get(jacket.code, ""),
            )
        )
    return work


def _jackets(codes: Iterable[str]) -> dict[str, Jacket]:
    rows = (
        Jacket.objects.filter(code__in=codes, cancelled_at=None)
        .select_related("run", "jacket_order__team_order__club")
        .defer("run__snapshot", "run__plan")
    )
    return {jacket.code: jacket for jacket in rows}


def _pins() -> dict[tuple[int, str], Pin]:
    pins = Pin.objects.filter(lifted_at=None).select_related("person")
    return {(pin.jacket_id, pin.stage): pin for pin in pins}


def _places(slots: Iterable[Slot]) -> dict[SlotKey, tuple[int, int]]:
    """By jacket and step which one of its stage it is, and of how many."""
    stages: dict[tuple[str, str], list[int]] = defaultdict(list)
    for slot in slots:
        stages[slot.jacket, slot.stage].append(slot.step)
    return {
        (jacket, step): (at, len(steps))
        for (jacket, _), steps in stages.items()
        for at, step in enumerate(sorted(steps))
    }


def _stretches(slots: Iterable[Slot]) -> list[list[Slot]]:
    groups: list[list[Slot]] = []
    for slot in sorted(slots, key=lambda slot: (slot.hand, slot.start, slot.end)):
        last = groups[-1][-1] if groups else None
        if last and (last.hand, last.jacket, last.stage) == (slot.hand, slot.jacket, slot.stage):
            groups[-1].append(slot)
        else:
            groups.append([slot])
    return groups


def times_on(
    found: FloorSchedule, work: Work, day: datetime.date
) -> tuple[datetime.time | None, datetime.time | None]:
    """When it begins and ends, None for an end that lies on another day."""
    starts, ends = (moment(found.begins, at) for at in (work.start, work.end))
    return (
        starts.time() if starts.date() == day else None,
        ends.time() if ends.date() == day else None,
    )
