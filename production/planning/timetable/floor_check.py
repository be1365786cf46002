"""Looks at a schedule as a stranger would, from the floor and the wall clock alone, and says what
is wrong with it. Nothing of the planner is used."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import pairwise

from production.planning.timetable.floor import (
    DAY,
    Floor,
    FloorJacket,
    FloorSchedule,
    Hand,
    Held,
    Slot,
)


def faults(floor: Floor, schedule: FloorSchedule) -> list[str]:
    """Everything that is wrong with the slots, in words; empty for a schedule that can be worked
    to. A pin counts as kept also where a note names its jacket and stage."""
    return [
        *_steps(floor, schedule),
        *_hands(floor, schedule.slots),
        *_machines(floor, schedule.slots),
        *_changes(floor, schedule.slots),
        *_pins(floor, schedule),
        *_late(floor, schedule),
    ]


def _steps(floor: Floor, schedule: FloorSchedule) -> Iterator[str]:
    """Every step once, whole and in order; of an unplanned jacket the first ones or none."""
    by_jacket: dict[str, list[Slot]] = defaultdict(list)
    for slot in schedule.slots:
        by_jacket[slot.jacket].append(slot)
    unplanned = dict(schedule.unplanned)
    known = {jacket.code for jacket in floor.jackets}
    yield from (f"{code} is not on the floor" for code in by_jacket if code not in known)
    for jacket in floor.jackets:
        slots = sorted(by_jacket[jacket.code], key=lambda slot: slot.step)
        wanted = list(range(len(jacket.steps)))
        found = [slot.step for slot in slots]
        if found != (wanted[: len(found)] if jacket.code in unplanned else wanted):
            yield f"{jacket.code} has the steps {found}, not {wanted}"
            continue
        if slots and slots[0].start < max(jacket.ready_from, floor.now):
            yield f"{jacket.code} begins before it can"
        for before, after in pairwise(slots):
            if after.start < before.end:
                yield f"{jacket.code} step {after.step} begins before step {before.step} is done"
        for slot in slots:
            step = jacket.steps[slot.step]
            if (slot.stage, slot.machine) != (step.stage, step.machine):
                yield f"{jacket.code} step {slot.step} is another stage or machine"


def _hands(floor: Floor, slots: Sequence[Slot]) -> Iterator[str]:
    """Nobody does two things at once, or what they cannot do, or outside their hours."""
    hands = {hand.key: hand for hand in floor.hands}
    jackets = {jacket.code: jacket for jacket in floor.jackets}
    for slot in slots:
        jacket, hand = jackets[slot.jacket], hands[slot.hand]
        step = jacket.steps[slot.step]
        is_theirs = slot.step == 0 and jacket.in_work_by == hand.key
        if not hand.can_do(step) and not is_theirs:
            yield f"{hand.name} cannot do {slot.jacket} step {slot.step}"
        if _worked(hand, slot) != step.minutes + slot.change_minutes:
            yield (
                f"{slot.jacket} step {slot.step} takes {step.minutes} + {slot.change_minutes} "
                f"minutes and has {_worked(hand, slot)} of {hand.name}'s"
            )
        if slot.step == 0 and jacket.in_work_by in hands and not is_theirs:
            other = hands[jacket.in_work_by]
            if any(end > floor.now for _, end in other.spells):
                yield f"{slot.jacket} is taken away from {other.name}"
    for before, after in _neighbors(slots, lambda slot: slot.hand):
        if after.start < before.end:
            yield f"{after.hand} does {before.jacket} and {after.jacket} at once"


def _worked(hand: Hand, slot: Slot) -> int:
    return sum(max(0, min(end, slot.end) - max(start, slot.start)) for start, end in hand.spells)


def _machines(floor: Floor, slots: Sequence[Slot]) -> Iterator[str]:
    """Never more machines of a kind at once than there are; never one machine twice."""
    for kind, count in floor.machines.items():
        edges = sorted(
            edge
            for slot in slots
            if slot.machine == kind and slot.start < slot.end
            for edge in ((slot.start, 1), (slot.end, -1))
        )
        used = 0
        for at, more in edges:
            used += more
            if used > count:
                yield f"{used} at the {kind} at minute {at}, of which there are {count}"
                break
    for before, after in _neighbors(
        [s for s in slots if s.unit], lambda s: f"{s.machine} {s.unit}"
    ):
        if after.start < before.end:
            yield f"{before.jacket} and {after.jacket} are at one {before.machine} at once"


def _changes(floor: Floor, slots: Sequence[Slot]) -> Iterator[str]:
    """The minutes of changing thread and foot are those between one step and the next at a
    machine: the shared one of that number, else the hand's own."""
    jackets = {jacket.code: jacket for jacket in floor.jackets}
    at_machines = [slot for slot in slots if slot.machine and slot.start < slot.end]
    first = {_machine(slot): slot for slot in sorted(at_machines, key=_when, reverse=True)}
    for slot in first.values():
        if slot.change_minutes:
            yield f"{slot.jacket} step {slot.step} changes a machine that is ready"
    for before, after in _neighbors(at_machines, _machine):
        had, has = (jackets[slot.jacket].steps[slot.step] for slot in (before, after))
        wanted = floor.thread_change * (had.threads != has.threads)
        wanted += floor.setting_change * (had.setting != has.setting)
        if after.change_minutes != wanted:
            yield f"{after.jacket} step {after.step} changes {after.change_minutes}, not {wanted}"


def _machine(slot: Slot) -> str:
    return f"{slot.machine} {slot.unit or slot.hand}"


def _pins(floor: Floor, schedule: FloorSchedule) -> Iterator[str]:
    jackets = {jacket.code: jacket for jacket in floor.jackets}
    for pin in floor.held:
        slots = [s for s in schedule.slots if (s.jacket, s.stage) == (pin.jacket, pin.stage)]
        if not slots or _is_told(pin, schedule) or _is_begun(jackets[pin.jacket], pin):
            continue
        if pin.hand and any(slot.hand != pin.hand for slot in slots):
            yield f"{pin.jacket} {pin.stage} is pinned to {pin.hand}"
        if pin.day is not None and min(slot.start for slot in slots) // DAY != pin.day:
            yield f"{pin.jacket} {pin.stage} is pinned to day {pin.day}"


def _is_told(pin: Held, schedule: FloorSchedule) -> bool:
    return any(f"{pin.jacket}, {pin.stage}" in note for note in schedule.notes)


def _is_begun(jacket: FloorJacket, pin: Held) -> bool:
    return bool(jacket.in_work_by) and jacket.steps[0].stage == pin.stage


def _late(floor: Floor, schedule: FloorSchedule) -> Iterator[str]:
    """Who is late is told, and nobody else."""
    ready: dict[str, int] = {}
    for slot in schedule.slots:
        ready[slot.jacket] = max(ready.get(slot.jacket, 0), slot.end)
    unplanned = {code for code, _ in schedule.unplanned}
    late = {
        jacket.code
        for jacket in floor.jackets
        if jacket.due is not None
        and jacket.steps
        and (jacket.code in unplanned or ready.get(jacket.code, 0) > jacket.due)
    }
    told = {each.jacket for each in schedule.late}
    yield from (f"{code} is late, which is not told" for code in sorted(late - told))
    yield from (f"{code} is told to be late and is not" for code in sorted(told - late))
    if schedule.late_jackets != len(late):
        yield f"{schedule.late_jackets} late are counted, not {len(late)}"


def _when(slot: Slot) -> tuple[int, int]:
    return slot.start, slot.end


def _neighbors(slots: Iterable[Slot], of: Callable[[Slot], str]) -> Iterator[tuple[Slot, Slot]]:
    """Each slot with the next of the same hand or machine; what takes no time is in no way."""
    groups: dict[str, list[Slot]] = defaultdict(list)
    for slot in sorted((slot for slot in slots if slot.start < slot.end), key=_when):
        groups[of(slot)].append(slot)
    for group in groups.values():
        yield from pairwise(group)
