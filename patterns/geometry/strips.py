"""Strips of allowance along the edges of an outline, and the fillings between them at corners."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

from patterns.geometry.outline import (
    SAME_POINT_MM,
    Edge,
    EdgeKind,
    Line,
    Outline,
    Point,
    distance_mm,
)
from patterns.geometry.shapes import polygon

if TYPE_CHECKING:
    from patterns.geometry.blocks import Allowances

#: An edge that turns more than this at one point has a corner there.
CORNER_COS = math.cos(math.radians(30))

#: An allowance less than this is none; nothing is cut finer by hand.
LEAST_DEPTH_MM = 0.01


@dataclass(frozen=True, slots=True)
class Run:
    """A stretch of one edge without corners, and its offset at the depth of its allowance."""

    edge: str
    kind: EdgeKind
    depth_mm: float
    stitch: Line
    offset: Line


def runs_of(outline: Outline, allowances: Allowances) -> Iterator[Run]:
    """The runs around an outline, counterclockwise."""
    for edge in outline.edges:
        depth = allowances.hem_mm if edge.kind is EdgeKind.HEM else allowances.seam_mm
        depth = depth if depth >= LEAST_DEPTH_MM else 0.0
        for points in _without_corners(edge):
            yield Run(edge.name, edge.kind, depth, points, _offset(points, depth))


def direction(a: Point, b: Point) -> Point:
    length = distance_mm(a, b)
    return ((b[0] - a[0]) / length, (b[1] - a[1]) / length)


def strip(run: Run, limit: float) -> Iterator[Line]:
    """The strip between a run and its offset; in halves where a tight inward curve makes the
    offset run back or cross itself, down to single segments, whose strips never do."""
    if not run.depth_mm:
        return
    ring = (*run.stitch[::-1], *run.offset)
    if len(run.stitch) == 2 or (_runs_on(run) and polygon(ring).is_valid):
        yield ring
        return
    middle = len(run.stitch) // 2
    first, second = (
        Run(run.edge, run.kind, run.depth_mm, points, _offset(points, run.depth_mm))
        for points in (run.stitch[: middle + 1], run.stitch[middle:])
    )
    yield from strip(first, limit)
    yield from corner_filling(first, second, limit)
    yield from strip(second, limit)


def corner_filling(before: Run, after: Run, limit: float) -> Iterator[Line]:
    """The filling between two strips at a corner that sticks out: a mitre; beyond `limit` (corner
    to meeting point, as a multiple of the greater depth) a blunt end; a plain step where the lines
    meet only behind one of their ends. None where the corner points inward: the strips overlap."""
    corner = after.stitch[0]
    u, v = direction(*before.stitch[-2:]), direction(*after.stitch[:2])
    turn = u[0] * v[1] - u[1] * v[0]
    a, b = before.offset[-1], after.offset[0]
    if turn <= 0:
        return
    ahead = ((b[0] - a[0]) * v[1] - (b[1] - a[1]) * v[0]) / turn
    back = (u[0] * (b[1] - a[1]) - u[1] * (b[0] - a[0])) / turn
    meeting = (a[0] + ahead * u[0], a[1] + ahead * u[1])
    deepest = max(before.depth_mm, after.depth_mm)
    if ahead < 0 or back < 0:
        yield (corner, a, b)
    elif distance_mm(corner, meeting) <= limit * deepest:
        yield (corner, a, meeting, b)
    else:
        yield (corner, a, *_blunt_end(corner, (a, u), (b, (-v[0], -v[1])), deepest), b)


def _runs_on(run: Run) -> bool:
    segments = zip(pairwise(run.stitch), pairwise(run.offset), strict=True)
    return all(
        (b[0] - a[0]) * (q[0] - p[0]) + (b[1] - a[1]) * (q[1] - p[1]) > 0
        for (a, b), (p, q) in segments
    )


def _without_corners(edge: Edge) -> Iterator[Line]:
    points = [edge.points[0]]
    for point in edge.points[1:]:
        if distance_mm(points[-1], point) <= SAME_POINT_MM:
            continue
        if len(points) > 1:
            (ux, uy), (vx, vy) = direction(points[-2], points[-1]), direction(points[-1], point)
            if ux * vx + uy * vy < CORNER_COS:
                yield tuple(points)
                points = points[-1:]
        points.append(point)
    if len(points) > 1:
        yield tuple(points)


def _offset(points: Line, depth_mm: float) -> Line:
    """The points moved outward (to the right), each onto the mitre of its two segments.

    With unit normals a and b the mitre point lies at depth (a + b) / (1 + a.b), which is
    depth / sin(phi/2) away at an inner angle phi (standard mathematics).
    """
    normals = [(uy, -ux) for ux, uy in (direction(a, b) for a, b in pairwise(points))]
    moved = []
    for (x, y), (ax, ay), (bx, by) in zip(
        points, (normals[0], *normals), (*normals, normals[-1]), strict=True
    ):
        scale = depth_mm / (1 + ax * bx + ay * by)
        moved.append((x + scale * (ax + bx), y + scale * (ay + by)))
    return tuple(moved)


def _blunt_end(
    corner: Point, first: tuple[Point, Point], second: tuple[Point, Point], depth_mm: float
) -> Iterator[Point]:
    """Where two offset lines, each a point and its direction away from the corner, have gone
    `depth_mm` beyond the corner: the end is cut square to the line that halves the corner."""
    ex, ey = direction((0.0, 0.0), (first[1][0] + second[1][0], first[1][1] + second[1][1]))
    for (x, y), (dx, dy) in (first, second):
        gone = (x - corner[0]) * ex + (y - corner[1]) * ey
        step = max(0.0, depth_mm - gone) / (dx * ex + dy * ey)
        yield (x + step * dx, y + step * dy)
