"""The integer program of cut order planning, solved by OR-Tools CP-SAT.

Every lay that a plan may have is a slot of one mode and one number of plies; the program chooses
how often each block lies in each slot. Lays that were nested are there as they are, with their true
lengths, and the program chooses how often each is spread. Two slots of the same kind that would fit
on one table make no plan cheaper, so their number is bounded. Where there are many blocks, one slot
stands for all lays of its kind, and its blocks are dealt to them afterwards.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import ceil
from typing import TYPE_CHECKING

from production.planning.cutting.cut_demand import (
    CutDemand,
    LayOrder,
    LengthGuess,
    TrueLengths,
    lengths_spread,
)
from production.planning.cutting.cutting_prices import CuttingPrice
from production.planning.cutting.lays import FACE_UP, is_own_mirror_image
from production.planning.cutting.rows import LaidKey

if TYPE_CHECKING:
    from ortools.sat.python.cp_model import CpModel, CpSolver, IntVar, LinearExpr

#: With more kinds of piece, a left and its right are kept in one lay, which halves the program.
KINDS_APART = 12
#: With more numbers to choose, one slot stands for all lays of its kind.
MOST_NUMBERS = 150
#: Deterministic time of the solver: about half a second.
SOLVER_TIME = 0.05
#: Costs are counted in whole steps, of which the dearest single cost has about so many.
COST_STEPS = 1_000_000


@dataclass(frozen=True, slots=True)
class _Item:
    """Outlines that are placed together in one lay. Every `plies_each` plies of it give one piece
    to each of the `rows` of the demand."""

    places: tuple[LaidKey, ...]
    rows: tuple[LaidKey, ...]
    plies_each: int
    length_mm: int
    extent_mm: int


@dataclass(frozen=True, slots=True)
class _Kind:
    """Lays of one mode and number of plies: the most there may be, and each item with how often it
    may lie in one."""

    mode: str
    plies: int
    most_lays: int
    items: tuple[tuple[_Item, int], ...]


@dataclass(frozen=True, slots=True)
class _Slot:
    kind: _Kind
    lays: IntVar
    length_mm: IntVar
    times: tuple[IntVar, ...]


@dataclass(frozen=True, slots=True)
class _Nested:
    """A lay that was nested, how long it became, and how often it is spread."""

    order: LayOrder
    length_mm: int
    lays: IntVar


def cheapest_lays(
    demand: CutDemand,
    price: CuttingPrice,
    guess: LengthGuess,
    start: Sequence[LayOrder],
    *,
    modes: Sequence[str],
    true_mm: TrueLengths | None = None,
    seed: int = 0,
    solver_time: float = SOLVER_TIME,
) -> tuple[LayOrder, ...] | None:
    """The cheapest lays of these modes found from the lays of `start` on, or None when the solver
    finds none. The same question always gets the same answer."""
    rows = _rows(demand, guess)
    kinds = list(_kinds(demand, rows, guess, modes))
    is_apart = sum(kind.most_lays * len(kind.items) for kind in kinds) <= MOST_NUMBERS
    from ortools.sat.python import cp_model

    model = cp_model.CpModel()
    slots = [slot for kind in kinds for slot in _slots(model, kind, demand, guess, is_apart)]
    nested = list(_nested(model, true_mm or {}, demand, modes))
    _ask_for_pieces(model, slots, nested, demand, rows)
    _set_price(model, slots, nested, demand, price)
    _hint_nested(model, nested, start)
    free = [order for order in start if order not in {each.order for each in nested}]
    _hint(model, slots, free, demand, guess, is_apart)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1  # the same answer each time; the other cores are nesting's
    solver.parameters.random_seed = seed
    solver.parameters.max_deterministic_time = solver_time
    status = solver.solve(model)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return None
    return _lays_of(solver, slots, nested, demand, guess)


def _nested(
    model: CpModel, true_mm: TrueLengths, demand: CutDemand, modes: Sequence[str]
) -> Iterable[_Nested]:
    for order, length_mm in true_mm.items():
        most = min(
            (demand.counts.get(key, 0) + demand.workroom.over_cut) // count
            for key, count in order.pieces.items()
        )
        if order.mode in modes and most:
            yield _Nested(order, length_mm, model.new_int_var(0, most, ""))


def _rows(demand: CutDemand, guess: LengthGuess) -> dict[LaidKey, LaidKey]:
    """The row of the program that counts each key: a left may count for its right as well."""
    rows = {key: key for key in demand.counts}
    if len(rows) <= KINDS_APART:
        return rows
    most_mm = demand.filled_most_mm(guess)
    for right, count in demand.counts.items():
        left = (right[0], right[1], "left")
        if right[2] == "right" and demand.counts.get(left) == count:
            both_mm = sum(demand.block_mm(key, FACE_UP, guess) for key in (left, right))
            if both_mm <= most_mm:
                rows[right] = left
    return rows


def _kinds(
    demand: CutDemand,
    rows: Mapping[LaidKey, LaidKey],
    guess: LengthGuess,
    modes: Iterable[str],
) -> Iterable[_Kind]:
    wanted = {key: n + demand.workroom.over_cut for key, n in demand.counts.items()}
    most_mm = demand.filled_most_mm(guess)
    for mode in modes:
        items = list(_items(demand, rows, mode, guess))
        step = 1 if mode == FACE_UP else 2
        for plies in range(step, demand.highest_plies + 1, step):
            lying = []
            for item in items:
                most = min(wanted[row] for row in item.rows) // (plies // item.plies_each)
                if most:
                    lying.append((item, most))
            if lying:
                filled_mm = sum(most * item.length_mm for item, most in lying)
                most_lays = max(1, 2 * filled_mm // most_mm)
                yield _Kind(mode, plies, most_lays, tuple(lying))


def _items(
    demand: CutDemand, rows: Mapping[LaidKey, LaidKey], mode: str, guess: LengthGuess
) -> Iterable[_Item]:
    together: dict[LaidKey, list[LaidKey]] = {}
    for key, row in rows.items():
        together.setdefault(row, []).append(key)
    for row, keys in together.items():
        block, size, side = row
        places: tuple[LaidKey, ...] = (row,)
        fed: tuple[LaidKey, ...] = (row,)
        plies_each = 1
        if mode == FACE_UP:
            places = tuple(keys)
        elif side == "single":
            if not is_own_mirror_image(demand.shapes[block, size].cut_outline_mm):
                continue
        elif side == "left" and (block, size, "right") in rows:
            plies_each = 2
            fed = tuple(dict.fromkeys((row, rows[block, size, "right"])))
        else:
            continue
        if all((key, mode) in demand.extents_mm for key in places):
            length_mm = sum(demand.block_mm(key, mode, guess) for key in places)
            extent_mm = ceil(max(demand.extents_mm[key, mode] for key in places))
            yield _Item(places, fed, plies_each, length_mm, extent_mm)


def _slots(
    model: CpModel, kind: _Kind, demand: CutDemand, guess: LengthGuess, is_apart: bool
) -> Iterable[_Slot]:
    """The slots of a kind, the fullest first; or one that stands for all of them."""
    most_mm = demand.filled_most_mm(guess)
    longest_mm = max(most_mm + guess.end_mm, *(item.extent_mm for item, _ in kind.items))
    lays_each = 1 if is_apart else kind.most_lays
    before: _Slot | None = None
    for _ in range(kind.most_lays if is_apart else 1):
        slot = _Slot(
            kind,
            model.new_int_var(0, lays_each, ""),
            model.new_int_var(0, lays_each * longest_mm, ""),
            tuple(model.new_int_var(0, most, "") for _, most in kind.items),
        )
        _set_length(model, slot, most_mm, guess)
        if before is not None:
            model.add(_filled_mm(before) >= _filled_mm(slot))
        before = slot
        yield slot


def _set_length(model: CpModel, slot: _Slot, most_mm: int, guess: LengthGuess) -> None:
    model.add(_filled_mm(slot) <= most_mm * slot.lays)
    model.add(slot.length_mm >= _filled_mm(slot) + guess.end_mm * slot.lays)
    for (item, most), times in zip(slot.kind.items, slot.times, strict=True):
        if item.extent_mm > item.length_mm + guess.end_mm:
            lies = times
            if most > 1:
                lies = model.new_bool_var("")
                model.add(times <= most * lies)
            model.add(slot.length_mm >= item.extent_mm * lies)


def _filled_mm(slot: _Slot) -> LinearExpr | int:
    return sum(
        item.length_mm * times for (item, _), times in zip(slot.kind.items, slot.times, strict=True)
    )


def _ask_for_pieces(
    model: CpModel,
    slots: Sequence[_Slot],
    nested: Sequence[_Nested],
    demand: CutDemand,
    rows: Mapping[LaidKey, LaidKey],
) -> None:
    """Exactly what is asked, or as many more as the workroom allows."""
    cut: dict[LaidKey, list[LinearExpr]] = {row: [] for row in rows.values()}
    for slot in slots:
        for (item, _), times in zip(slot.kind.items, slot.times, strict=True):
            for row in item.rows:
                cut[row].append(slot.kind.plies // item.plies_each * times)
    # A nested lay may hold more left than right, where slots hold both alike.
    pieces = {key: list(cut[row]) for key, row in rows.items()}
    for each in nested:
        for key, count in each.order.pieces.items():
            pieces[key].append(count * each.lays)
    for key, wanted in demand.counts.items():
        model.add_linear_constraint(sum(pieces[key]), wanted, wanted + demand.workroom.over_cut)


def _set_price(
    model: CpModel,
    slots: Sequence[_Slot],
    nested: Sequence[_Nested],
    demand: CutDemand,
    price: CuttingPrice,
) -> None:
    allowances_mm = 2 * demand.fabric.end_allowance_mm
    costs = [(each.lays, demand.lay_cost(each.order, each.length_mm, price)) for each in nested]
    for slot in slots:
        spread = lengths_spread(slot.kind.mode, slot.kind.plies)
        lay = price.lay + spread * (price.ply + price.cloth_mm * allowances_mm)
        costs += [(slot.lays, lay), (slot.length_mm, spread * price.cloth_mm)]
        costs += [
            (times, len(item.places) * price.outline)
            for (item, _), times in zip(slot.kind.items, slot.times, strict=True)
        ]
    step = max((cost for _, cost in costs), default=0.0) / COST_STEPS or 1.0
    model.minimize(sum(round(cost / step) * number for number, cost in costs))


def _hint_nested(model: CpModel, nested: Iterable[_Nested], start: Iterable[LayOrder]) -> None:
    times = Counter(start)
    for each in nested:
        model.add_hint(each.lays, times[each.order])


def _hint(
    model: CpModel,
    slots: Sequence[_Slot],
    start: Iterable[LayOrder],
    demand: CutDemand,
    guess: LengthGuess,
    is_apart: bool,
) -> None:
    """The solver begins with the given lays, the fullest of a kind in its first slot."""
    waiting: dict[tuple[str, int], list[LayOrder]] = {}
    for order in sorted(start, key=lambda order: demand.guessed_mm(order, guess)):
        waiting.setdefault((order.mode, order.plies), []).append(order)
    for slot in slots:
        orders = waiting.get((slot.kind.mode, slot.kind.plies), [])
        taken = [orders.pop() for _ in range(min(1, len(orders)) if is_apart else len(orders))]
        counts: Counter[LaidKey] = Counter()
        for order in taken:
            counts.update(dict(order.counts))
        model.add_hint(slot.lays, len(taken))
        for (item, _), times in zip(slot.kind.items, slot.times, strict=True):
            model.add_hint(times, counts[item.places[0]])


def _lays_of(
    solver: CpSolver,
    slots: Iterable[_Slot],
    nested: Iterable[_Nested],
    demand: CutDemand,
    guess: LengthGuess,
) -> tuple[LayOrder, ...]:
    lays = [each.order for each in nested for _ in range(solver.value(each.lays))]
    for slot in slots:
        counts = {
            key: solver.value(times)
            for (item, _), times in zip(slot.kind.items, slot.times, strict=True)
            for key in item.places
            if solver.value(times)
        }
        if counts:
            lays += demand.packed(slot.kind.mode, slot.kind.plies, counts, guess)
    return tuple(sorted(lays, key=lambda lay: (-lay.plies, lay.mode, lay.counts)))
