"""Blocks squeezed together: all moved at once, as far as a linear program finds room.

Two convex parts keep apart when a line lies between them. For each pair of near parts the line
that parts them best is kept, and the blocks are moved so that the lay becomes as short as these
lines allow; then the lines are drawn anew. A nest never becomes longer by it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from production.planning.nesting.blocks import Nest, NestBlock, Strip, box, clean_ring, turned
from production.planning.nesting.convex import convex_parts
from production.planning.snapshot import Line

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

#: How far a block may move along x and along y in one round.
FARTHEST_MM = 40.0
#: So many rounds that shorten the nest by less than this, one after another, are the last.
PATIENCE = 6
WORTH_A_ROUND_MM = 0.2
#: Kept between blocks beyond the gap, so that rounding makes no overlap.
MARGIN_MM = 1e-4
#: Blocks nearer than the gap by this or less just touch.
TOUCH_MM = 1e-5
#: Blocks nearer than the gap by less than this are set right; more is left as it is.
HAIR_MM = 0.02
#: Most that a millimetre of drift weighs beside a millimetre of length.
DRIFT = 3e-4


@dataclass(frozen=True, slots=True)
class _Part:
    owner: int
    corners: Floats
    normals: Floats


@dataclass(frozen=True, slots=True)
class _Limit:
    """`other` moves from `one` along the direction by no less than `least_mm`."""

    one: int
    other: int
    direction: tuple[float, float]
    least_mm: float


def squeezed(
    nest: Nest,
    blocks: Sequence[NestBlock],
    fixed: Sequence[Line],
    strip: Strip,
    *,
    seed: int = 0,
    is_over: Callable[[], bool] = lambda: False,
) -> Nest:
    """The nest squeezed between the outlines that lie `fixed`, until nothing moves or `is_over`."""
    import numpy as np

    rings = {block.key: clean_ring(block) for block in blocks}
    outlines = [turned(rings[place.key], place.rotation_deg) for place in nest.places]
    parts = _parts([*outlines, *fixed])
    boxes = np.array([box(ring) for ring in [*outlines, *fixed]])
    at = np.array([(p.x_mm, p.y_mm) for p in nest.places] + [(0.0, 0.0)] * len(fixed))
    drifts = np.random.default_rng(seed)
    length_mm, free, in_vain = nest.length_mm, len(outlines), 0
    while in_vain < PATIENCE and not is_over():
        limits = _limits(parts, at, free, strip)
        moves = _moves(limits, boxes + np.hstack([at, at]), free, strip, drifts)
        if moves is None:
            break
        at = at + moves
        before_mm, length_mm = length_mm, float((boxes[:free, 2] + at[:free, 0]).max())
        in_vain = 0 if length_mm < before_mm - WORTH_A_ROUND_MM else in_vain + 1
    places = tuple(
        replace(place, x_mm=x_mm, y_mm=y_mm)
        for place, (x_mm, y_mm) in zip(nest.places, at.tolist(), strict=False)
    )
    return replace(nest, places=places, length_mm=length_mm)


def _parts(outlines: Sequence[Line]) -> list[_Part]:
    return [
        _Part(owner, corners, _normals(corners))
        for owner, ring in enumerate(outlines)
        for corners in convex_parts(ring)
    ]


def _normals(corners: Floats) -> Floats:
    """Outward, of length 1, one for each side of a counterclockwise part."""
    import numpy as np

    sides = np.roll(corners, -1, axis=0) - corners
    outward = np.column_stack([sides[:, 1], -sides[:, 0]])
    normals: Floats = outward / np.linalg.norm(outward, axis=1)[:, None]
    return normals


def _limits(parts: Sequence[_Part], at: Floats, free: int, strip: Strip) -> list[_Limit]:
    import shapely

    laid = [part.corners + at[part.owner] for part in parts]
    polygons = [shapely.Polygon(corners) for corners in laid]
    within_mm = strip.gap_mm + 3 * FARTHEST_MM
    near = shapely.STRtree(polygons).query(polygons, predicate="dwithin", distance=within_mm)
    limits = []
    for one, other in near.T.tolist():
        first, second = parts[one], parts[other]
        if first.owner >= second.owner or first.owner >= free:
            continue
        direction, apart_mm = _parting(laid[one], first.normals, laid[other], second.normals)
        least_mm = _least_mm(apart_mm - strip.gap_mm)
        limits.append(_Limit(first.owner, second.owner, direction, least_mm))
    return limits


def _least_mm(spare_mm: float) -> float:
    """How far parts must move from one another that are apart by the gap and so much to spare."""
    if -HAIR_MM < spare_mm < -TOUCH_MM:
        return MARGIN_MM - spare_mm
    # Blocks that fill the whole width touch, and have no room for the margin.
    return min(MARGIN_MM - spare_mm, 0.0) if spare_mm > 0 else 0.0


def _parting(
    one: Floats, one_normals: Floats, other: Floats, other_normals: Floats
) -> tuple[tuple[float, float], float]:
    """The direction from one convex part to the other in which they are farthest apart, and how
    far: it is that of a side of either, or that between their nearest corners."""
    import numpy as np

    between = other[None, :, :] - one[:, None, :]
    nearest = between.reshape(-1, 2)[np.argmin((between**2).sum(axis=2))]
    reach = float(np.hypot(*nearest))
    directions = np.vstack([one_normals, -other_normals, nearest / reach if reach else nearest])
    apart = (directions @ other.T).min(axis=1) - (directions @ one.T).max(axis=1)
    best = int(apart.argmax())
    return (float(directions[best, 0]), float(directions[best, 1])), float(apart[best])


def _moves(
    limits: Sequence[_Limit],
    boxes: Floats,
    free: int,
    strip: Strip,
    drifts: np.random.Generator,
) -> Floats | None:
    """How far each outline moves, or None when the linear program finds no way."""
    import numpy as np
    from ortools.linear_solver import pywraplp

    program = pywraplp.Solver.CreateSolver("GLOP")
    length = program.NumVar(0.0, program.infinity(), "")
    along, across = [], []
    for index, (left, low, right, high) in enumerate(boxes.tolist()):
        farthest = FARTHEST_MM if index < free else 0.0
        along.append(program.NumVar(_at_least(-farthest, -left), farthest, ""))
        room = max(strip.width_mm - high, 0.0)
        across.append(program.NumVar(_at_least(-farthest, -low), min(farthest, room), ""))
        if index < free:
            program.Add(along[-1] + right <= length)
    for limit in limits:
        x, y = limit.direction
        way_x, way_y = (
            along[limit.other] - along[limit.one],
            across[limit.other] - across[limit.one],
        )
        program.Add(x * way_x + y * way_y >= limit.least_mm)
    weights = drifts.uniform(-DRIFT, DRIFT, 2 * len(along)).tolist()
    drift = sum(weight * way for weight, way in zip(weights, along + across, strict=True))
    program.Minimize(length + drift)
    if program.Solve() != pywraplp.Solver.OPTIMAL:
        return None
    return np.array(
        [(x.solution_value(), y.solution_value()) for x, y in zip(along, across, strict=True)]
    )


def _at_least(farthest_mm: float, to_edge_mm: float) -> float:
    """How far back a block may move; one that is a hair over the edge stays where it is."""
    return min(max(farthest_mm, to_edge_mm), 0.0)
