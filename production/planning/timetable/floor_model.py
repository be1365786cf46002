"""A timetable made anew by OR-Tools CP-SAT, but for what is in work, which stays where it is.

The free steps get a start and one of the hands who can do them; each hand does one thing at a time
around what stays; on every machine on which something is changed the steps follow one another in a
circuit. Times are work minutes. Time in which a hand is away while others work is closed: the model
lets no step go on over it, so that its bound is one of the whole truth only where everybody works
the same hours.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from production.planning.timetable.floor import FloorJacket
from production.planning.timetable.floor_aim import (
    CHANGE_MINUTE,
    LATE_JACKET,
    LATE_MINUTE,
    aim_of,
    ready_by_order,
)
from production.planning.timetable.floor_choices import (
    Choices,
    Free,
    Table,
    Unit,
    may_move,
    unit_of,
)
from production.planning.timetable.floor_circuit import Node, add_circuit, chains
from production.planning.timetable.floor_clock import Stretch, joined
from production.planning.timetable.floor_machines import Placed
from production.planning.timetable.floor_room import Room, StepKey

if TYPE_CHECKING:
    from ortools.sat.python.cp_model import CpModel, CpSolver


#: Work minutes around a window of free steps into which they may go.
NEAR = 240


@dataclass(frozen=True, slots=True)
class Found:
    """`table` is None where nothing was found in time, with nothing proven; `bound` is of the value
    of the whole timetable with what stays in its place."""

    table: dict[StepKey, Placed] | None
    bound: int


class Part:
    """The model of the free steps of a timetable, or of all. Everything ends within the work clock.
    A jacket that is late counts as many times as its weight says (1 where none is given)."""

    def __init__(
        self,
        room: Room,
        table: Table,
        free: Iterable[StepKey] | None = None,
        weights: Mapping[str, int] | None = None,
    ) -> None:
        from ortools.sat.python import cp_model

        self.room, self.table, self.last = room, table, room.clock.last
        self.model: CpModel = cp_model.CpModel()
        self.terms: list[Any] = []
        self.constant = 0
        self.weights = weights or {}
        chosen = {key for key in free or table if may_move(room, table[key])}
        self.stays = [placed for key, placed in table.items() if key not in chosen]
        choices = Choices(self.model, room, table, chosen, self._reach(chosen, free is None))
        self.free = {key: choices.of(key) for key in sorted(chosen)}
        self._in_order()
        self._one_at_a_time()
        self._machines()
        self._aim()
        self.value = sum(self.terms)
        self.model.minimize(self.value)

    def solve(self, seconds: float, workers: int, seed: int) -> Found:
        from ortools.sat.python import cp_model

        solver = cp_model.CpSolver()
        solver.parameters.num_workers = workers
        solver.parameters.random_seed = seed
        solver.parameters.max_time_in_seconds = max(seconds, 0.01)
        # Who comes before whom decides here; linear relaxations prove little about it.
        solver.parameters.linearization_level = 0
        solver.parameters.use_dynamic_precedence_in_disjunctive = True
        solver.parameters.use_precedences_in_disjunctive_constraint = True
        status = solver.solve(self.model)
        if status == cp_model.MODEL_INVALID:
            raise AssertionError(self.model.validate())
        if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            return Found(None, 0)
        return Found(self._placed(solver), self.constant + _whole(solver.best_objective_bound))

    def _placed(self, solver: CpSolver) -> dict[StepKey, Placed]:
        table = dict(self.table)
        for (code, at), free in self.free.items():
            hand = _chosen(solver, free.hands)
            unit = _chosen(solver, free.units)[1] if free.units else 0
            start, end = solver.value(free.start), solver.value(free.end)
            number = unit if isinstance(unit, int) else 0
            table[code, at] = Placed(code, at, hand, number, start, end, solver.value(free.change))
        return table

    def _reach(self, chosen: set[StepKey], is_all: bool) -> Stretch:
        """Where free steps may lie: near to where they are, unless all are free."""
        if is_all or not chosen:
            return 0, self.last
        first = min(self.table[key].start for key in chosen)
        last = max(self.table[key].end for key in chosen)
        return max(first - NEAR, 0), min(last + NEAR, self.last)

    # What holds between steps

    def _in_order(self) -> None:
        for (code, at), free in self.free.items():
            if (code, at + 1) in self.free:
                self.model.add(self.free[code, at + 1].start >= free.end)

    def _one_at_a_time(self) -> None:
        for hand, there in self.room.presences.items():
            mine = [free for free in self.free.values() if hand in free.hands]
            if mine:
                closed = [(p.start, p.end) for p in self.stays if p.hand == hand]
                intervals = [self._interval(free, free.hands[hand]) for free in mine]
                intervals += self._closed([*closed, *there.away()])
                self.model.add_no_overlap(intervals)

    def _interval(self, free: Free, literal: Any) -> Any:
        size = free.step.minutes + free.change
        if isinstance(literal, int):
            return self.model.new_interval_var(free.start, size, free.end, "")
        return self.model.new_optional_interval_var(free.start, size, free.end, literal, "")

    def _closed(self, stretches: Iterable[Stretch]) -> list[Any]:
        return [
            self.model.new_fixed_size_interval_var(start, end - start, "")
            for start, end in joined(stretches, 0)
        ]

    def _machines(self) -> None:
        for kind, count in self.room.shared.items():
            mine = [free for free in self.free.values() if free.step.machine == kind]
            if mine and kind not in self.room.changing:
                self._at_most(kind, count, [self._interval(free, 1) for free in mine])
        for unit in sorted({unit for free in self.free.values() for unit in free.units}, key=str):
            self._circuit(unit)

    def _at_most(self, kind: str, count: int, intervals: list[Any]) -> None:
        stays = [p for p in self.stays if p.end > p.start and unit_of(self.room, p)[0] == kind]
        if count == 1:
            closed = self._closed((placed.start, placed.end) for placed in stays)
            self.model.add_no_overlap(intervals + closed)
            return
        for placed in stays:
            intervals += self._closed([(placed.start, placed.end)])
        self.model.add_cumulative(intervals, [1] * len(intervals), count)

    def _circuit(self, unit: Unit) -> None:
        frees = [free for free in self.free.values() if unit in free.units]
        stays = [p for p in self.stays if p.end > p.start and unit_of(self.room, p) == unit]
        nodes, inside = chains(self.room, stays, min(free.step.minutes for free in frees))
        for f in frees:
            on, step = f.units[unit], f.step
            nodes.append(
                Node(step, step, f.start, f.end, f.earliest, f.latest, on, f.change, f.key)
            )
        now = {
            free.key: self.table[free.key].start
            for free in frees
            if unit_of(self.room, self.table[free.key]) == unit
        }
        self.terms += [
            CHANGE_MINUTE * term for term in add_circuit(self.model, self.room, nodes, now)
        ]
        self.constant += CHANGE_MINUTE * inside
        if unit[0] in self.room.shared:
            closed = self._closed((placed.start, placed.end) for placed in stays)
            mine = [self._interval(free, free.units[unit]) for free in frees]
            self.model.add_no_overlap(mine + closed)

    # The aim

    def _aim(self) -> None:
        """The value but for the constant. Lateness and the last end of jackets whose last step
        stays are fixed, and so are changes on machines that no free step can come to."""
        stays: list[Placed] = []
        ends: dict[str, list[Any]] = {}
        for code, jacket in self.room.jackets.items():
            last = (code, len(jacket.steps) - 1)
            if last in self.free:
                ends.setdefault(jacket.team_order, []).append(self.free[last].end)
                self._late(self.free[last], jacket)
            else:
                stays.append(replace(self.table[last], change=0))
        fixed, there = aim_of(self.room, stays), ready_by_order(self.room, stays)
        now = ready_by_order(self.room, self.table.values())
        for order, last_ends in ends.items():
            ready = self.model.new_int_var(there.get(order, 0), self.last, "")
            for end in last_ends:
                self.model.add(ready >= end)
            self.model.add_hint(ready, now[order])
            self.terms.append(ready)
        changed = sum(placed.change for placed in self.stays if not self._is_counted(placed))
        self.constant += fixed.value + CHANGE_MINUTE * changed
        self.constant -= sum(there.get(order, 0) for order in ends)

    def _is_counted(self, placed: Placed) -> bool:
        unit = unit_of(self.room, placed)
        return any(unit in free.units for free in self.free.values())

    def _late(self, free: Free, jacket: FloorJacket) -> None:
        due = self.room.due(jacket)
        if due is None or free.latest <= due:
            return
        most = free.latest - due
        over = self.model.new_int_var(0, most, "")
        is_late = self.model.new_bool_var("")
        self.model.add(over >= free.end - due)
        self.model.add(over <= most * is_late)
        now = max(self.table[free.key].end - due, 0)
        self.model.add_hint(over, now)
        self.model.add_hint(is_late, now > 0)
        weight = self.weights.get(jacket.code, 1)
        self.terms += [LATE_JACKET * weight * is_late, LATE_MINUTE * weight * over]


def _chosen(solver: CpSolver, literals: Mapping[Any, Any]) -> Any:
    for each, literal in literals.items():
        if isinstance(literal, int) or solver.boolean_value(literal):
            return each
    raise AssertionError("exactly one is chosen")


def _whole(bound: float) -> int:
    """The next whole number up: every value is whole."""
    return -int(-(bound - 1e-6) // 1)
