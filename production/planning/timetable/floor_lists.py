"""A timetable in flat lists: the steps by number with their rank, hand and machine. Its value is
reckoned anew in a fraction of a millisecond, everything moved up exactly in the order of ranks."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from production.planning.timetable.floor import Step
from production.planning.timetable.floor_aim import CHANGE_MINUTE, LATE_JACKET, LATE_MINUTE
from production.planning.timetable.floor_capacity import FAR
from production.planning.timetable.floor_clock import MOST_AWAY
from production.planning.timetable.floor_machines import Placed
from production.planning.timetable.floor_room import Room, StepKey, setting_of

#: What is in work comes before everything else.
IN_WORK = -1e6


class FlatTable:
    """`rank` orders the steps, `hand` and `unit` (-1 for no machine) are numbers; these three are
    what may be changed. `start`, `end` and `change` follow from `value()`."""

    def __init__(self, room: Room, table: Mapping[StepKey, Placed]) -> None:
        self.room = room
        self.keys = sorted(table, key=lambda key: (table[key].start, table[key].end, key))
        self.steps = [room.jackets[code].steps[at] for code, at in self.keys]
        self.hands = list(room.hands)
        number = {key: at for at, key in enumerate(self.keys)}
        self.before = [number.get((code, at - 1), -1) for code, at in self.keys]
        self.after = [number.get((code, at + 1), -1) for code, at in self.keys]
        hand_at = {hand: at for at, hand in enumerate(self.hands)}
        self.able = [[hand_at[hand] for hand in room.able[key]] for key in self.keys]
        self.is_fixed = [key in room.in_work for key in self.keys]
        self._limits(table)
        self._settings()
        self._units()
        self.hand = [hand_at[table[key].hand] for key in self.keys]
        self.unit = [
            self.unit_of(at, self.hand[at], max(table[key].unit - 1, 0))
            for at, key in enumerate(self.keys)
        ]
        self.start = [table[key].start for key in self.keys]
        self.end = [table[key].end for key in self.keys]
        self.change = [0] * len(self.keys)
        self.rank: list[float] = []
        self.rank_by_start()

    def _limits(self, table: Mapping[StepKey, Placed]) -> None:
        room = self.room
        self.earliest, self.latest, self.due = [], [], []
        for at, key in enumerate(self.keys):
            jacket = room.jackets[key[0]]
            ready = room.clock.worked(jacket.ready_from) if key[1] == 0 else 0
            first, last = room.days.get(key, (0, FAR))
            self.earliest.append(max(ready, first))
            self.latest.append(last if table[key].start < last else FAR)
            due = room.due(jacket)
            self.due.append(FAR if due is None or self.after[at] >= 0 else due)
        orders: dict[str, int] = {}
        for code, _ in self.keys:
            orders.setdefault(room.jackets[code].team_order, len(orders))
        self.order = [orders[room.jackets[code].team_order] for code, _ in self.keys]
        self.order_count = len(orders)
        self.minutes = [step.minutes for step in self.steps]
        self.presences = [room.presences[hand] for hand in self.hands]
        self.is_whole = [presence.is_whole for presence in self.presences]

    def _settings(self) -> None:
        samples: dict[object, Step] = {}
        for step in self.steps:
            samples.setdefault(setting_of(step), step)
        numbers = {setting: at for at, setting in enumerate(samples)}
        self.setting = [numbers[setting_of(step)] for step in self.steps]
        self.cost = [
            [self.room.change(setting_of(before), after) for after in samples.values()]
            for before in samples.values()
        ]

    def _units(self) -> None:
        """Machines by number: those of a shared kind, of the others one for each hand."""
        self.kind = [step.machine for step in self.steps]
        self.first_unit: dict[str, int] = {}
        self.unit_count = 0
        for kind in dict.fromkeys(self.kind):
            self.first_unit[kind] = self.unit_count
            self.unit_count += self.room.shared.get(kind, len(self.hands))
        self.is_shared = [kind in self.room.shared for kind in self.kind]

    def unit_of(self, at: int, hand: int, number: int) -> int:
        """The machine of a step: its hand's own, or that of this number (from 0) where shared."""
        if not self.kind[at]:
            return -1
        return self.first_unit[self.kind[at]] + (number if self.is_shared[at] else hand)

    def rank_by_start(self) -> None:
        self.rank = [
            start + (IN_WORK if is_fixed else 0.0)
            for start, is_fixed in zip(self.start, self.is_fixed, strict=True)
        ]

    def state(self) -> tuple[list[float], list[int], list[int]]:
        return self.rank[:], self.hand[:], self.unit[:]

    def restore(self, state: tuple[list[float], list[int], list[int]]) -> None:
        self.rank, self.hand, self.unit = (state[0][:], state[1][:], state[2][:])

    def value(self) -> float:
        """The aim but for jackets that nobody can do; infinite where a pinned day is missed. One
        long loop without calls: this is where the search spends its time."""
        hand_end, unit_end = [0] * len(self.hands), [0] * self.unit_count
        on, cost, is_whole, latest = [-1] * self.unit_count, self.cost, self.is_whole, self.latest
        starts, ends, changes, due = self.start, self.end, self.change, self.due
        ready, order = [0] * self.order_count, self.order
        late = over = changed = 0
        for at in sorted(range(len(self.rank)), key=self.rank.__getitem__):
            hand, unit, before = self.hand[at], self.unit[at], self.before[at]
            start, change = self.earliest[at], 0
            if before >= 0 and ends[before] > start:
                start = ends[before]
            if hand_end[hand] > start:
                start = hand_end[hand]
            if unit >= 0:
                if unit_end[unit] > start:
                    start = unit_end[unit]
                if on[unit] >= 0:
                    change = cost[on[unit]][self.setting[at]]
            end = start + self.minutes[at] + change
            if not is_whole[hand]:
                most_away = MOST_AWAY if self.is_shared[at] else None
                start, end = self.presences[hand].fit(start, end - start, most_away)
            starts[at], ends[at], changes[at] = start, end, change
            if end > start:  # else done in passing
                hand_end[hand] = end
                if unit >= 0:
                    unit_end[unit], on[unit] = end, self.setting[at]
            changed += change
            if end > ready[order[at]]:
                ready[order[at]] = end
            if end > due[at]:
                late += 1
                over += end - due[at]
            if start >= latest[at]:
                return float("inf")
        return LATE_JACKET * late + LATE_MINUTE * over + CHANGE_MINUTE * changed + sum(ready)

    def table(self) -> dict[StepKey, Placed]:
        """As of the last `value()`."""
        return {
            key: Placed(
                *key,
                self.hands[self.hand[at]],
                self.unit[at] - self.first_unit[self.kind[at]] + 1 if self.is_shared[at] else 0,
                self.start[at],
                self.end[at],
                self.change[at],
            )
            for at, key in enumerate(self.keys)
        }


def numbers_by(values: Sequence[str]) -> dict[str, list[int]]:
    """The places of each value."""
    found: dict[str, list[int]] = {}
    for at, value in enumerate(values):
        found.setdefault(value, []).append(at)
    return found
