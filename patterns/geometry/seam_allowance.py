"""Seam allowance and folded hems: from the stitching line to the line that is cut.

The cut outline is the union of the block with a strip along each edge, a filling at each corner
that sticks out, and a flap below each straight hem. Where strips meet in a corner that points
inward, the union trims both at their crossing, however short the edges are.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any, cast

from patterns.geometry.hems import flap, flap_sides
from patterns.geometry.outline import (
    EdgeKind,
    Line,
    Outline,
    PatternError,
    Point,
    distance_mm,
    length_mm,
    point_along,
)
from patterns.geometry.shapes import path, polygon
from patterns.geometry.strips import Run, corner_filling, runs_of, strip

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from shapely import Polygon

    from patterns.geometry.blocks import Allowances

#: Points of a cut outline are not nearer to each other; nothing is cut finer by hand.
NEAR_MM = 0.01

#: A point of a cut outline this near to the line between its neighbors is left out.
STRAIGHT_MM = 0.001

#: Shapes are laid onto this grid and united on it. Only so does the library not mistake the sides
#: of edges that nearly coincide, as those of a block and its strips do, and only so do strips meet
#: in the same point or leave a gap that is wide enough to be filled.
GRID_MM = 1e-6
GRID_DIGITS = 6

#: A filling smaller than this has no area but rounding.
NO_AREA_MM2 = 1e-9


def cut_outline(outline: Outline, allowances: Allowances) -> Line:
    """The line to cut around a whole outline: its seam allowance and, at the hem, the hem.

    A straight hem is folded back: below it the sides are the mirror image of the sides' allowance
    above it, so that the folded hem lies flat inside them. Corners that stick out are mitred up to
    the mitre limit and beyond it blunted, square across the corner at the depth of the greater
    allowance; where a deep allowance passes a shallow one on a nearly straight line it steps.
    Returns a counterclockwise ring without its repeated first point.

    PatternError: a fold that was not opened, allowances that are negative or not finite, a mitre
    limit below 1, an outline that crosses itself, allowances that swallow an edge or enclose a
    hole, a hem deeper than its sides allow.
    """
    import shapely

    _check_input(outline, allowances)
    runs = list(runs_of(outline, allowances))
    rings = (outline.ring, *_added(outline.code, runs, allowances.mitre_limit))
    # Each strip, filling and flap shares a line with the block, so that the union is one polygon.
    whole = cast("Polygon", shapely.union_all(_on_grid(rings), grid_size=GRID_MM))
    _check_union(outline, runs, whole)
    ring = _cleaned(whole)
    _check_result(outline, ring)
    return ring


def _on_grid(rings: tuple[Line, ...]) -> NDArray[Any]:
    """The polygons within the rings, all built at once for speed, without those of no area."""
    import numpy as np
    import shapely

    points = np.round(np.concatenate(rings), GRID_DIGITS)
    owners = np.repeat(np.arange(len(rings)), [len(ring) for ring in rings])
    polygons = np.asarray(shapely.polygons(shapely.linearrings(points, indices=owners)))
    return polygons[shapely.area(polygons) > NO_AREA_MM2]


def _check_input(outline: Outline, allowances: Allowances) -> None:
    from shapely.validation import explain_validity

    if any(edge.kind is EdgeKind.FOLD for edge in outline.edges):
        raise PatternError(
            f"Block {outline.code} still has a fold; unfold it before it gets its allowance."
        )
    depths = (allowances.seam_mm, allowances.hem_mm)
    if not all(math.isfinite(depth) and depth >= 0 for depth in depths):
        raise PatternError(
            f"Seam allowance {depths[0]} mm and hem {depths[1]} mm must be plain numbers of 0 or "
            "more; correct them."
        )
    if not (math.isfinite(allowances.mitre_limit) and allowances.mitre_limit >= 1):
        raise PatternError(
            f"The mitre limit must be a plain number of 1 or more, not {allowances.mitre_limit}; "
            "correct it."
        )
    stitched = polygon(outline.ring)
    if not stitched.is_valid:
        raise PatternError(
            f"The stitching line of block {outline.code} crosses or touches itself: "
            f"{explain_validity(stitched)}; move the style line or the edge there."
        )


def _added(block: str, runs: list[Run], limit: float) -> Iterator[Line]:
    """The rings to be united with the block: strips, hem flaps and corner fillings."""
    befores, afters = (runs[-1], *runs[:-1]), (*runs[1:], runs[0])
    sides = [
        flap_sides(before, run, after, limit)
        for before, run, after in zip(befores, runs, afters, strict=True)
    ]
    for run, (start, end) in zip(runs, sides, strict=True):
        if start or end:
            yield flap(block, run, start, end)
        else:
            yield from strip(run, limit)
    for run, after, (_, end), (start, _) in zip(
        runs, afters, sides, (*sides[1:], sides[0]), strict=True
    ):
        # Between a strip and a flap the allowance line goes on to where it meets the hem line.
        if end:
            yield (run.stitch[-1], end[0], after.offset[0])
        elif start:
            yield (run.stitch[-1], run.offset[-1], start[0])
        else:
            yield from corner_filling(run, after, limit)


def _check_union(outline: Outline, runs: list[Run], whole: Polygon) -> None:
    """An edge may lose its strip to its neighbors only where it is short, as in an inner corner."""
    import shapely

    holes = [hole for hole in whole.interiors if shapely.Polygon(hole).area > GRID_MM * hole.length]
    if holes:
        x, y = holes[0].coords[0]
        raise PatternError(
            f"The allowances of block {outline.code} enclose a hole near ({x:.1f}, {y:.1f}); "
            "widen the gap there or take less allowance."
        )
    long_runs = [run for run in runs if length_mm(run.stitch) > 2 * run.depth_mm]
    for run in long_runs:
        samples = shapely.points([point_along(run.offset, place) for place in (0.25, 0.5, 0.75)])
        if (shapely.distance(whole.exterior, samples) > NEAR_MM).all():
            x, y = run.stitch[0]
            raise PatternError(
                f"The allowance of block {outline.code} along edge '{run.edge}' near "
                f"({x:.1f}, {y:.1f}) disappears under that of other edges; widen the gap there or "
                "take less allowance."
            )


def _cleaned(whole: Polygon) -> Line:
    """The outer ring, counterclockwise, without points that are needless or too near together."""
    import shapely

    # Normalized, a ring starts at its leftmost point, a true corner, and runs clockwise.
    outer = shapely.get_coordinates(shapely.get_exterior_ring(whole.normalize()))
    simpler = shapely.LineString(outer).simplify(STRAIGHT_MM, preserve_topology=False)
    ring: list[Point] = []
    for x, y in shapely.get_coordinates(simpler)[:0:-1].tolist():
        ring.append((x, y))
        while len(ring) > 2 and _is_spike(*ring[-3:]):
            del ring[-2]
        if len(ring) > 1 and distance_mm(ring[-2], ring[-1]) < NEAR_MM:
            ring.pop()
    while distance_mm(ring[0], ring[-1]) < NEAR_MM or _is_spike(ring[-2], ring[-1], ring[0]):
        ring.pop()
    return tuple(ring)


def _is_spike(before: Point, tip: Point, after: Point) -> bool:
    """Whether an outline turns back at `tip` along itself, as where a strip ends on the strip of a
    segment too short for an inward curve; what is that thin cannot be cut."""
    import shapely

    back = (tip[0] - before[0]) * (after[0] - tip[0]) + (tip[1] - before[1]) * (after[1] - tip[1])
    if back >= 0:
        return False
    legs = path((before, tip)), path((tip, after))
    thin = min(legs[0].distance(shapely.Point(after)), legs[1].distance(shapely.Point(before)))
    return thin < NEAR_MM


def _check_result(outline: Outline, ring: Line) -> None:
    import shapely
    from shapely.validation import explain_validity

    cut = polygon(ring)
    if not cut.is_valid:
        raise PatternError(
            f"The cut outline of block {outline.code} crosses itself: {explain_validity(cut)}; "
            "move the style line or the edge there."
        )
    stitched = polygon(outline.ring)
    if cut.covers(stitched):
        return
    # Without allowance both lines coincide but for rounding.
    outside = shapely.difference(stitched, cut, grid_size=GRID_MM)
    if outside.area > NEAR_MM * outline.perimeter_mm:
        spot = outside.representative_point()
        raise PatternError(
            f"The cut outline of block {outline.code} runs inside its stitching line near "
            f"({spot.x:.1f}, {spot.y:.1f}); take more allowance or flatten the corner there."
        )
