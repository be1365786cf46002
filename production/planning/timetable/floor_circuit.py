"""The steps at one machine as a circuit of CP-SAT; its arcs are the changes of thread and foot."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from production.planning.timetable.floor import Step
from production.planning.timetable.floor_machines import Placed
from production.planning.timetable.floor_room import Room, StepKey, setting_of

if TYPE_CHECKING:
    from ortools.sat.python.cp_model import CpModel

Arc = tuple[int, int, Any]


@dataclass(frozen=True, slots=True)
class Node:
    """A step that may be on the machine, by its key, or a chain of steps that stay (no key), which
    lie so close that nothing comes between. `is_on` is the literal of being on this machine, 1
    where that is sure; `change` the minutes before the first step."""

    first: Step
    last: Step
    start: Any
    end: Any
    earliest: int
    latest: int
    is_on: Any
    change: Any
    key: StepKey | None = None


def chains(room: Room, stays: Sequence[Placed], least: int) -> tuple[list[Node], int]:
    """What stays on a machine, as one where less than `least` minutes lie between, and the minutes
    of change inside these chains."""
    found: list[list[Placed]] = []
    for placed in sorted(stays, key=lambda placed: placed.start):
        if found and placed.start - found[-1][-1].end < least:
            found[-1].append(placed)
        else:
            found.append([placed])
    inside = sum(placed.change for chain in found for placed in chain[1:])
    return [_chain(room, chain) for chain in found], inside


def _chain(room: Room, chain: Sequence[Placed]) -> Node:
    first, last = (room.jackets[p.jacket].steps[p.step] for p in (chain[0], chain[-1]))
    start, end = chain[0].start, chain[-1].end
    return Node(first, last, start, end, start, end, 1, chain[0].change)


def add_circuit(
    model: CpModel, room: Room, nodes: Sequence[Node], now: Mapping[StepKey, int]
) -> list[Any]:
    """The minutes of change of all arcs as terms. Chains come first in `nodes`, in the order in
    which they stay. `now` are the starts of the free steps that are
    on this machine so far; their order is the hint."""
    terms: list[Any] = []
    arcs: list[Arc] = []
    staying = sum(node.key is None for node in nodes)
    for at, node in enumerate(nodes, 1):
        if node.key is not None or at == 1:
            arcs.append((0, at, model.new_bool_var("")))
        if node.key is not None or at == staying:
            arcs.append((at, 0, model.new_bool_var("")))
        if not isinstance(node.is_on, int):
            arcs.append((at, at, node.is_on.negated()))
        for to, other in enumerate(nodes, 1):
            change = room.change(setting_of(node.last), other.first)
            is_chain = node.key is None and other.key is None
            if at != to and (not is_chain or to == at + 1) and _may_follow(node, other, change):
                literal = _follows(model, node, other, change)
                arcs.append((at, to, literal))
                if change:
                    terms.append(change * literal)
    if not any(isinstance(node.is_on, int) for node in nodes):
        arcs.append((0, 0, model.new_bool_var("")))
    model.add_circuit(arcs)
    _hint(model, nodes, arcs, now)
    return terms


def _may_follow(node: Node, other: Node, change: int) -> bool:
    if node.key is None and other.key is None:
        return node.latest <= other.earliest and change <= other.change
    if other.key is None and change > other.change:
        return False  # what stays has no more time before it than it has now
    return bool(node.earliest + node.first.minutes <= other.latest - other.last.minutes)


def _follows(model: CpModel, node: Node, other: Node, change: int) -> Any:
    literal = model.new_bool_var("")
    if node.key is not None or other.key is not None:
        model.add(other.start >= node.end).only_enforce_if(literal)
    if change and other.key is not None:
        model.add(other.change >= change).only_enforce_if(literal)
    return literal


def _hint(
    model: CpModel, nodes: Sequence[Node], arcs: Sequence[Arc], now: Mapping[StepKey, int]
) -> None:
    starts = {
        at: node.start if node.key is None else now[node.key]
        for at, node in enumerate(nodes, 1)
        if node.key is None or node.key in now
    }
    order = [0, *sorted(starts, key=lambda at: starts[at]), 0]
    followed = set(pairwise(order))
    for start, end, literal in arcs:
        if start != end or start == 0:
            model.add_hint(literal, (start, end) in followed)
