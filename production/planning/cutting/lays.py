"""Lays of one fabric color: how they count, how blocks may lie, and what is wrong with a lay.

`row_lays` sets plain ones, `cutting` better ones. x runs
along the spread, y across it, both in mm; plies count layers of cloth.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache
from math import cos, radians, sin

from production.planning.cutting.rows import LaidKey
from production.planning.explode import SIDES, Shapes
from production.planning.plan import Lay, Placement, TicketLine
from production.planning.snapshot import BlockShape, FabricSpec, Line, WorkroomSpec

#: Positions are compared, and outlines may reach over an edge, within this many mm.
POSITION_TOL_MM = 0.01
#: Two outlines that share more than this overlap.
OVERLAP_TOL_MM2 = 0.01
#: An outline this near to its mirror image is its own mirror image.
SYMMETRY_TOL_MM = 0.1

FACE_UP, FACE_TO_FACE, FOLDED = "face_up", "face_to_face", "folded"
#: The modes of spreading that a workroom allows, by its setting.
MODES: Mapping[str, tuple[str, ...]] = {
    FACE_UP: (FACE_UP,),
    FACE_TO_FACE: (FACE_UP, FACE_TO_FACE),
    FOLDED: (FACE_UP, FOLDED),
}
#: What a layer that lies face down cuts where a face-up one cuts the first.
OTHER_SIDE = {"left": "right", "right": "left", "single": "single"}


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


def asked(lines: Iterable[TicketLine]) -> Counter[LaidKey]:
    """How many pieces of each block, size and side the lines ask for; none with a count of 0."""
    counts: Counter[LaidKey] = Counter()
    for line in lines:
        for side, count in (("left", line.left), ("right", line.right), ("single", line.single)):
            if count:
                counts[line.block, line.size, side] += count
    return counts


def layers_by_face(lay: Lay) -> tuple[int, int]:
    """How many layers lie face up and how many face down. The lowest layer lies face up; in a
    face-to-face or folded lay every second one lies face down."""
    if lay.mode == FACE_UP:
        return lay.plies, 0
    return lay.plies - lay.plies // 2, lay.plies // 2


def layer_pieces(lay: Lay, layer: int) -> Counter[LaidKey]:
    """What one layer of the lay cuts; layer 1 is the lowest."""
    if not 1 <= layer <= lay.plies:
        raise ValueError(f"{lay.lay} has layers 1 to {lay.plies}, not {layer}")
    is_face_down = lay.mode != FACE_UP and layer % 2 == 0
    return Counter(
        (place.block, place.size, OTHER_SIDE[place.side] if is_face_down else place.side)
        for place in lay.placements
    )


def laid_out(lays: Iterable[Lay]) -> Counter[LaidKey]:
    """How many pieces of each block, size and side the lays cut."""
    counts: Counter[LaidKey] = Counter()
    for lay in lays:
        up, down = layers_by_face(lay)
        for place in lay.placements:
            counts[place.block, place.size, place.side] += up
            if down:
                counts[place.block, place.size, OTHER_SIDE[place.side]] += down
    return counts


def over_cut(lines: Iterable[TicketLine], lays: Iterable[Lay]) -> Counter[LaidKey]:
    """The pieces that lays cut beyond what the lines ask for."""
    return laid_out(lays) - asked(lines)


def spread_count(lay: Lay) -> int:
    """How often the length of the lay is spread: a folded length makes two layers."""
    return lay.plies // 2 if lay.mode == FOLDED else lay.plies


def ply_pieces(lay: Lay, number: int) -> Counter[LaidKey]:
    """What one length of cloth yields: one layer, or both layers of a folded one."""
    layers = lay.plies // spread_count(lay)
    first = (number - 1) * layers + 1
    pieces: Counter[LaidKey] = Counter()
    for layer in range(first, first + layers):
        pieces.update(layer_pieces(lay, layer))
    return pieces


def lay_width_mm(fabric: FabricSpec, mode: str) -> int:
    """The width that blocks may lie on; the fold of a folded lay lies along its far edge."""
    return fabric.usable_width_mm // 2 if mode == FOLDED else fabric.usable_width_mm


def cloth_width_mm(lay: Lay) -> int:
    """The width of the cloth that a lay takes, unfolded."""
    return 2 * lay.usable_width_mm if lay.mode == FOLDED else lay.usable_width_mm


def width_share(lay: Lay, width_mm: int) -> float:
    """The part of a cloth so wide that a lay takes, counted by area: 1 where it takes all of the
    width, less on a remnant or bolt that is narrower."""
    whole_mm = width_mm // 2 if lay.mode == FOLDED else width_mm
    return lay.usable_width_mm / whole_mm


def highest_plies(fabric: FabricSpec, workroom: WorkroomSpec) -> int:
    return min(fabric.highest_plies, workroom.tool_highest_plies)


def longest_lay_mm(fabric: FabricSpec, workroom: WorkroomSpec) -> int:
    """What the table holds between the end allowances."""
    return workroom.table_length_mm - 2 * fabric.end_allowance_mm


def allowed_turns(shape: BlockShape, fabric: FabricSpec) -> tuple[float, ...]:
    """Degrees by which a block may be turned on the cloth."""
    if shape.is_free_on_grain:
        return (0.0, 90.0, 180.0, 270.0)
    return (0.0,) if fabric.nap == "one_way" else (0.0, 180.0)


@lru_cache(maxsize=4096)
def is_own_mirror_image(outline: Line) -> bool:
    """Whether the outline mirrored across its own middle line along the grain is the same."""
    import shapely

    middle = min(y for _, y in outline) + max(y for _, y in outline)
    mirrored = shapely.LinearRing([(x, middle - y) for x, y in outline])
    off_mm = shapely.hausdorff_distance(shapely.LinearRing(outline), mirrored)
    return bool(off_mm <= SYMMETRY_TOL_MM)


def validate_lay(
    lay: Lay,
    shapes: Shapes,
    fabric: FabricSpec,
    gap_mm: float,
    workroom: WorkroomSpec | None = None,
) -> list[str]:
    """What is wrong with a lay, in words; empty when it can be cut as it lies.

    Outlines are checked as true shapes, independent of how they were placed. With a workroom, its
    table, tool and way of spreading are checked as well.
    """
    faults = [*_lay_faults(lay, fabric), *(_workroom_faults(lay, fabric, workroom))]
    known: list[tuple[str, Line]] = []
    for place in lay.placements:
        words = f"{place.block} {place.size} {place.side} at ({place.x_mm:.0f}, {place.y_mm:.0f})"
        shape = shapes.get((place.block, place.size))
        if shape is None:
            faults.append(f"{words} has no shape")
            continue
        outline = placed_outline(place, shape.cut_outline_mm)
        place_faults = [*_turn_faults(place, shape, fabric), *_side_faults(place, shape, lay.mode)]
        faults += [f"{words} {fault}" for fault in place_faults]
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


def _lay_faults(lay: Lay, fabric: FabricSpec) -> Iterable[str]:
    if not 1 <= lay.plies <= fabric.highest_plies:
        yield f"{lay.plies} plies, allowed are 1 to {fabric.highest_plies}"
    if lay.mode != FACE_UP and lay.plies % 2:
        yield f"{lay.plies} plies, but plies that lie face to face are even in number"
    if lay.usable_width_mm > lay_width_mm(fabric, lay.mode):
        half = "half of " if lay.mode == FOLDED else ""
        yield f"is wider than {half}the {fabric.usable_width_mm} mm of the cloth"


def _workroom_faults(lay: Lay, fabric: FabricSpec, workroom: WorkroomSpec | None) -> Iterable[str]:
    if workroom is None:
        return
    if workroom.tool_highest_plies < lay.plies <= fabric.highest_plies:
        yield f"{lay.plies} plies, the tool goes through {workroom.tool_highest_plies}"
    longest_mm = longest_lay_mm(fabric, workroom)
    if lay.length_mm > longest_mm + POSITION_TOL_MM:
        yield f"is {lay.length_mm:.0f} mm long, the table holds {longest_mm} mm"
    if lay.mode not in MODES[workroom.spreading]:
        yield f"is spread {lay.mode.replace('_', ' ')}, which the workroom does not do"


def _turn_faults(place: Placement, shape: BlockShape, fabric: FabricSpec) -> Iterable[str]:
    if place.rotation_deg not in allowed_turns(shape, fabric):
        against = "nap" if place.rotation_deg == 180 else "nap or the grain"
        yield f"lies at {place.rotation_deg:g} degrees, against the {against}"


def _side_faults(place: Placement, shape: BlockShape, mode: str) -> Iterable[str]:
    if place.side not in SIDES[shape.pairing]:
        yield f"is a side that a {shape.pairing} block does not have"
    if place.mirrored != (place.side == "right"):
        yield "is mirrored" if place.mirrored else "is not mirrored"
    if mode == FACE_UP:
        return
    if place.side == "right":
        yield "lies as a right block; the layers that lie face down give the right ones"
    if place.side == "single" and not is_own_mirror_image(shape.cut_outline_mm):
        yield "is not its own mirror image, so a layer that lies face down gives another piece"


def _outside(outline: Line, lay: Lay) -> bool:
    return any(
        not (
            -POSITION_TOL_MM <= x <= lay.length_mm + POSITION_TOL_MM
            and -POSITION_TOL_MM <= y <= lay.usable_width_mm + POSITION_TOL_MM
        )
        for x, y in outline
    )
