"""A timetable made hour by hour: whoever is free next takes, of what is ready, what comes first in
the order of jackets, or something a little later in it that saves a change at the machine."""

from __future__ import annotations

import heapq
from collections.abc import Sequence
from dataclasses import dataclass, field

from production.planning.timetable.floor import Step
from production.planning.timetable.floor_capacity import FAR
from production.planning.timetable.floor_clock import MOST_AWAY
from production.planning.timetable.floor_machines import Placed
from production.planning.timetable.floor_room import Room, Setting, StepKey, setting_of

#: Places of the order by which what is pinned to a day comes before everything else on it.
PINNED = 1e15
#: Places of the order between two deadlines that lie a minute apart, when these are kept apart.
APART = 1000.0


@dataclass(frozen=True, slots=True)
class Policy:
    """For each minute of change that is saved so many places of the order are jumped; a step
    further on in its jacket counts as so many places earlier. With `is_apart` nothing of a later
    deadline is taken before what is ready of an earlier one."""

    patience: float = 0.0
    pull: float = 0.0
    is_apart: bool = False


@dataclass(slots=True)
class _Alike:
    """Steps that are the same to a free hand, those to come by the moment they are ready, those
    that are ready by rank."""

    step: Step
    to_come: list[tuple[int, float, StepKey]] = field(default_factory=list)
    ready: list[tuple[float, StepKey]] = field(default_factory=list)

    def until(self, now: int) -> None:
        while self.to_come and self.to_come[0][0] <= now:
            _, rank, key = heapq.heappop(self.to_come)
            heapq.heappush(self.ready, (rank, key))


class _Flow:
    def __init__(self, room: Room, order: Sequence[str], policy: Policy) -> None:
        self.room, self.policy = room, policy
        self.position = {code: at + self._apart(code) for at, code in enumerate(order)}
        self.groups: dict[object, _Alike] = {}
        self.of_hand: dict[str, list[_Alike]] = {hand: [] for hand in room.hands}
        self.left = dict.fromkeys(room.hands, 0)
        self.free = {(kind, n + 1): 0 for kind, count in room.shared.items() for n in range(count)}
        self.on: dict[tuple[str, int | str], Setting] = {}
        self.done: dict[StepKey, Placed] = {}
        self.hands: list[tuple[int, int, str]] = []

    def _apart(self, code: str) -> float:
        if not self.policy.is_apart:
            return 0.0
        due = self.room.due(self.room.jackets[code])
        return float(FAR if due is None else due) * APART

    def run(self) -> dict[StepKey, Placed]:
        begins = dict.fromkeys(self.room.hands, 0)
        for code in self.position:
            for at in range(len(self.room.jackets[code].steps)):
                for hand in self.room.able[code, at]:
                    self.left[hand] += 1
        for code in self.position:
            if (code, 0) not in self.room.in_work:
                self._offer(code, 0, self.room.clock.worked(self.room.jackets[code].ready_from))
                continue
            (hand,) = self.room.able[code, 0]
            since = max(begins[hand], self.room.clock.worked(self.room.jackets[code].ready_from))
            step = self.room.jackets[code].steps[0]
            begins[hand] = self._put(code, 0, hand, *self._best_unit(step, hand, since))
        for hand, since in begins.items():
            self._wait(hand, since)
        while self.hands:
            now, _, hand = heapq.heappop(self.hands)
            if self.left[hand]:
                self._next(hand, now)
        return self.done

    def _wait(self, hand: str, until: int) -> None:
        there = self.room.presences[hand].fit(until, 1)[0]
        heapq.heappush(self.hands, (there, len(self.of_hand[hand]), hand))

    def _offer(self, code: str, at: int, ready: int) -> None:
        step = self.room.jackets[code].steps[at]
        able = self.room.able[code, at]
        day = self.room.days.get((code, at))
        rank = self.position[code] - self.policy.pull * at - (PINNED if day else 0)
        kind = (able, step.machine, step.threads, step.setting, step.minutes)
        group = self.groups.get(kind)
        if group is None:
            group = self.groups[kind] = _Alike(step)
            for hand in able:
                self.of_hand[hand].append(group)
        heapq.heappush(group.to_come, (max(ready, day[0] if day else 0), rank, (code, at)))

    def _next(self, hand: str, now: int) -> None:
        """Gives the hand its next step, or lets it wait until something may have come."""
        best: tuple[float, StepKey, int, int, int, int] | None = None
        soonest = self.room.clock.last
        for group in self.of_hand[hand]:
            group.until(now)
            if not group.ready:
                if group.to_come:
                    soonest = min(soonest, group.to_come[0][0])
                continue
            rank, key = group.ready[0]
            if best is not None and rank >= best[0]:
                continue
            start, end, change, unit = self._best_unit(group.step, hand, now)
            if start > now:
                soonest = min(soonest, start)
                continue
            rank += self.policy.patience * change
            if best is None or (rank, key) < best[:2]:
                best = rank, key, start, end, change, unit
        if best is not None:
            _, (code, at), start, end, change, unit = best
            step = self.room.jackets[code].steps[at]
            able = self.room.able[code, at]
            kind = (able, step.machine, step.threads, step.setting, step.minutes)
            heapq.heappop(self.groups[kind].ready)
            self._wait(hand, self._put(code, at, hand, start, end, change, unit))
            return
        others = min((at for at, _, _ in self.hands), default=soonest)
        self._wait(hand, max(now + 1, min(soonest, others)))

    def _best_unit(self, step: Step, hand: str, since: int) -> tuple[int, int, int, int]:
        """Start, end, change and number of the machine on which it is done first."""
        there = self.room.presences[hand]
        if step.machine not in self.room.shared:
            change = (
                self.room.change(self.on.get((step.machine, hand)), step) if step.machine else 0
            )
            return (*there.fit(since, step.minutes + change), change, 0)
        found = []
        for number in range(1, self.room.shared[step.machine] + 1):
            unit = (step.machine, number)
            change = self.room.change(self.on.get(unit), step)
            earliest = max(since, self.free[unit])
            start, end = there.fit(earliest, step.minutes + change, MOST_AWAY)
            found.append((start, end, change, number))
        return min(found)

    def _put(
        self, code: str, at: int, hand: str, start: int, end: int, change: int, unit: int
    ) -> int:
        step = self.room.jackets[code].steps[at]
        self.done[code, at] = Placed(code, at, hand, unit, start, end, change)
        if step.machine and end > start:
            self.on[step.machine, unit or hand] = setting_of(step)
        if unit:
            self.free[step.machine, unit] = end
        for each in self.room.able[code, at]:
            self.left[each] -= 1
        if at + 1 < len(self.room.jackets[code].steps):
            self._offer(code, at + 1, end)
        return end


def flow(room: Room, order: Sequence[str], policy: Policy) -> dict[StepKey, Placed]:
    """`order` holds every jacket of the room once."""
    return _Flow(room, order, policy).run()
