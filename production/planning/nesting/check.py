"""Whether a nest can be cut as it lies, judged by its true outlines and nothing that made it."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence

from production.planning.nesting.blocks import (
    OVERLAP_TOL_MM2,
    POSITION_TOL_MM,
    Nest,
    NestBlock,
    NestPlace,
    Strip,
    placed_rings,
)
from production.planning.snapshot import Line


def faults_of(
    nest: Nest, blocks: Sequence[NestBlock], strip: Strip, fixed: Sequence[Line] = ()
) -> list[str]:
    """What is wrong with a nest, in words; empty when it can be cut: every block as often as asked,
    allowed turns only, inside the cloth, no overlap, nowhere nearer than the gap, neither to one
    another nor to the outlines that lie `fixed`, which are not judged themselves.

    A nest longer than the longest there is no fault: the caller judges its length.
    """
    known = {block.key: block for block in blocks}
    faults = _count_faults(nest, blocks)
    sound = [place for place in nest.places if place.key in known]
    for place in sound:
        if place.rotation_deg not in known[place.key].turns:
            faults.append(f"{words(place, known)} is turned by {place.rotation_deg:g} degrees")
    finite = [p for p in sound if math.isfinite(p.x_mm) and math.isfinite(p.y_mm)]
    faults += [f"{words(p, known)} lies nowhere" for p in sound if p not in finite]
    rings = placed_rings(finite, blocks)
    names = [words(place, known) for place in finite]
    for name, ring in zip(names, rings, strict=True):
        if _is_outside(ring, nest.length_mm, strip.width_mm):
            faults.append(f"{name} leaves the cloth")
    return faults + _meeting_faults(names, [*rings, *fixed], strip.gap_mm)


def words(place: NestPlace, known: dict[tuple[str, ...], NestBlock]) -> str:
    return f"{known[place.key].name} at ({place.x_mm:.0f}, {place.y_mm:.0f})"


def _count_faults(nest: Nest, blocks: Sequence[NestBlock]) -> list[str]:
    counts = Counter(place.key for place in nest.places)
    faults = [
        f"{block.name} lies {counts[block.key]} times, asked are {block.count}"
        for block in blocks
        if counts[block.key] != block.count
    ]
    strangers = counts.keys() - {block.key for block in blocks}
    return faults + [f"{' '.join(key)} was not asked for" for key in sorted(strangers)]


def _is_outside(ring: Line, length_mm: float, width_mm: float) -> bool:
    return any(
        not (
            -POSITION_TOL_MM <= x <= length_mm + POSITION_TOL_MM
            and -POSITION_TOL_MM <= y <= width_mm + POSITION_TOL_MM
        )
        for x, y in ring
    )


def _meeting_faults(names: Sequence[str], rings: Sequence[Line], gap_mm: float) -> list[str]:
    """Outlines with a name that overlap another or lie nearer to it than the gap."""
    import shapely

    polygons = [shapely.Polygon(ring) for ring in rings]
    near_mm = max(gap_mm - POSITION_TOL_MM, 0.0)
    faults = []
    tree = shapely.STRtree(polygons)
    named = polygons[: len(names)]
    for one, other in tree.query(named, predicate="dwithin", distance=near_mm).T.tolist():
        if one >= other:
            continue
        pair = f"{names[one]} and {names[other] if other < len(names) else 'what lies there'}"
        if polygons[one].intersection(polygons[other]).area > OVERLAP_TOL_MM2:
            faults.append(f"{pair} overlap")
        elif near_mm:
            faults.append(f"{pair} are nearer than {gap_mm:g} mm")
    return faults
