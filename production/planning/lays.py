"""Lays of one fabric color: how many plies, which blocks, and where each lies on the cloth.

Plies lie face up. Lays are cut to exact quantities: the plies follow a ladder of falling powers of
two, so that every count is a sum of lays and nothing is cut too much. `production.planning.rows`
sets the blocks of a rung on the cloth. x runs along the spread, y across it, both in mm.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import cos, radians, sin

from production.planning.explode import SIDES, Shapes
from production.planning.plan import Lay, Placement, PlanError, TicketLine
from production.planning.rows import LaidBlock, PackedLay, falling, laid_block, pack_rung
from production.planning.snapshot import FabricSpec, Line, OperationSpec, WorkroomSpec

#: Positions are compared, and outlines may reach over an edge, within this many mm.
POSITION_TOL_MM = 0.01
#: Two outlines that share more than this overlap.
OVERLAP_TOL_MM2 = 0.01

#: Block, size, side.
LaidKey = tuple[str, str, str]


def placed_outline(placement: Placement, outline: Line) -> Line:
    """The cut outline where the placement puts it, as `plan.Placement` defines."""
    cosine, sine = cos(radians(placement.rotation_deg)), sin(radians(placement.rotation_deg))
    flip = -1.0 if placement.mirrored else 1.0
    return tuple(
        (
            x * cosine - flip * y * sine + placement.x_mm,
            x * sine + flip * y * cosine + placement.y_mm,
        )
        for x, y in outline
    )


@dataclass(frozen=True, slots=True)
class CuttingPrice:
    """What lays are weighed by, in money: a millimetre of cloth, a lay, a ply, a cut outline."""

    cloth_mm: float
    lay: float
    ply: float
    outline: float

    def of(self, lays: Iterable[Lay], end_allowance_mm: int) -> float:
        return sum(
            self.lay
            + lay.plies * (self.ply + self.cloth_mm * (lay.length_mm + 2 * end_allowance_mm))
            + self.outline * len(lay.placements)
            for lay in lays
        )


def cutting_price(
    fabric: FabricSpec, operations: Iterable[OperationSpec], workroom: WorkroomSpec
) -> CuttingPrice:
    """The price of cutting from the fabric's price and the minutes of the cut operations."""
    paid = dict.fromkeys(("lay", "ply", "outline"), 0.0)
    for operation in operations:
        if operation.stage == "cut" and operation.driver in paid:
            paid[operation.driver] += float(operation.minutes_each * workroom.labor_per_hour / 60)
    return CuttingPrice(cloth_mm=float(fabric.price_per_m / 1000), **paid)


def plan_lays(
    ticket: str,
    lines: Sequence[TicketLine],
    shapes: Shapes,
    fabric: FabricSpec,
    workroom: WorkroomSpec,
    price: CuttingPrice,
) -> tuple[Lay, ...]:
    """The lays that cut exactly the lines of one ticket, from the most plies to the fewest.

    Many plies save cutting, few plies fill the cloth better: each height at which the ladder of
    plies can begin is laid out, and the cheapest is taken. A ply must lie on the table with both of
    its end allowances. Raises PlanError for a block that is wider than the cloth or longer than the
    table.
    """
    heights = [1 << rung for rung in range(fabric.highest_plies.bit_length())]
    laid_out_from = [
        _lays_from(height, ticket, lines, shapes, fabric, workroom) for height in heights
    ]
    return min(laid_out_from, key=lambda lays: price.of(lays, fabric.end_allowance_mm))


def _lays_from(
    highest_plies: int,
    ticket: str,
    lines: Sequence[TicketLine],
    shapes: Shapes,
    fabric: FabricSpec,
    workroom: WorkroomSpec,
) -> tuple[Lay, ...]:
    longest_mm = workroom.table_length_mm - 2 * fabric.end_allowance_mm
    laid = _laid_blocks(lines, shapes, fabric, longest_mm)
    lays: list[Lay] = []
    for plies, counts in ply_ladder(asked(lines), highest_plies):
        rung = tuple(sorted(((laid[key], n) for key, n in counts.items()), key=falling))
        packed = pack_rung(
            rung, float(fabric.usable_width_mm), float(longest_mm), float(workroom.block_gap_mm)
        )
        for one in packed:
            code = f"{ticket}-L{len(lays) + 1}"
            lays.append(_lay(code, plies, one, fabric.usable_width_mm))
    return tuple(lays)


def _lay(code: str, plies: int, packed: PackedLay, width_mm: int) -> Lay:
    return Lay(
        lay=code,
        mode="face_up",
        plies=plies,
        usable_width_mm=width_mm,
        length_mm=round(packed.length_mm, 6),
        efficiency=packed.area_mm2 / (packed.length_mm * width_mm),
        lower_bound_mm=packed.area_mm2 / width_mm,
        box_rows_mm=round(packed.box_rows_mm, 6),
        placements=packed.placements,
    )


def asked(lines: Iterable[TicketLine]) -> Counter[LaidKey]:
    """How many pieces of each block, size and side the lines ask for; none with a count of 0."""
    counts: Counter[LaidKey] = Counter()
    for line in lines:
        for side, count in (("left", line.left), ("right", line.right), ("single", line.single)):
            if count:
                counts[line.block, line.size, side] += count
    return counts


def laid_out(lays: Iterable[Lay]) -> Counter[LaidKey]:
    """How many pieces of each block, size and side the lays cut."""
    counts: Counter[LaidKey] = Counter()
    for lay in lays:
        for place in lay.placements:
            counts[place.block, place.size, place.side] += lay.plies
    return counts


def ply_ladder(
    counts: Mapping[LaidKey, int], highest_plies: int
) -> list[tuple[int, dict[LaidKey, int]]]:
    """Rungs of (plies, how often each key lies in them); plies x places add up to the counts.

    >>> ply_ladder({("FR", "S", "left"): 11}, 5)
    [(4, {('FR', 'S', 'left'): 2}), (2, {('FR', 'S', 'left'): 1}), (1, {('FR', 'S', 'left'): 1})]
    """
    rungs = []
    rest = dict(counts)
    plies = 1 << (highest_plies.bit_length() - 1)
    while plies:
        rung = {key: n // plies for key, n in rest.items() if n >= plies}
        if rung:
            rungs.append((plies, rung))
        rest = {key: n % plies for key, n in rest.items()}
        plies //= 2
    return rungs


def _laid_blocks(
    lines: Iterable[TicketLine], shapes: Shapes, fabric: FabricSpec, longest_mm: int
) -> dict[LaidKey, LaidBlock]:
    found = {}
    for block, size, side in asked(lines):
        laid = laid_block(shapes[block, size], side)
        if laid.breadth_mm > fabric.usable_width_mm:
            raise PlanError(
                f"Block {block} in size {size} is {laid.breadth_mm:.0f} mm wide, but {fabric.name} "
                f"has {fabric.usable_width_mm} mm of usable width. Cut the block with a style line "
                "or choose a wider fabric."
            )
        if laid.depth_mm > longest_mm:
            raise PlanError(
                f"Block {block} in size {size} is {laid.depth_mm:.0f} mm long, but the table holds "
                f"{longest_mm} mm between the end allowances. Cut the block with a style line or "
                "use a longer table."
            )
        found[block, size, side] = laid
    return found


def validate_lay(lay: Lay, shapes: Shapes, fabric: FabricSpec, gap_mm: float) -> list[str]:
    """What is wrong with a lay, in words; empty when it can be cut as it lies.

    Outlines are checked as true shapes, independent of how they were placed.
    """
    faults = _lay_faults(lay, fabric)
    known: list[tuple[str, Line]] = []
    for place in lay.placements:
        words = f"{place.block} {place.size} {place.side} at ({place.x_mm:.0f}, {place.y_mm:.0f})"
        shape = shapes.get((place.block, place.size))
        if shape is None:
            faults.append(f"{words} has no shape")
            continue
        outline = placed_outline(place, shape.cut_outline_mm)
        faults += [f"{words} {fault}" for fault in _turn_faults(place, shape.pairing, fabric)]
        if _outside(outline, lay):
            faults.append(f"{words} leaves the cloth")
        known.append((words, outline))
    return [f"{lay.lay}: {fault}" for fault in faults + _meeting_faults(known, gap_mm)]


def _meeting_faults(known: Sequence[tuple[str, Line]], gap_mm: float) -> list[str]:
    import shapely

    polygons = [shapely.Polygon(outline) for _, outline in known]
    sound = [polygon.is_valid for polygon in polygons]
    faults = [
        f"the outline of {words} crosses itself"
        for (words, _), valid in zip(known, sound, strict=True)
        if not valid
    ]
    near_mm = max(gap_mm - POSITION_TOL_MM, 0.0)
    tree = shapely.STRtree(polygons)
    for one, other in tree.query(polygons, predicate="dwithin", distance=near_mm).T.tolist():
        if one >= other or not (sound[one] and sound[other]):
            continue
        pair = f"{known[one][0]} and {known[other][0]}"
        if polygons[one].intersection(polygons[other]).area > OVERLAP_TOL_MM2:
            faults.append(f"{pair} overlap")
        elif near_mm:
            faults.append(f"{pair} are nearer than {gap_mm:g} mm")
    return faults


def _lay_faults(lay: Lay, fabric: FabricSpec) -> list[str]:
    faults = []
    if not 1 <= lay.plies <= fabric.highest_plies:
        faults.append(f"{lay.plies} plies, allowed are 1 to {fabric.highest_plies}")
    if lay.usable_width_mm > fabric.usable_width_mm:
        faults.append(f"is wider than the {fabric.usable_width_mm} mm of the cloth")
    return faults


def _turn_faults(place: Placement, pairing: str, fabric: FabricSpec) -> list[str]:
    faults = []
    turns = (0.0,) if fabric.nap == "one_way" else (0.0, 180.0)
    if place.rotation_deg not in turns:
        faults.append(f"lies at {place.rotation_deg:g} degrees, against the nap")
    if place.side not in SIDES[pairing]:
        faults.append(f"is a side that a {pairing} block does not have")
    if place.mirrored != (place.side == "right"):
        faults.append("is mirrored" if place.mirrored else "is not mirrored")
    return faults


def _outside(outline: Line, lay: Lay) -> bool:
    return any(
        not (
            -POSITION_TOL_MM <= x <= lay.length_mm + POSITION_TOL_MM
            and -POSITION_TOL_MM <= y <= lay.usable_width_mm + POSITION_TOL_MM
        )
        for x, y in outline
    )
