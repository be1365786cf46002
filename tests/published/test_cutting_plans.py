"""Cut orders of small tickets against the cheapest of all lay plans that there are.

The oracle is this test's own: it lists every lay that can be laid (mode, plies, how often each
block lies in it) and takes the cheapest way to reach exactly what is asked. It shares the rule of
guessed lengths with the program, worked out here anew from the sides of rectangles, and nothing
else. Published instances of lay planning with end allowances, tables and modes are not known to us.
All blocks, prices and cloths are invented.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from functools import cache
from itertools import product
from typing import Any

import pytest

from production.planning.cutting.cut_demand import CutDemand, LengthGuess
from production.planning.cutting.cut_orders import Aim, aim_price, plan_cut_order
from production.planning.cutting.cutting_prices import CuttingMinutes, CuttingPrice
from production.planning.cutting.rows import LaidKey
from production.planning.explode import shapes_by_key
from production.planning.snapshot import FabricSpec, WorkroomSpec
from tests.production.planning_factories import make_fabric, make_shape, make_workroom, rectangle

GUESS = LengthGuess(efficiency=0.8, end_mm=50, filled=0.98)
#: 12 money a metre of cloth; 9, 1.4 and 0.9 minutes at 0.4 money a minute.
PRICE = CuttingPrice(
    cloth_mm=0.012,
    lay=3.6,
    ply=0.56,
    outline=0.36,
    minutes=CuttingMinutes(Decimal(9), Decimal("1.4"), Decimal("0.9")),
)
#: Depth along the cloth and breadth across it of each block: a front, a back, a collar.
SIDES_MM = {"FR": (600, 300), "BK": (640, 560), "CO": (420, 90)}
FRONTS = (("FR", "S", "left"), ("FR", "S", "right"))
BACK, COLLAR = ("BK", "S", "single"), ("CO", "S", "single")


@dataclass(frozen=True)
class Lay:
    """One lay that can be laid: what it cuts of each key, and what it costs."""

    cuts: tuple[int, ...]
    cost: float


def all_lays(
    counts: Mapping[LaidKey, int], fabric: FabricSpec, room: WorkroomSpec, price: CuttingPrice
) -> Iterable[Lay]:
    keys = list(counts)
    table_mm = room.table_length_mm - 2 * fabric.end_allowance_mm

    def block_mm(key: LaidKey, width_mm: int) -> int:
        depth_mm, breadth_mm = SIDES_MM[key[0]]
        return math.ceil(min(depth_mm * breadth_mm / (width_mm * GUESS.efficiency), depth_mm))

    largest_mm = max(block_mm(key, fabric.usable_width_mm) for key in keys)
    most_mm = max(math.floor(GUESS.filled * table_mm) - GUESS.end_mm, largest_mm)
    modes = {"face_up"} | ({room.spreading} - {"face_up"})
    for mode, plies in product(sorted(modes), range(1, fabric.highest_plies + 1)):
        is_up = mode == "face_up"
        if not is_up and plies % 2:
            continue
        width_mm = fabric.usable_width_mm // (2 if mode == "folded" else 1)
        times = [
            range(
                0
                if (not is_up and key[2] == "right") or SIDES_MM[key[0]][1] > width_mm
                else (counts[key] + room.over_cut) // (plies // (1 if is_up else 2) or 1),
                -1,
                -1,
            )
            for key in keys
        ]
        for lying in product(*times):
            if not any(lying):
                continue
            filled_mm = sum(n * block_mm(key, width_mm) for n, key in zip(lying, keys, strict=True))
            if filled_mm > most_mm:
                continue
            depths = [SIDES_MM[key[0]][0] for n, key in zip(lying, keys, strict=True) if n]
            length_mm = max(filled_mm + GUESS.end_mm, *depths) + 2 * fabric.end_allowance_mm
            lengths = plies // 2 if mode == "folded" else plies
            cost = price.lay + lengths * (price.ply + price.cloth_mm * length_mm)
            yield Lay(
                tuple(cuts(mode, plies, dict(zip(keys, lying, strict=True)))),
                cost + price.outline * sum(lying),
            )


def cuts(mode: str, plies: int, lying: Mapping[LaidKey, int]) -> Iterable[int]:
    for (block, size, side), n in lying.items():
        if mode == "face_up" or side == "single":
            yield plies * n
        else:
            yield plies // 2 * lying[block, size, "left"]


def cheapest(
    counts: Mapping[LaidKey, int], fabric: FabricSpec, room: WorkroomSpec, price: CuttingPrice
) -> float:
    lays = list(all_lays(counts, fabric, room, price))

    @cache
    def rest(waiting: tuple[int, ...]) -> float:
        """The least that the pieces that still wait can cost; below 0 they are over-cut."""
        if all(n <= 0 for n in waiting):
            return 0.0
        first = next(at for at, n in enumerate(waiting) if n > 0)
        found = math.inf
        for lay in lays:
            # Lays can be cut in any order, so one that serves the first piece is cut now.
            left = tuple(n - cut for n, cut in zip(waiting, lay.cuts, strict=True))
            if lay.cuts[first] and min(left) >= -room.over_cut:
                found = min(found, lay.cost + rest(left))
        return found

    return rest(tuple(counts.values()))


def demand_of(counts: Mapping[LaidKey, int], fabric: FabricSpec, room: WorkroomSpec) -> CutDemand:
    shapes = [
        make_shape(
            block,
            outline=rectangle(*sides),
            pairing={"FR": "pair", "BK": "fold", "CO": "single"}[block],
        )
        for block, sides in SIDES_MM.items()
    ]
    return CutDemand(counts, shapes_by_key(shapes), fabric, room)


def room_of(**values: Any) -> WorkroomSpec:
    return make_workroom(**{"table_length_mm": 1500, "block_gap_mm": 0, **values})


CASES = {
    "one kind": ({BACK: 5}, room_of()),
    "two kinds": ({BACK: 3, COLLAR: 4}, room_of()),
    "a jacket twice": ({FRONTS[0]: 2, FRONTS[1]: 2, BACK: 2, COLLAR: 2}, room_of()),
    "odd numbers": ({FRONTS[0]: 3, FRONTS[1]: 3, COLLAR: 5}, room_of()),
    "a side alone": ({FRONTS[0]: 1, FRONTS[1]: 3, BACK: 2}, room_of()),
    "short table": ({FRONTS[0]: 2, FRONTS[1]: 2, BACK: 3}, room_of(table_length_mm=700)),
    "over-cut": ({BACK: 5, COLLAR: 2}, room_of(over_cut=1)),
    "tool": ({BACK: 4, COLLAR: 4}, room_of(tool_highest_plies=2)),
    "face to face": (
        {FRONTS[0]: 3, FRONTS[1]: 3, BACK: 2, COLLAR: 3},
        room_of(spreading="face_to_face"),
    ),
    "folded": ({FRONTS[0]: 3, FRONTS[1]: 3, COLLAR: 4}, room_of(spreading="folded")),
}


@pytest.mark.parametrize("aim", Aim)
@pytest.mark.parametrize("case", CASES)
def test_the_program_finds_the_cheapest_of_all_lay_plans(case: str, aim: Aim) -> None:
    counts, room = CASES[case]
    fabric = make_fabric(
        usable_width_mm=1000,
        end_allowance_mm=20,
        highest_plies=min(4, room.tool_highest_plies),
    )
    price = aim_price(PRICE, room, aim)
    found = plan_cut_order(demand_of(counts, fabric, room), price, GUESS)
    # Costs are counted in steps of a millionth of the dearest, which may differ in the last place.
    assert found.cost == pytest.approx(cheapest(counts, fabric, room, price), rel=1e-5)


def test_least_fabric_and_least_time_are_not_the_same_lays() -> None:
    # Four backs, 448 mm by area each. One ply: 4 x 448 + 50 + 2 x 20 = 1882 mm of cloth, and
    # 9 + 1.4 + 4 x 0.9 = 14.0 minutes. Two plies: 2 x (2 x 448 + 50 + 40) = 1972 mm, and
    # 9 + 2 x 1.4 + 2 x 0.9 = 13.6 minutes. Four plies take 2720 mm and 15.5 minutes.
    fabric = make_fabric(usable_width_mm=1000, highest_plies=4, end_allowance_mm=20)
    demand = demand_of({BACK: 4}, fabric, room_of(table_length_mm=3000))

    def plies(aim: Aim) -> list[int]:
        price = aim_price(PRICE, demand.workroom, aim)
        return [lay.plies for lay in plan_cut_order(demand, price, GUESS).lays]

    assert plies(Aim.FABRIC) == [1]
    assert plies(Aim.TIME) == [2]
