"""The choices that CP-SAT has for one step: when, by whom, at which machine."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from production.planning.timetable.floor import Step
from production.planning.timetable.floor_clock import Stretch
from production.planning.timetable.floor_machines import Placed
from production.planning.timetable.floor_room import Room, StepKey

if TYPE_CHECKING:
    from ortools.sat.python.cp_model import CpModel

Table = Mapping[StepKey, Placed]
#: A machine: its kind and number where it is shared, else its kind and hand.
Unit = tuple[str, int | str]


@dataclass(frozen=True, slots=True)
class Free:
    """The variables of a step: a literal for each hand, and for each machine where it matters."""

    key: StepKey
    step: Step
    start: Any
    end: Any
    change: Any
    hands: dict[str, Any]
    units: dict[Unit, Any]
    earliest: int
    latest: int


def unit_of(room: Room, placed: Placed) -> Unit:
    kind = room.jackets[placed.jacket].steps[placed.step].machine
    return kind, placed.unit or placed.hand


def may_move(room: Room, placed: Placed) -> bool:
    """What is in work stays, and so does a step that goes on over time away."""
    key = (placed.jacket, placed.step)
    minutes = room.jackets[key[0]].steps[key[1]].minutes
    return key not in room.in_work and placed.end - placed.start == minutes + placed.change > 0


class Choices:
    """Makes the variables of the chosen steps, hinted from the timetable so far; they keep within
    the stretch `reach`."""

    def __init__(
        self, model: CpModel, room: Room, table: Table, chosen: set[StepKey], reach: Stretch
    ) -> None:
        self.model, self.room, self.table, self.chosen = model, room, table, chosen
        self.reach = reach

    def of(self, key: StepKey) -> Free:
        step = self.room.jackets[key[0]].steps[key[1]]
        earliest, latest = self._limits(key)
        model, now = self.model, self.table[key]
        start = model.new_int_var(earliest, latest - step.minutes, "")
        end = model.new_int_var(earliest + step.minutes, latest, "")
        change: Any = 0
        if step.machine in self.room.changing:
            most = self.room.floor.thread_change + self.room.floor.setting_change
            change = model.new_int_var(0, most, "")
            model.add_hint(change, now.change)
        model.add(end == start + step.minutes + change)
        if key in self.room.days and now.start < self.room.days[key][1]:
            model.add(start < self.room.days[key][1])
        model.add_hint(start, now.start)
        model.add_hint(end, now.end)
        hands = self._one_of(self.room.able[key], now.hand)
        units = self._units(step, hands, unit_of(self.room, now))
        return Free(key, step, start, end, change, hands, units, earliest, latest)

    def _one_of(self, choices: Sequence[Any], now: Any) -> dict[Any, Any]:
        if len(choices) == 1:
            return {choices[0]: 1}
        literals = {each: self.model.new_bool_var("") for each in choices}
        for each, literal in literals.items():
            self.model.add_hint(literal, each == now)
        self.model.add_exactly_one(literals.values())
        return literals

    def _units(self, step: Step, hands: Mapping[str, Any], now: Unit) -> dict[Unit, Any]:
        if step.machine not in self.room.changing:
            return {}
        if step.machine not in self.room.shared:
            return {(step.machine, hand): literal for hand, literal in hands.items()}
        count = self.room.shared[step.machine]
        return self._one_of([(step.machine, number + 1) for number in range(count)], now)

    def _limits(self, key: StepKey) -> Stretch:
        """Between the nearest steps of the jacket that stay, as early as the work before and as
        late as the work after allows."""
        code, at = key
        jacket = self.room.jackets[code]
        earliest, latest = self.room.clock.worked(jacket.ready_from), self.reach[1]
        earliest = max(earliest, self.reach[0])
        for before in range(at):
            if (code, before) in self.chosen:
                earliest = max(earliest, self.room.days.get((code, before), (0, 0))[0])
                earliest += jacket.steps[before].minutes
            else:
                earliest = max(earliest, self.table[code, before].end)
        for after in range(len(jacket.steps) - 1, at, -1):
            if (code, after) in self.chosen:
                latest -= jacket.steps[after].minutes
            else:
                latest = min(latest, self.table[code, after].start)
        return max(earliest, self.room.days.get(key, (0, 0))[0]), latest
