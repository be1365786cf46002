"""From what is to lie in one lay to the lay itself, nested and checked, and back again.

A nest that cannot be cut as it lies is never used.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from production.planning.cutting.cut_demand import CutDemand, LayOrder
from production.planning.cutting.lays import (
    FACE_TO_FACE,
    POSITION_TOL_MM,
    allowed_turns,
    lay_width_mm,
    validate_lay,
)
from production.planning.cutting.row_lays import lay_of_rows
from production.planning.cutting.rows import (
    box_rows_mm,
    falling,
    laid_blocks,
    pack_rung,
    polygon_area_mm2,
)
from production.planning.nesting import ROWS, Nest, NestBlock, Strip
from production.planning.plan import Lay, Placement
from production.planning.snapshot import FabricSpec

TURN_THE_CLOTH = "turn the cloth at each ply, so that the nap of all plies runs the same way"


@dataclass(frozen=True, slots=True)
class LaidOrder:
    """The lays that one order became, still without codes; more than one only in rows."""

    lays: tuple[Lay, ...]
    method: str
    note: str


def nest_blocks(order: LayOrder, demand: CutDemand) -> tuple[NestBlock, ...]:
    """What the order asks the nesting for; a right block lies mirrored."""
    found = []
    for (block, size, side), count in order.counts:
        shape = demand.shapes[block, size]
        flip = -1.0 if side == "right" else 1.0
        found.append(
            NestBlock(
                key=(block, size, side),
                name=f"Block {block} in size {size}",
                outline=tuple((x, flip * y) for x, y in shape.cut_outline_mm),
                count=count,
                turns=allowed_turns(shape, demand.fabric),
            )
        )
    return tuple(found)


def strip_of(order: LayOrder, demand: CutDemand) -> Strip:
    return Strip(
        width_mm=float(lay_width_mm(demand.fabric, order.mode)),
        gap_mm=float(demand.workroom.block_gap_mm),
        longest_mm=float(demand.longest_mm),
    )


def is_too_long(nest: Nest, demand: CutDemand) -> bool:
    return nest.length_mm > demand.longest_mm + POSITION_TOL_MM


def laid_order(order: LayOrder, nest: Nest, demand: CutDemand) -> LaidOrder:
    """The lay of a nest that fits on the table; rows where it cannot be cut as it lies."""
    lay = _nested_lay(order, nest, demand)
    faults = validate_lay(
        lay, demand.shapes, demand.fabric, demand.workroom.block_gap_mm, demand.workroom
    )
    if faults:
        note = f"the nest could not be cut ({faults[0].removeprefix(': ')}); rows are used"
        return LaidOrder(_in_rows(order, demand), ROWS, _noted(order, demand, note))
    return LaidOrder((lay,), nest.method, _noted(order, demand, nest.note))


def _noted(order: LayOrder, demand: CutDemand, note: str) -> str:
    if order.mode != FACE_TO_FACE or demand.fabric.nap != "one_way":
        return note
    return f"{note}; {TURN_THE_CLOTH}" if note else TURN_THE_CLOTH


def _nested_lay(order: LayOrder, nest: Nest, demand: CutDemand) -> Lay:
    width_mm = lay_width_mm(demand.fabric, order.mode)
    area_mm2 = sum(
        count * polygon_area_mm2(demand.shapes[key[0], key[1]].cut_outline_mm)
        for key, count in order.counts
    )
    return Lay(
        lay="",
        mode=order.mode,
        plies=order.plies,
        usable_width_mm=width_mm,
        length_mm=round(nest.length_mm, 6),
        efficiency=area_mm2 / (nest.length_mm * width_mm),
        lower_bound_mm=area_mm2 / width_mm,
        box_rows_mm=round(_box_rows_mm(order, demand), 6),
        placements=tuple(
            Placement(
                block=place.key[0],
                size=place.key[1],
                side=place.key[2],
                x_mm=round(place.x_mm, 6),
                y_mm=round(place.y_mm, 6),
                rotation_deg=place.rotation_deg,
                mirrored=place.key[2] == "right",
            )
            for place in nest.places
        ),
    )


def _box_rows_mm(order: LayOrder, demand: CutDemand) -> float:
    width_mm = lay_width_mm(demand.fabric, order.mode)
    laid = laid_blocks(dict(order.counts), demand.shapes, _cloth(order, demand), demand.longest_mm)
    boxes = [
        (laid[key].depth_mm, laid[key].breadth_mm)
        for key, count in order.counts
        for _ in range(count)
    ]
    return box_rows_mm(boxes, width_mm, demand.workroom.block_gap_mm)


def _in_rows(order: LayOrder, demand: CutDemand) -> tuple[Lay, ...]:
    cloth = _cloth(order, demand)
    laid = laid_blocks(dict(order.counts), demand.shapes, cloth, demand.longest_mm)
    rung = tuple(sorted(((laid[key], count) for key, count in order.counts), key=falling))
    packed = pack_rung(
        rung,
        float(cloth.usable_width_mm),
        float(demand.longest_mm),
        float(demand.workroom.block_gap_mm),
    )
    return tuple(
        lay_of_rows("", order.mode, order.plies, one, cloth.usable_width_mm) for one in packed
    )


def _cloth(order: LayOrder, demand: CutDemand) -> FabricSpec:
    """The fabric as wide as blocks may lie on it."""
    return replace(demand.fabric, usable_width_mm=lay_width_mm(demand.fabric, order.mode))


def coded(ticket: str, orders: Sequence[LaidOrder]) -> dict[str, tuple[Lay, str, str]]:
    """Lays with method and note by their codes, from the most plies to the fewest."""
    known = [(lay, laid.method, laid.note) for laid in orders for lay in laid.lays]
    known.sort(key=lambda one: (-one[0].plies, -one[0].length_mm))
    return {
        f"{ticket}-L{number}": (replace(lay, lay=f"{ticket}-L{number}"), method, note)
        for number, (lay, method, note) in enumerate(known, start=1)
    }
