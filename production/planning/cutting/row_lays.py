"""Lays in plain rows, all plies face up: made at once, and what better lays are compared with.

They cut exact quantities: the plies follow a ladder of falling powers of two, so that every count
is a sum of lays and nothing is cut too much. `rows` sets the blocks of a rung.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import inf

from production.planning.cutting.cutting_prices import CuttingPrice
from production.planning.cutting.lays import FACE_UP, asked, highest_plies, longest_lay_mm
from production.planning.cutting.rows import (
    LaidKey,
    PackedLay,
    falling,
    laid_blocks,
    pack_rung,
    polygon_area_mm2,
)
from production.planning.explode import Shapes
from production.planning.plan import Lay, PlanError, TicketLine
from production.planning.snapshot import FabricSpec, WorkroomSpec


def plan_lays(
    ticket: str,
    lines: Sequence[TicketLine],
    shapes: Shapes,
    fabric: FabricSpec,
    workroom: WorkroomSpec,
    price: CuttingPrice,
) -> tuple[Lay, ...]:
    """The lays in plain rows that cut exactly the lines of one ticket, all plies face up, from the
    most plies to the fewest.

    Many plies save cutting, few plies fill the cloth better: each height at which the ladder of
    plies can begin is laid out, and the cheapest is taken. A ply must lie on the table with both of
    its end allowances. Raises PlanError for a block that is wider than the cloth or longer than the
    table, and for settings with which nothing can be cut.
    """
    refuse_no_cutting(fabric, workroom)
    heights = [1 << rung for rung in range(highest_plies(fabric, workroom).bit_length())]
    weighed = price.weighed(workroom).on_width(fabric.usable_width_mm)
    counts = asked(lines)
    covered_mm = covered_area_mm2(counts, shapes) / fabric.usable_width_mm
    best: tuple[Lay, ...] = ()
    best_price = inf
    for height in reversed(heights):
        rungs = ply_ladder(counts, height)
        outlines = sum(sum(rung.values()) for _, rung in rungs)
        if weighed.outline * outlines + weighed.cloth_mm * covered_mm > best_price:
            continue  # dearer even on cloth without waste, and long rows take their time
        lays = _lays_of(rungs, ticket, shapes, fabric, workroom)
        its_price = weighed.of(lays, fabric.end_allowance_mm)
        if its_price <= best_price:
            best, best_price = lays, its_price
    return best


def covered_area_mm2(counts: Mapping[LaidKey, int], shapes: Shapes) -> float:
    return sum(
        count * polygon_area_mm2(shapes[block, size].cut_outline_mm)
        for (block, size, _), count in counts.items()
    )


def refuse_no_cutting(fabric: FabricSpec, workroom: WorkroomSpec) -> None:
    """Raises PlanError for settings with which no lay can be cut at all."""
    if fabric.highest_plies < 1:
        raise PlanError(
            f"{fabric.name} may be cut in {fabric.highest_plies} plies. Give it 1 or more."
        )
    if workroom.tool_highest_plies < 1:
        raise PlanError(
            f"The cutting tool goes through {workroom.tool_highest_plies} plies. Give the workroom "
            "a tool for 1 or more."
        )
    if fabric.usable_width_mm < 1:
        raise PlanError(
            f"{fabric.name} has {fabric.usable_width_mm} mm of usable width. Measure the cloth and "
            "enter its width."
        )


def _lays_of(
    rungs: Sequence[tuple[int, dict[LaidKey, int]]],
    ticket: str,
    shapes: Shapes,
    fabric: FabricSpec,
    workroom: WorkroomSpec,
) -> tuple[Lay, ...]:
    longest_mm = longest_lay_mm(fabric, workroom)
    keys = dict.fromkeys(key for _, rung_counts in rungs for key in rung_counts)
    laid = laid_blocks(keys, shapes, fabric, longest_mm)
    lays: list[Lay] = []
    for plies, rung_counts in rungs:
        rung = tuple(sorted(((laid[key], n) for key, n in rung_counts.items()), key=falling))
        packed = pack_rung(
            rung, float(fabric.usable_width_mm), float(longest_mm), float(workroom.block_gap_mm)
        )
        for one in packed:
            code = f"{ticket}-L{len(lays) + 1}"
            lays.append(lay_of_rows(code, FACE_UP, plies, one, fabric.usable_width_mm))
    return tuple(lays)


def lay_of_rows(code: str, mode: str, plies: int, packed: PackedLay, width_mm: int) -> Lay:
    return Lay(
        lay=code,
        mode=mode,
        plies=plies,
        usable_width_mm=width_mm,
        length_mm=round(packed.length_mm, 6),
        efficiency=packed.area_mm2 / (packed.length_mm * width_mm),
        lower_bound_mm=packed.area_mm2 / width_mm,
        box_rows_mm=round(packed.box_rows_mm, 6),
        placements=packed.placements,
    )


def ply_ladder(counts: Mapping[LaidKey, int], highest: int) -> list[tuple[int, dict[LaidKey, int]]]:
    """Rungs of (plies, how often each key lies in them); plies x places add up to the counts.

    >>> ply_ladder({("FR", "S", "left"): 11}, 5)
    [(4, {('FR', 'S', 'left'): 2}), (2, {('FR', 'S', 'left'): 1}), (1, {('FR', 'S', 'left'): 1})]
    """
    rungs = []
    rest = dict(counts)
    plies = 1 << (highest.bit_length() - 1)
    while plies:
        rung = {key: n // plies for key, n in rest.items() if n >= plies}
        if rung:
            rungs.append((plies, rung))
        rest = {key: n % plies for key, n in rest.items()}
        plies //= 2
    return rungs
