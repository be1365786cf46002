"""Hems folded back: the flap below a straight hem line."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from patterns.geometry.outline import EdgeKind, Line, PatternError, Point, distance_mm
from patterns.geometry.shapes import polygon
from patterns.geometry.strips import Run, direction

#: A hem that leaves its chord by no more than this can be folded back flat.
STRAIGHT_HEM_MM = 0.5


@dataclass(frozen=True, slots=True)
class _Frame:
    """A frame with its x axis along a hem and the block at positive y."""

    origin: Point
    u: Point

    def into(self, point: Point) -> Point:
        x, y = point[0] - self.origin[0], point[1] - self.origin[1]
        return (x * self.u[0] + y * self.u[1], y * self.u[0] - x * self.u[1])

    def back(self, point: Point) -> Point:
        x, y = point
        return (
            self.origin[0] + x * self.u[0] - y * self.u[1],
            self.origin[1] + x * self.u[1] + y * self.u[0],
        )


def flap_sides(before: Run, run: Run, after: Run, limit: float) -> tuple[Line, Line]:
    """The sides of the flap below a hem at its start and its end, each from the hem line down.

    A side is the mirror image, about the hem line, of the allowance line of the neighboring edge.
    Empty where none can be: the run is no hem or a curved one, the neighbor is a hem itself, or it
    slants so much that the corner would exceed the mitre limit.
    """
    frame = _hem_frame(run)
    if frame is None:
        return (), ()
    start, end = (
        ()
        if neighbor.kind is EdgeKind.HEM
        else _rising([frame.into(point) for point in upward], run.depth_mm, limit)
        for neighbor, upward in ((before, before.offset[::-1]), (after, after.offset))
    )
    return (
        tuple(frame.back((x, -y)) for x, y in start),
        tuple(frame.back((x, -y)) for x, y in end),
    )


def flap(block: str, hem: Run, start: Line, end: Line) -> Line:
    """The ring of the flap; a side that is empty is cut square to the hem.

    PatternError: the sides cross each other before the hem is as deep as wanted.
    """
    start = start or (hem.stitch[0], hem.offset[0])
    end = end or (hem.stitch[-1], hem.offset[-1])
    ring = (*hem.stitch, *end, *start[::-1])
    if not polygon(ring).is_valid:
        x, y = hem.stitch[0]
        raise PatternError(
            f"The {hem.depth_mm:g} mm hem of block {block} on edge '{hem.edge}' near "
            f"({x:.1f}, {y:.1f}) is deeper than its slanting sides allow; make the hem narrower or "
            "move the style line."
        )
    return ring


def _hem_frame(run: Run) -> _Frame | None:
    if run.kind is not EdgeKind.HEM or not run.depth_mm:
        return None
    start, end = run.stitch[0], run.stitch[-1]
    if distance_mm(start, end) <= STRAIGHT_HEM_MM:
        return None
    frame = _Frame(start, direction(start, end))
    straight = all(abs(frame.into(point)[1]) <= STRAIGHT_HEM_MM for point in run.stitch)
    return frame if straight else None


def _rising(path: Sequence[Point], depth_mm: float, limit: float) -> Line:
    """The part of a path between y = 0 and y = depth, with its ends prolonged as far as needed;
    empty where the path stays below, or an end rises too little to be prolonged."""
    above = next((i for i, (_, y) in enumerate(path) if y > 0), None)
    if above is None or not _rises(path[0], path[1], limit):
        return ()
    foot = max(0, above - 1)
    points = [_at(path[foot], path[foot + 1], 0.0)]
    for a, b in pairwise(path[foot:]):
        if b[1] >= depth_mm:
            return (*points, _at(a, b, depth_mm))
        if b[1] > 0:
            points.append(b)
    a, b = path[-2:]
    return (*points, _at(a, b, depth_mm)) if _rises(a, b, limit) else ()


def _rises(a: Point, b: Point, limit: float) -> bool:
    """A side at angle phi to the hem meets the hem line at allowance / sin(phi) from the corner."""
    return (b[1] - a[1]) * limit >= distance_mm(a, b)


def _at(a: Point, b: Point, y: float) -> Point:
    return (a[0] + (b[0] - a[0]) * (y - a[1]) / (b[1] - a[1]), y)
