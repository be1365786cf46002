"""Dye lots: two lots of one color rarely match, so a jacket's blocks of a color come from one."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from production.planning.cutting.rows import LaidKey

#: Pieces of one fabric color that each jacket gets, by its code.
Needs = Mapping[str, Counter[LaidKey]]
#: Work that the search for a share may do, in the solver's own measure, so that the same ticket
#: always gets the same share however busy the machine is.
MOST_WORK = 4.0


def dye_lot_groups(
    areas: Mapping[str, float], lots: Mapping[str, float]
) -> dict[str | None, tuple[str, ...]]:
    """Which jackets are cut from which dye lot; those under None are bought as one lot.

    `areas` are the jackets' blocks of one color and `lots` what each dye lot holds, both in mm2.
    The smallest lot that holds all is taken; otherwise the largest lots first, in the order of the
    jackets, so that members of one club stay together.
    """
    needed = sum(areas.values())
    whole = [lot for lot in lots if lots[lot] >= needed]
    if whole:
        return {min(whole, key=lambda lot: (lots[lot], lot)): tuple(areas)}
    groups: dict[str | None, tuple[str, ...]] = {}
    left = dict(areas)
    for lot in sorted(lots, key=lambda lot: (-lots[lot], lot)):
        room, chosen = lots[lot], []
        for jacket, area in left.items():
            if area <= room:
                room -= area
                chosen.append(jacket)
        if chosen:
            groups[lot] = tuple(chosen)
            left = {jacket: area for jacket, area in left.items() if jacket not in chosen}
    if left:
        groups[None] = tuple(left)
    return groups


@dataclass(frozen=True, slots=True)
class CutUnit:
    """The least part of a lay that is cut alone (one length of cloth, or two face to face): how
    many of it there are, what one takes off a bolt, and the pieces that it gives."""

    count: int
    takes_mm: int
    width_mm: int
    pieces: Counter[LaidKey]


def whole_jackets(
    units: Sequence[CutUnit],
    jackets: Needs,
    rooms: Sequence[tuple[int, int]],
    room_mm: int,
    given: Counter[LaidKey] | None = None,
    given_elsewhere: Counter[LaidKey] | None = None,
) -> tuple[tuple[int, ...], tuple[str, ...]]:
    """How many of each unit one dye lot gives, and which jackets get all their pieces from these.

    The rest of the units serves the rest of the jackets. `rooms` are length and width of the lot's
    bolts, `room_mm` the most that is taken in all; as much as possible is. Pieces that the lot has
    `given` already count here, those `given_elsewhere` for the rest of the jackets. Nothing and
    nobody when no share of the units makes whole jackets.
    """
    from ortools.sat.python import cp_model

    kinds: dict[tuple[tuple[LaidKey, int], ...], list[str]] = defaultdict(list)
    for jacket, needs in jackets.items():
        kinds[tuple(sorted(needs.items()))].append(jacket)
    model = cp_model.CpModel()
    on = [
        [
            model.new_int_var(0, unit.count if unit.width_mm <= width_mm else 0, "")
            for _, width_mm in rooms
        ]
        for unit in units
    ]
    served = [model.new_int_var(0, len(codes), "") for codes in kinds.values()]
    taken = [cp_model.LinearExpr.sum(row) for row in on]
    for unit, count in zip(units, taken, strict=True):
        model.add(count <= unit.count)
    takes_mm = [unit.takes_mm for unit in units]
    for number, (length_mm, _) in enumerate(rooms):
        used_mm = cp_model.LinearExpr.weighted_sum([row[number] for row in on], takes_mm)
        model.add_linear_constraint(used_mm, 0, length_mm)
    total_mm = cp_model.LinearExpr.weighted_sum(taken, takes_mm)
    model.add_linear_constraint(total_mm, 0, room_mm)
    given, given_elsewhere = given or Counter(), given_elsewhere or Counter()
    for key in {key for kind in kinds for key, _ in kind}:
        here = given[key] + sum(
            count * unit.pieces[key] for count, unit in zip(taken, units, strict=True)
        )
        all_pieces = given[key] + given_elsewhere[key]
        all_pieces += sum(unit.count * unit.pieces[key] for unit in units)
        each = [dict(kind).get(key, 0) for kind in kinds]
        wanted = sum(count * need for count, need in zip(served, each, strict=True))
        in_all = sum(len(codes) * need for codes, need in zip(kinds.values(), each, strict=True))
        model.add(here >= wanted)
        model.add(all_pieces - here >= in_all - wanted)
    # Where pieces are given, jackets that need no cloth beyond these are served as well.
    more = cp_model.LinearExpr.sum(served) if given else 0
    model.maximize(total_mm * (len(jackets) + 1) + more)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 1
    solver.parameters.max_deterministic_time = MOST_WORK
    if solver.solve(model) not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return tuple(0 for _ in units), ()
    chosen = {
        jacket
        for codes, count in zip(kinds.values(), served, strict=True)
        for jacket in codes[: solver.value(count)]
    }
    counts = tuple(sum(solver.value(number) for number in row) for row in on)
    return counts, tuple(jacket for jacket in jackets if jacket in chosen)


def jackets_of_lots(
    pieces: Mapping[str | None, Counter[LaidKey]], jackets: Needs
) -> dict[str | None, tuple[str, ...]]:
    """Which jackets the pieces cut from each dye lot make up, in the order of the jackets. Jackets
    that no single lot makes up are left out."""
    left = dict(jackets)
    found: dict[str | None, tuple[str, ...]] = {}
    lots = list(pieces)
    for number, lot in enumerate(lots):
        others = Counter[LaidKey]()
        for other in lots[number + 1 :]:
            others.update(pieces[other])
        found[lot] = _in_order(pieces[lot], others, left)
        left = {code: needs for code, needs in left.items() if code not in found[lot]}
    return found


def _in_order(here: Counter[LaidKey], others: Counter[LaidKey], jackets: Needs) -> tuple[str, ...]:
    """The first jackets that these pieces make up; by search where those would leave the others
    without what they need."""
    rest, chosen = Counter(here), []
    for code, needs in jackets.items():
        if needs <= rest:
            rest -= needs
            chosen.append(code)
    waiting = Counter[LaidKey]()
    for code in jackets.keys() - set(chosen):
        waiting.update(jackets[code])
    if waiting <= others:
        return tuple(chosen)
    units = [CutUnit(1, 1, 0, here), CutUnit(1, 1, 1, others)]
    return whole_jackets(units, jackets, [(1, 0)], 1)[1] or tuple(chosen)
