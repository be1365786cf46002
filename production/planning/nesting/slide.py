"""Blocks slid along the spread towards its start until they touch what lies before them.

Exact for true outlines: on each level where either outline has a corner, the way from the right
sides of the one to the left sides of the other is measured. A slide never makes a nest longer,
save where blocks lie a hair too near, as single precision leaves them: those are moved apart.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING

from production.planning.nesting.blocks import Nest, NestBlock, clean_ring, turned
from production.planning.snapshot import Line

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

#: Outlines that only graze one another along the way do not stop a slide, within this many mm.
GRAZING_MM = 1e-6
#: Outlines that are in one another by no more than this touch.
TOUCH_MM = 1e-7
#: Segments of the quarter circle round a corner; the ring lies outside the true circle.
ROUND_SEGMENTS = 16
#: Passes over all blocks; one that moves them less than this, all together, is the last.
PASSES = 4
WORTH_A_PASS_MM = 0.5


@dataclass(frozen=True, slots=True)
class Sides:
    """An outline told by its edges (x0, y0, x1, y1), counterclockwise: those that rise have the
    block on their left, those that fall have it on their right. With its bounding box."""

    rising: Floats
    falling: Floats
    corner_levels: Floats
    left: float
    low: float
    right: float
    high: float


@dataclass(slots=True)
class Body:
    """A block on the cloth: its outline, the same widened by the gap, and where it lies."""

    true: Sides
    widened: Sides
    x_mm: float
    y_mm: float


def body_at(ring: Line, gap_mm: float, x_mm: float, y_mm: float) -> Body:
    return Body(sides_of(ring, 0.0), sides_of(ring, gap_mm), x_mm, y_mm)


@lru_cache(maxsize=4096)
def sides_of(ring: Line, wider_mm: float) -> Sides:
    """The sides of an outline widened all around by `wider_mm`, corners rounded."""
    import numpy as np
    import shapely

    shape = shapely.Polygon(ring)
    if wider_mm:
        # The arc is a polyline inside its circle; a larger circle keeps it outside the true one.
        radius_mm = wider_mm / math.cos(math.pi / (4 * ROUND_SEGMENTS))
        shape = shape.buffer(radius_mm, quad_segs=ROUND_SEGMENTS)
    shape = shapely.orient_polygons(shape)
    rings = [np.asarray(ring.coords) for ring in (shape.exterior, *shape.interiors)]
    edges = np.concatenate([np.hstack([points[:-1], points[1:]]) for points in rings])
    rise = edges[:, 3] - edges[:, 1]
    return Sides(edges[rise > 0], edges[rise < 0], np.unique(edges[:, 1]), *shape.bounds)


def slid(nest: Nest, blocks: Sequence[NestBlock], fixed: Sequence[Line], gap_mm: float) -> Nest:
    """The nest with its blocks slid towards x = 0 between the outlines that lie `fixed`."""
    rings = {block.key: clean_ring(block) for block in blocks}
    bodies = [
        body_at(turned(rings[place.key], place.rotation_deg), gap_mm, place.x_mm, place.y_mm)
        for place in nest.places
    ]
    still = [body_at(ring, gap_mm, 0.0, 0.0) for ring in fixed]
    slide_all(bodies, still)
    return replace(
        nest,
        places=tuple(
            replace(place, x_mm=body.x_mm) for place, body in zip(nest.places, bodies, strict=True)
        ),
        length_mm=max((body.true.right + body.x_mm for body in bodies), default=0.0),
    )


def slide_all(bodies: Sequence[Body], still: Sequence[Body]) -> None:
    for _ in range(PASSES):
        moved_mm = 0.0
        for body in sorted(bodies, key=lambda body: body.true.left + body.x_mm):
            others = [other for other in (*still, *bodies) if other is not body]
            way_mm = free_way_mm(body, others)
            body.x_mm -= way_mm
            moved_mm += way_mm
        if moved_mm < WORTH_A_PASS_MM:
            return


def free_way_mm(body: Body, others: Iterable[Body]) -> float:
    """How far the body can move towards x = 0."""
    left = body.true.left + body.x_mm
    low, high = body.true.low + body.y_mm, body.true.high + body.y_mm
    way_mm = max(left, 0.0)
    before = []
    for other in others:
        if (
            other.widened.left + other.x_mm < body.true.right + body.x_mm
            and other.widened.low + other.y_mm < high
            and other.widened.high + other.y_mm > low
        ):
            before.append((left - other.widened.right - other.x_mm, other))
    for nearest_mm, other in sorted(before, key=lambda pair: pair[0]):
        if nearest_mm >= way_mm:
            break
        way_mm = min(way_mm, _way_between_mm(body, other))
    return way_mm


def _way_between_mm(body: Body, other: Body) -> float:
    import numpy as np

    low = max(body.true.low + body.y_mm, other.widened.low + other.y_mm)
    high = min(body.true.high + body.y_mm, other.widened.high + other.y_mm)
    levels = np.concatenate(
        [body.true.corner_levels + body.y_mm, other.widened.corner_levels + other.y_mm]
    )
    levels = np.concatenate([levels - GRAZING_MM, levels + GRAZING_MM])
    levels = levels[(levels > low) & (levels < high)]
    begins, ends = _spans(body, body.true, levels)
    stands, stops = _spans(other, other.widened, levels)
    ways = begins[:, :, None] - stops[:, None, :]
    if ((ways < -TOUCH_MM) & (ends[:, :, None] > stands[:, None, :] + TOUCH_MM)).any():
        return 0.0
    ahead = ways[ways >= -TOUCH_MM]
    return max(float(ahead.min()), 0.0) if ahead.size else math.inf


def _spans(body: Body, sides: Sides, levels: Floats) -> tuple[Floats, Floats]:
    """Where the body begins and ends on each level (row), once or several times, in order; not a
    number after the last."""
    begins, ends = _met(sides.falling, levels, body), _met(sides.rising, levels, body)
    most = int((begins == begins).sum(axis=1).max(initial=0))
    return begins[:, :most], ends[:, :most]


def _met(edges: Floats, levels: Floats, body: Body) -> Floats:
    import numpy as np

    x0, y0, x1, y1 = edges.T
    part = (levels[:, None] - body.y_mm - y0) / (y1 - y0)
    part[(part < 0) | (part > 1)] = np.nan
    met: Floats = np.sort(x0 + part * (x1 - x0) + body.x_mm, axis=1)
    return met
