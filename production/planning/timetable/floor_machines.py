"""Where a hand and a machine are free, in work minutes, while a timetable is filled."""

from __future__ import annotations

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass

from production.planning.timetable.floor import Step
from production.planning.timetable.floor_clock import MOST_AWAY, Presence, Stretch
from production.planning.timetable.floor_room import Room, Setting, setting_of


@dataclass(frozen=True, slots=True)
class Placed:
    """A step in its place, in work minutes. `unit` is the number of the machine where several
    people share those of a kind, else 0. The change comes before the work, within the stretch."""

    jacket: str
    step: int
    hand: str
    unit: int
    start: int
    end: int
    change: int


class Gaps:
    """The free stretches of one hand or machine, ascending."""

    def __init__(self, last: int, shortest: int) -> None:
        self.starts, self.ends = [0], [last]
        self.shortest = max(shortest, 1)

    def at(self, earliest: int) -> int:
        """The number of the first stretch that ends after `earliest`."""
        return max(bisect_right(self.starts, earliest) - 1, 0)

    def take(self, start: int, end: int) -> int:
        """Takes a stretch out of the one around it; its number, from which on all have moved."""
        at = bisect_right(self.starts, start) - 1
        first, last = self.starts[at], self.ends[at]
        parts = [(a, b) for a, b in ((first, start), (end, last)) if b - a >= self.shortest]
        self.starts[at : at + 1] = [a for a, _ in parts]
        self.ends[at : at + 1] = [b for _, b in parts]
        return at


class Machine(Gaps):
    """One machine, with what is on it before each free stretch and what must be on it after."""

    def __init__(self, last: int, shortest: int, number: int) -> None:
        super().__init__(last, shortest)
        self.number = number
        self.before: list[Setting | None] = [None]
        self.after: list[tuple[Step, int] | None] = [None]

    def put(self, start: int, end: int, step: Step, change: int) -> None:
        at = bisect_right(self.starts, start) - 1
        first, last = self.starts[at], self.ends[at]
        before, after = self.before[at], self.after[at]
        is_left = start - first >= self.shortest
        is_right = last - end >= self.shortest
        self.take(start, end)
        self.before[at : at + 1] = [before] * is_left + [setting_of(step)] * is_right
        self.after[at : at + 1] = [(step, change)] * is_left + [after] * is_right


class Bench:
    """Hands and machines with what is left of their time."""

    def __init__(self, room: Room) -> None:
        self.room = room
        least = min((s.minutes for j in room.jackets.values() for s in j.steps), default=1)
        self.shortest, self.last = least, room.clock.last
        self.hands = {key: Gaps(self.last, least) for key in room.hands}
        self.shared = {
            kind: [Machine(self.last, least, number + 1) for number in range(count)]
            for kind, count in room.shared.items()
        }
        self.own: dict[tuple[str, str], Machine] = defaultdict(
            lambda: Machine(self.last, self.shortest, 0)
        )

    def place(self, code: str, at: int, earliest: int) -> Placed:
        """The place in which the step is done first, taking the least change, then who can do
        fewest other things."""
        step = self.room.jackets[code].steps[at]
        best: tuple[tuple[int, int, int], Placed] | None = None
        for hand in self.room.able[code, at]:
            for machine in self._machines(step, hand):
                start, end, change = self._fit(step, hand, machine, earliest)
                rank = (end, change, len(self.room.hands[hand].stages))
                if best is None or rank < best[0]:
                    number = machine.number if machine else 0
                    best = rank, Placed(code, at, hand, number, start, end, change)
        assert best is not None  # `able` is never empty and the clock is long enough
        return best[1]

    def put(self, placed: Placed) -> None:
        step = self.room.jackets[placed.jacket].steps[placed.step]
        if placed.start == placed.end:
            return
        self.hands[placed.hand].take(placed.start, placed.end)
        if step.machine:
            self._machine(step, placed).put(placed.start, placed.end, step, placed.change)

    def close(self, ends: Mapping[str, int]) -> None:
        """Gives away what is free of each hand before these work minutes."""
        for hand, end in ends.items():
            gaps = self.hands[hand]
            while gaps.starts[0] < end:
                gaps.take(gaps.starts[0], min(gaps.ends[0], end))

    def _machines(self, step: Step, hand: str) -> list[Machine] | list[None]:
        if not step.machine:
            return [None]
        return self.shared.get(step.machine) or [self.own[step.machine, hand]]

    def _machine(self, step: Step, placed: Placed) -> Machine:
        if placed.unit:
            return self.shared[step.machine][placed.unit - 1]
        return self.own[step.machine, placed.hand]

    def _fit(
        self, step: Step, hand: str, machine: Machine | None, earliest: int
    ) -> tuple[int, int, int]:
        """Start, end and minutes of change of the first place."""
        if machine is None:
            start, end = self._free(hand, earliest, step.minutes, None)
            return start, end, 0
        most_away = MOST_AWAY if machine.number else None
        for gap in range(machine.at(earliest), len(machine.starts)):
            after = machine.after[gap]
            if after is not None and self.room.change(setting_of(step), after[0]) != after[1]:
                continue
            change = self.room.change(machine.before[gap], step)
            since = max(earliest, machine.starts[gap])
            start, end = self._free(hand, since, step.minutes + change, most_away)
            if end <= machine.ends[gap]:
                return start, end, change
        raise AssertionError("the last free stretch has no end")

    def _free(self, hand: str, earliest: int, minutes: int, most_away: int | None) -> Stretch:
        gaps = self.hands[hand]
        there: Presence = self.room.presences[hand]
        for gap in range(gaps.at(earliest), len(gaps.starts)):
            start, end = there.fit(max(earliest, gaps.starts[gap]), minutes, most_away)
            if end <= gaps.ends[gap]:
                return start, end
        raise AssertionError("the last free stretch has no end")
