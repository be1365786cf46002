"""Blocks squeezed together: all moved at once, as far as a linear program finds room.

Two convex parts keep apart when a line lies between them. For each pair of near parts the line
that parts them best is kept, and the blocks are moved so that the lay becomes as short as these
lines allow; then the lines are drawn anew. A nest never becomes longer by it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from production.planning.nesting.blocks import Nest, NestBlock, Strip, box, clean_ring, turned
from production.planning.nesting.convex import convex_hull, convex_parts
from production.planning.snapshot import Line

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Indices = NDArray[np.int64]

#: How far a block may move along x and along y in one round.
FARTHEST_MM = 20.0
#: So many rounds that shorten the nest by a smaller part than this, in a row, are the last.
PATIENCE = 6
WORTH_A_ROUND = 1e-4
#: Kept between blocks beyond the gap, so that rounding makes no overlap.
MARGIN_MM = 1e-4
#: Blocks nearer than the gap by this or less just touch.
TOUCH_MM = 1e-5
#: Blocks nearer than the gap by less than this are set right; more is left as it is.
HAIR_MM = 0.02
#: Bodies whose hulls have so much room beyond the gap need no line for each of their parts.
WELL_APART_MM = 10.0
SHORTEST_SIDE_MM = 1e-9
#: Digits to which directions of length 1 are the same.
SAME_DIRECTION = 9
FEW_CORNERS = (3, 4, 6, 9, 14)
#: Most that a millimetre of drift weighs beside a millimetre of length.
DRIFT = 3e-4


@dataclass(frozen=True, slots=True)
class _Convex:
    """Convex outlines, all told by equally many corners (the last repeated): which body each
    belongs to, how many corners it has, these corners, and the outward normals of its sides."""

    owner: Indices
    count: Indices
    corners: Floats
    normals: Floats

    def moved(self, at: Floats) -> _Convex:
        return replace(self, corners=self.corners + at[self.owner][:, None, :])

    def cut_to(self, most: int) -> _Convex:
        """The same without the corners after so many."""
        return replace(self, corners=self.corners[:, :most], normals=self.normals[:, :most])


@dataclass(frozen=True, slots=True)
class _Limits:
    """For each pair of bodies: `other` moves from `one` along `direction` by `least_mm` or more."""

    one: Indices
    other: Indices
    direction: Floats
    least_mm: Floats

    @staticmethod
    def joined(limits: Sequence[_Limits]) -> _Limits:
        import numpy as np

        fields = ("one", "other", "direction", "least_mm")
        return _Limits(*(np.concatenate([getattr(some, f) for some in limits]) for f in fields))

    def chosen(self, which: NDArray[np.bool_]) -> _Limits:
        return _Limits(
            self.one[which], self.other[which], self.direction[which], self.least_mm[which]
        )

    def strictest(self) -> _Limits:
        """Of limits for the same pair in the same direction, only the one that counts: the parts
        of two bodies often lie along the same side."""
        import numpy as np

        told = np.column_stack([self.one, self.other, self.direction.round(SAME_DIRECTION)])
        _, first, same = np.unique(told, axis=0, return_index=True, return_inverse=True)
        least_mm = np.full(len(first), -np.inf)
        np.maximum.at(least_mm, same.ravel(), self.least_mm)
        return _Limits(self.one[first], self.other[first], self.direction[first], least_mm)


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
    hulls, parts = _convex([*outlines, *fixed], hulls=True), _convex([*outlines, *fixed])
    boxes = np.array([box(ring) for ring in [*outlines, *fixed]])
    at = np.array([(p.x_mm, p.y_mm) for p in nest.places] + [(0.0, 0.0)] * len(fixed))
    drifts = np.random.default_rng(seed)
    length_mm, free, in_vain = nest.length_mm, len(outlines), 0
    while in_vain < PATIENCE and not is_over():
        limits = _limits(hulls.moved(at), parts.moved(at), free, strip.gap_mm)
        moves = _moves(limits, boxes + np.hstack([at, at]), free, strip, drifts)
        if moves is None:
            break
        at = at + moves
        before_mm, length_mm = length_mm, float((boxes[:free, 2] + at[:free, 0]).max())
        in_vain = 0 if length_mm < before_mm * (1 - WORTH_A_ROUND) else in_vain + 1
    places = tuple(
        replace(place, x_mm=x_mm, y_mm=y_mm)
        for place, (x_mm, y_mm) in zip(nest.places, at.tolist(), strict=False)
    )
    return replace(nest, places=places, length_mm=length_mm)


def _convex(outlines: Sequence[Line], *, hulls: bool = False) -> _Convex:
    import numpy as np

    told = [(convex_hull(ring),) if hulls else convex_parts(ring) for ring in outlines]
    parts = [part for parts in told for part in parts]
    most = max(len(part) for part in parts)
    padding = [((0, most - len(part)), (0, 0)) for part in parts]
    corners = [np.pad(part, pad, "edge") for part, pad in zip(parts, padding, strict=True)]
    # The sides of no length that this adds have a normal of zero, which parts nothing.
    normals = [np.pad(_normals(part), pad) for part, pad in zip(parts, padding, strict=True)]
    owner = np.repeat(np.arange(len(told)), [len(parts) for parts in told])
    count = np.array([len(part) for part in parts])
    return _Convex(owner, count, np.array(corners), np.array(normals))


def _normals(corners: Floats) -> Floats:
    """Outward, of length 1, one for each side of a counterclockwise part."""
    import numpy as np

    sides = np.roll(corners, -1, axis=0) - corners
    outward = np.column_stack([sides[:, 1], -sides[:, 0]])
    normals: Floats = outward / np.linalg.norm(outward, axis=1)[:, None]
    return normals


def _limits(hulls: _Convex, parts: _Convex, free: int, gap_mm: float) -> _Limits:
    """One line for bodies whose hulls lie well apart; for nearer ones a line for each two parts."""
    import numpy as np

    low, high = hulls.corners.min(axis=1), hulls.corners.max(axis=1)
    one, other = np.triu_indices(len(hulls.owner), 1)
    pairs = (one < free) & _are_near(low, high, one, other, gap_mm)
    far = _parted(hulls, one[pairs], other[pairs], gap_mm)
    is_close = far.least_mm > -WELL_APART_MM
    close = np.zeros((len(hulls.owner),) * 2, dtype=bool)
    close[far.one[is_close], far.other[is_close]] = True
    low, high = parts.corners.min(axis=1), parts.corners.max(axis=1)
    one, other = np.nonzero(close[parts.owner[:, None], parts.owner])
    pairs = _are_near(low, high, one, other, gap_mm)
    near = _parted(parts, one[pairs], other[pairs], gap_mm)
    return _Limits.joined([far.chosen(~is_close), near]).strictest()


def _are_near(
    low: Floats, high: Floats, one: Indices, other: Indices, gap_mm: float
) -> NDArray[np.bool_]:
    """Which boxes may come nearer to one another than the gap in one round."""
    import numpy as np

    reach_mm = gap_mm + 2 * FARTHEST_MM
    apart_mm = np.maximum(low[one] - high[other], low[other] - high[one]).max(axis=1)
    near: NDArray[np.bool_] = apart_mm < reach_mm
    return near


def _parted(convex: _Convex, one: Indices, other: Indices, gap_mm: float) -> _Limits:
    """The lines that part each two best. Pairs of few corners are taken together, since most parts
    are triangles and a few have dozens of corners."""
    import numpy as np

    corners = np.maximum(convex.count[one], convex.count[other])
    limits, fewer = [], 0
    for most in (*FEW_CORNERS, convex.corners.shape[1]):
        these = (corners > fewer) & (corners <= most)
        limits.append(_lines(convex.cut_to(most), one[these], other[these], gap_mm))
        fewer = most
    return _Limits.joined(limits)


def _lines(convex: _Convex, one: Indices, other: Indices, gap_mm: float) -> _Limits:
    """The line for each two, along a side of either or across the way between their nearest
    corners. Those too far apart to meet in one round are left out."""
    import numpy as np

    corners, others = convex.corners[one], convex.corners[other]
    between = others[:, None, :, :] - corners[:, :, None, :]
    between = between.reshape(len(one), corners.shape[1] ** 2, 2)
    nearest = between[np.arange(len(one)), (between**2).sum(axis=2).argmin(axis=1)]
    nearest /= np.maximum(np.linalg.norm(nearest, axis=1), SHORTEST_SIDE_MM)[:, None]
    ahead = (others @ nearest[:, :, None]).min(axis=1) - (corners @ nearest[:, :, None]).max(axis=1)
    apart = np.concatenate(
        [_beyond_sides(convex, one, others), _beyond_sides(convex, other, corners), ahead], axis=1
    )
    directions = np.concatenate(
        [convex.normals[one], -convex.normals[other], nearest[:, None, :]], axis=1
    )
    best = apart.argmax(axis=1)
    every = np.arange(len(one))
    spare_mm = apart[every, best] - gap_mm
    can_meet = spare_mm < 2 * math.sqrt(2) * FARTHEST_MM
    return _Limits(
        convex.owner[one][can_meet],
        convex.owner[other][can_meet],
        directions[every, best][can_meet],
        _least_mm(spare_mm[can_meet]),
    )


def _beyond_sides(convex: _Convex, of: Indices, corners: Floats) -> Floats:
    """How far all the corners lie beyond each side."""
    import numpy as np

    normals, starts = convex.normals[of], convex.corners[of]
    across = normals[:, :, None, 0] * corners[:, None, :, 0]
    across += normals[:, :, None, 1] * corners[:, None, :, 1]
    beyond: Floats = across.min(axis=2) - (normals * starts).sum(axis=2)
    beyond[~normals.any(axis=2)] = -np.inf
    return beyond


def _least_mm(spare_mm: Floats) -> Floats:
    """How far parts must move from one another that are apart by the gap and so much to spare."""
    import numpy as np

    # Blocks that fill the whole width touch, and have no room for the margin.
    kept = np.minimum(MARGIN_MM - spare_mm, 0.0)
    is_hair = (spare_mm > -HAIR_MM) & (spare_mm < -TOUCH_MM)
    return np.where(is_hair, MARGIN_MM - spare_mm, np.where(spare_mm > 0, kept, 0.0))


def _moves(
    limits: _Limits,
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
    for one, other, (x, y), least_mm in zip(
        limits.one.tolist(),
        limits.other.tolist(),
        limits.direction.tolist(),
        limits.least_mm.tolist(),
        strict=True,
    ):
        kept = program.Constraint(least_mm, program.infinity())
        for way, share in ((along, x), (across, y)):
            kept.SetCoefficient(way[other], share)
            kept.SetCoefficient(way[one], -share)
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
