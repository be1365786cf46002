"""Outlines of pattern pieces: named edges on the stitching line, notches, marks, grainline.

Two frames are used, both in millimetres and both looking at the right side of the cloth:

* the *draft frame*: y up, the garment upright. A pair is drawn as the wearer's left one. The front
  has its center front on x = 0 and its side seam at positive x; the back is drawn as seen from
  behind, so its left half lies at negative x with the center back on x = 0; the sleeve has its
  grainline on x = 0, front armhole at negative x. The nap runs down the garment, along -y.
* the *lay frame*: the draft frame turned by +90 degrees, so that the grainline and the nap run
  along +x as the cloth is spread. See `patterns.geometry.blocks`.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise

Point = tuple[float, float]
Line = tuple[Point, ...]

#: Two points nearer than this are the same point, in millimetres.
SAME_POINT_MM = 1e-6

#: Greatest distance of a curve from the polyline that stands for it, in millimetres.
CHORD_ERROR_MM = 0.2

#: A notch farther than this from its edge is not on it, in millimetres.
NOTCH_OFF_EDGE_MM = 0.01


class PatternError(ValueError):
    """A pattern, a piece or a style line that cannot be made; the message says which and why."""


class Pairing(StrEnum):
    PAIR = "pair"
    SINGLE = "single"
    FOLD = "fold"


class EdgeKind(StrEnum):
    SEAM = "seam"
    HEM = "hem"
    FOLD = "fold"


@dataclass(frozen=True, slots=True)
class Edge:
    """One named edge, an open polyline of at least two points on the stitching line.

    A part of an edge keeps the edge's name when a style line cuts it; the two edges that a style
    line makes both bear the style line's code.
    """

    name: str
    points: Line
    kind: EdgeKind = EdgeKind.SEAM

    @property
    def length_mm(self) -> float:
        return length_mm(self.points)


@dataclass(frozen=True, slots=True)
class Notch:
    """A notch on an edge. Notches with the same code, on two edges, are sewn onto each other."""

    code: str
    edge: str
    point: Point
    count: int = 1


@dataclass(frozen=True, slots=True)
class Mark:
    """A marking inside a piece: one point (drill mark) or a polyline (fold or placement line)."""

    code: str
    points: Line
    text: str = ""


@dataclass(frozen=True, slots=True)
class Outline:
    """A closed outline, counterclockwise; each edge ends where the next one begins.

    An outline with pairing FOLD is the wearer's left half and holds exactly one edge of kind FOLD,
    on x = 0; `unfolded` gives the whole.
    """

    code: str
    name: str
    pairing: Pairing
    edges: tuple[Edge, ...]
    notches: tuple[Notch, ...] = ()
    marks: tuple[Mark, ...] = ()
    grainline: tuple[Point, Point] = ((0.0, 0.0), (0.0, -100.0))

    @property
    def ring(self) -> Line:
        """The points once around, without repeating the first."""
        return tuple(point for edge in self.edges for point in edge.points[:-1])

    @property
    def area_mm2(self) -> float:
        return abs(signed_area_mm2(self.ring))

    @property
    def perimeter_mm(self) -> float:
        return sum(edge.length_mm for edge in self.edges)

    def edge(self, name: str) -> Edge:
        """The edge of that name; PatternError names the edges there are."""
        for edge in self.edges:
            if edge.name == name:
                return edge
        known = ", ".join(edge.name for edge in self.edges)
        raise PatternError(f"Piece {self.code} has no edge '{name}'; its edges are: {known}.")


def distance_mm(a: Point, b: Point) -> float:
    return math.hypot(b[0] - a[0], b[1] - a[1])


def length_mm(line: Sequence[Point]) -> float:
    return sum(distance_mm(a, b) for a, b in pairwise(line))


def signed_area_mm2(ring: Sequence[Point]) -> float:
    """Shoelace area of a closed ring given without its repeated first point; positive when
    counterclockwise."""
    return 0.5 * sum(
        ax * by - bx * ay for (ax, ay), (bx, by) in zip(ring, (*ring[1:], ring[0]), strict=True)
    )


def point_along(line: Sequence[Point], fraction: float) -> Point:
    """The point at `fraction` (0 to 1) of the length of an open polyline."""
    if not 0.0 <= fraction <= 1.0:
        raise PatternError(f"A fraction of an edge lies between 0 and 1, not {fraction}.")
    left = fraction * length_mm(line)
    for a, b in pairwise(line):
        step = distance_mm(a, b)
        if step and left <= step:
            return (a[0] + (b[0] - a[0]) * left / step, a[1] + (b[1] - a[1]) * left / step)
        left -= step
    return line[-1]


def notch_on(code: str, edge: Edge, from_start_mm: float, count: int = 1) -> Notch:
    """A notch so far along an edge, measured from the edge's first point."""
    return Notch(code, edge.name, point_along(edge.points, from_start_mm / edge.length_mm), count)


def turned(points: Iterable[Point], degrees: float) -> Line:
    """Points rotated counterclockwise about the origin; quarter turns are exact."""
    quarter = {0: (1.0, 0.0), 90: (0.0, 1.0), 180: (-1.0, 0.0), 270: (0.0, -1.0)}
    angle = math.radians(degrees)
    cos, sin = quarter.get(int(degrees) % 360 if degrees == int(degrees) else -1) or (
        math.cos(angle),
        math.sin(angle),
    )
    return tuple((x * cos - y * sin, x * sin + y * cos) for x, y in points)


def moved(points: Iterable[Point], dx: float, dy: float) -> Line:
    return tuple((x + dx, y + dy) for x, y in points)


def bounds(points: Sequence[Point]) -> tuple[float, float, float, float]:
    """(least x, least y, greatest x, greatest y)."""
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    return min(xs), min(ys), max(xs), max(ys)


def mirrored(points: Sequence[Point]) -> Line:
    """Points mirrored across x = 0, in reversed order, so that a ring keeps its sense."""
    return tuple((-x, y) for x, y in reversed(points))


def cubic_steps(
    p0: Point, p1: Point, p2: Point, p3: Point, error_mm: float = CHORD_ERROR_MM
) -> int:
    """How many equal parameter steps keep the chords of a cubic Bezier curve within `error_mm`.

    From the bound of linear interpolation, error <= max|B''| / (8 n^2), where |B''| is at most six
    times the longer second difference of the control points (standard mathematics).
    """
    bend = max(
        math.hypot(a[0] - 2 * b[0] + c[0], a[1] - 2 * b[1] + c[1])
        for a, b, c in ((p0, p1, p2), (p1, p2, p3))
    )
    return max(1, math.ceil(math.sqrt(6.0 * bend / (8.0 * error_mm))))


def cubic(p0: Point, p1: Point, p2: Point, p3: Point, steps: int | None = None) -> Line:
    """A cubic Bezier curve as a polyline, both ends exact, within CHORD_ERROR_MM of the curve
    unless `steps` is given."""
    count = cubic_steps(p0, p1, p2, p3) if steps is None else steps
    return (p0, *(_on_cubic(p0, p1, p2, p3, step / count) for step in range(1, count)), p3)


def _on_cubic(p0: Point, p1: Point, p2: Point, p3: Point, t: float) -> Point:
    u = 1.0 - t
    a, b, c, d = u * u * u, 3 * u * u * t, 3 * u * t * t, t * t * t
    return (
        a * p0[0] + b * p1[0] + c * p2[0] + d * p3[0],
        a * p0[1] + b * p1[1] + c * p2[1] + d * p3[1],
    )


def start_direction_deg(line: Sequence[Point]) -> float:
    """The direction in which an edge leaves its first point, in degrees from +x.

    The first chord of a flattened curve is off by half its arc. The one-sided difference over four
    points at equal parameter steps is exact for a polyline made by `cubic` (standard mathematics);
    a line of fewer points is taken as straight at its beginning.
    """
    if len(line) < 4:
        return _direction_deg(line[0], line[1])
    slope_x, slope_y = (
        -11 * a + 18 * b - 9 * c + 2 * d for a, b, c, d in zip(*line[:4], strict=True)
    )
    return math.degrees(math.atan2(slope_y, slope_x))


def _direction_deg(a: Point, b: Point) -> float:
    return math.degrees(math.atan2(b[1] - a[1], b[0] - a[0]))


def corner_deg(arriving: Sequence[Point], leaving: Sequence[Point]) -> float:
    """The inner angle, 0 to 360 degrees, where one edge of a counterclockwise outline meets the
    next."""
    back = start_direction_deg(tuple(reversed(arriving)))
    return (back - start_direction_deg(leaving)) % 360.0


def faults(outline: Outline) -> tuple[str, ...]:
    """What keeps an outline from being cut, one sentence each; empty when it is sound."""
    return (
        *_gaps(outline),
        *_ring_faults(outline),
        *_fold_faults(outline),
        *_notch_faults(outline),
    )


def _gaps(outline: Outline) -> Iterable[str]:
    if not outline.edges:
        return
    for edge, following in zip(outline.edges, (*outline.edges[1:], outline.edges[0]), strict=True):
        gap = distance_mm(edge.points[-1], following.points[0])
        if gap > SAME_POINT_MM:
            yield f"{outline.code}: edge '{edge.name}' ends {gap:.3f} mm before '{following.name}'."


def _ring_faults(outline: Outline) -> Iterable[str]:
    from shapely import Polygon
    from shapely.validation import explain_validity

    ring = outline.ring
    if len(ring) < 3:
        yield f"{outline.code}: an outline takes at least three points, not {len(ring)}."
        return
    polygon = Polygon(ring)
    if not polygon.is_valid:
        yield f"{outline.code}: the outline crosses itself: {explain_validity(polygon)}."
    elif signed_area_mm2(ring) <= 0:
        yield f"{outline.code}: the outline runs clockwise."


def _fold_faults(outline: Outline) -> Iterable[str]:
    folds = [edge for edge in outline.edges if edge.kind is EdgeKind.FOLD]
    wanted = 1 if outline.pairing is Pairing.FOLD else 0
    if len(folds) != wanted:
        yield f"{outline.code}: {len(folds)} fold edges where {wanted} belong."
    for edge in folds:
        if any(abs(x) > SAME_POINT_MM for x, _ in edge.points):
            yield f"{outline.code}: the fold edge '{edge.name}' leaves x = 0."


def _notch_faults(outline: Outline) -> Iterable[str]:
    from shapely import LineString
    from shapely import Point as Spot

    for notch in outline.notches:
        off_mm = LineString(outline.edge(notch.edge).points).distance(Spot(notch.point))
        if off_mm > NOTCH_OFF_EDGE_MM:
            yield f"{outline.code}: notch '{notch.code}' lies {off_mm:.2f} mm off its edge."
