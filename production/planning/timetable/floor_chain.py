"""The critical chain of a slot: what it waited for, what that waited for, and so back to now."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from production.planning.timetable.floor import FloorSchedule, Slot
from production.planning.timetable.floor_capacity import FAR
from production.planning.timetable.floor_clock import Stretch
from production.planning.timetable.floor_room import Room

JACKET, HAND, MACHINE, DAY_PIN, READY, FREE = (
    "jacket",
    "hand",
    "machine",
    "day",
    "ready",
    "free",
)


@dataclass(frozen=True, slots=True)
class Link:
    """Why `slot` does not begin sooner: `before` ends just then, of its own jacket, at the same
    machine or in the same hand; or its day, or the moment from which it can be done, has not come;
    or nothing at all held it."""

    slot: Slot
    why: str
    before: Slot | None


class Chains:
    """Looks up chains in one schedule. `shares` say how busy each hand (False, key) and each kind
    of machine (True, kind) is."""

    def __init__(
        self, room: Room, schedule: FloorSchedule, shares: Mapping[tuple[bool, str], float]
    ) -> None:
        self.room, self.shares = room, shares
        self.by_step = {(slot.jacket, slot.step): slot for slot in schedule.slots}
        self.by_hand: dict[str, list[Slot]] = defaultdict(list)
        self.by_unit: dict[tuple[str, int], list[Slot]] = defaultdict(list)
        for slot in sorted(schedule.slots, key=lambda slot: (slot.end, slot.start)):
            if slot.end > slot.start:
                self.by_hand[slot.hand].append(slot)
                if slot.unit:
                    self.by_unit[slot.machine, slot.unit].append(slot)
        self.free = {key: _free(hand.spells, self.by_hand[key]) for key, hand in room.hands.items()}

    def of(self, slot: Slot) -> Iterator[Link]:
        """From the slot back; every link ends no later than the one before it begins."""
        seen: set[tuple[str, int]] = set()
        while (slot.jacket, slot.step) not in seen:
            seen.add((slot.jacket, slot.step))
            link = self.link(slot)
            yield link
            if link.before is None:
                return
            slot = link.before

    def link(self, slot: Slot) -> Link:
        before = self.by_step.get((slot.jacket, slot.step - 1))
        if before is not None and self._reaches(before.end, slot):
            return Link(slot, JACKET, before)
        day = self.room.days.get((slot.jacket, slot.step))
        if day is not None and self._reaches(self.room.clock.begins(day[0]), slot):
            return Link(slot, DAY_PIN, None)
        ready = self.room.jackets[slot.jacket].ready_from
        if slot.step == 0 and ready > self.room.floor.now and self._reaches(ready, slot):
            return Link(slot, READY, None)
        at_machine = self._last(self.by_unit.get((slot.machine, slot.unit), []), slot)
        in_hand = self._last(self.by_hand[slot.hand], slot)
        if at_machine is not None and self._is_narrower(slot, at_machine, in_hand):
            return Link(slot, MACHINE, at_machine)
        if in_hand is not None:
            return Link(slot, HAND, in_hand)
        return Link(slot, FREE, None)

    def _is_narrower(self, slot: Slot, at_machine: Slot, in_hand: Slot | None) -> bool:
        """Whether the machine and not the hand holds it up: it is free later, or as late while
        somebody else who could do the step has time, or is the busier of the two."""
        if in_hand is None or at_machine.end > in_hand.end:
            return True
        if at_machine.end < in_hand.end or len(self.room.able[slot.jacket, slot.step]) == 1:
            return False
        if self.others_free(slot, 1):
            return True
        share = self.shares.get
        return share((True, slot.machine), 0.0) >= share((False, slot.hand), 0.0)

    def others_free(self, slot: Slot, minutes: int) -> bool:
        """Whether another who can do the step has so many minutes free between the moment at which
        it could be begun and its start."""
        before = self.by_step.get((slot.jacket, slot.step - 1))
        since = before.end if before else self.room.jackets[slot.jacket].ready_from
        since = max(since, self.room.floor.now)
        others = (hand for hand in self.room.able[slot.jacket, slot.step] if hand != slot.hand)
        return any(_minutes(self.free[hand], since, slot.start) >= minutes for hand in others)

    def _last(self, slots: list[Slot], slot: Slot) -> Slot | None:
        """The last of the slots that ends as this one begins; None where time lies between."""
        at = bisect_left(slots, slot.start + 1, key=lambda each: each.end) - 1
        while at >= 0 and (slots[at].jacket, slots[at].step) == (slot.jacket, slot.step):
            at -= 1
        return slots[at] if at >= 0 and self._reaches(slots[at].end, slot) else None

    def _reaches(self, end: int, slot: Slot) -> bool:
        """Whether the hand of the slot has no minute between."""
        spells = self.room.hands[slot.hand].spells
        at = bisect_right(spells, end, key=lambda spell: spell[1])
        return at == len(spells) or max(spells[at][0], end) >= slot.start


def _free(spells: Sequence[Stretch], busy: Sequence[Slot]) -> list[Stretch]:
    """The hours of a hand without what it does, both ascending."""
    edges = [(0, 0), *((slot.start, slot.end) for slot in busy), (FAR, FAR)]
    idle = [(end, start) for (_, end), (start, _) in pairwise(edges) if end < start]
    found, at = [], 0
    for start, end in spells:
        while idle[at][1] <= start:
            at += 1
        while idle[at][0] < end:
            found.append((max(start, idle[at][0]), min(end, idle[at][1])))
            if idle[at][1] > end:
                break
            at += 1
    return found


def _minutes(stretches: Sequence[Stretch], since: int, until: int) -> int:
    """Those between two moments."""
    at, found = bisect_right(stretches, since, key=lambda each: each[1]), 0
    while at < len(stretches) and stretches[at][0] < until:
        start, end = stretches[at]
        found += min(end, until) - max(start, since)
        at += 1
    return found
