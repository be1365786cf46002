"""Markings that travel with the parts of a cut outline: notches, marks and the grainline.

Nothing is lost in a cut: each notch and each bit of a mark lies on exactly one of the two parts.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise
from typing import TYPE_CHECKING

from patterns.geometry.outline import (
    NOTCH_OFF_EDGE_MM,
    Line,
    Mark,
    Notch,
    Outline,
    PatternError,
    Point,
    length_mm,
    point_along,
)
from patterns.geometry.shapes import boundary, path, polygon, stretch

if TYPE_CHECKING:
    from shapely import LinearRing, LineString, Polygon

#: A notch this near to a cut lies on it.
ON_CUT_MM = 0.01

#: The direction of an edge at a notch is taken over this length to both sides.
NORMAL_MM = 0.5

#: A seam longer than this gets two notches (invented value).
LONG_SEAM_MM = 150.0

#: The grainline is drawn over this share of the room there is, and no shorter than the least
#: length, so that a ruler can be laid along it (both invented values).
GRAINLINE_SHARE = 0.8
LEAST_GRAINLINE_MM = 30.0


def shared(
    outline: Outline, cut: Line, code: str, left: Outline, right: Outline
) -> tuple[Outline, Outline]:
    """Both bare parts of an outline with its markings, and notches to match the new seam `code`."""
    notches = _shared_notches(outline, left, right)
    marks = _shared_marks(outline.marks, cut, left, right)
    new = matching_notches(code, cut)
    first, second = (
        replace(
            part,
            notches=(*kept, *new),
            marks=kept_marks,
            grainline=placed_grainline(part, outline.grainline),
        )
        for part, kept, kept_marks in zip((left, right), notches, marks, strict=True)
    )
    return first, second


def matching_notches(code: str, line: Line) -> tuple[Notch, ...]:
    """The notches of a new seam: one at a third and a double one at two thirds of a long seam, one
    off the middle of a short one, so that neither can be sewn upside down."""
    long = length_mm(line) > LONG_SEAM_MM
    places = ((1 / 3, 1), (2 / 3, 2)) if long else ((0.4, 1),)
    return tuple(
        Notch(f"{code}{number}", code, point_along(line, fraction), count)
        for number, (fraction, count) in enumerate(places, start=1)
    )


def square_to_cut(outline: Outline, cut: Line) -> tuple[Point, ...]:
    """Where each notch of an outline meets the cut outline, square to its edge at the stitching
    line; in the order of the notches.

    Of several edges with one name the nearest to the notch counts. PatternError: a notch whose edge
    the outline lacks, or that has no cut line outside.
    """
    around = boundary(cut)
    lines = [(edge.name, path(edge.points)) for edge in outline.edges]
    return tuple(_cut_point(outline, notch, lines, around) for notch in outline.notches)


def _cut_point(
    outline: Outline, notch: Notch, lines: list[tuple[str, LineString]], around: LinearRing
) -> Point:
    import shapely

    spot = shapely.Point(notch.point)
    edge = min(
        (line for name, line in lines if name == notch.edge), key=spot.distance, default=None
    )
    if edge is None:
        raise PatternError(
            f"Notch {notch.code} of {outline.code} names the edge '{notch.edge}', which it lacks."
        )
    # Without allowance the notch lies on the cut line, and rounding may put it just outside.
    if around.distance(spot) <= NOTCH_OFF_EDGE_MM:
        return notch.point
    ray = path((notch.point, _outside(notch.point, edge, around.length)))
    meetings = shapely.get_coordinates(ray.intersection(around)).tolist()
    if not meetings:
        raise PatternError(
            f"Notch {notch.code} of {outline.code} finds no cut line outside edge '{notch.edge}'; "
            "move it onto the edge."
        )
    x, y = min(meetings, key=lambda meeting: math.dist(meeting, notch.point))
    return (x, y)


def _outside(point: Point, edge: LineString, far_mm: float) -> Point:
    """A point so far to the right of an edge, square to it."""
    import shapely

    place = edge.project(shapely.Point(point))
    a, b = edge.interpolate(max(0.0, place - NORMAL_MM)), edge.interpolate(place + NORMAL_MM)
    size = a.distance(b)
    return (point[0] + far_mm * (b.y - a.y) / size, point[1] - far_mm * (b.x - a.x) / size)


def placed_grainline(part: Outline, grainline: tuple[Point, Point]) -> tuple[Point, Point]:
    """The grainline's direction, drawn where it lies inside the part.

    It runs through a point well inside and leaves a margin to the outline; in a part too small for
    it the least length wins. PatternError: a grainline without a direction.
    """
    import shapely

    (ax, ay), (bx, by) = grainline
    size = math.hypot(bx - ax, by - ay)
    if not (math.isfinite(size) and size > 0):
        raise PatternError(f"The grainline of {part.code} has no direction; draw it again.")
    ux, uy = (bx - ax) / size, (by - ay) / size
    area = polygon(part.ring)
    inside = area.representative_point()
    far = area.length
    through = path(
        (
            (inside.x - far * ux, inside.y - far * uy),
            (inside.x + far * ux, inside.y + far * uy),
        )
    )
    stretches = shapely.get_parts(through.intersection(area))
    room = min(stretches, key=inside.distance)
    middle = room.interpolate(0.5, normalized=True)
    half = max(LEAST_GRAINLINE_MM, GRAINLINE_SHARE * room.length) / 2
    return (
        (middle.x - half * ux, middle.y - half * uy),
        (middle.x + half * ux, middle.y + half * uy),
    )


def _shared_notches(
    outline: Outline, left: Outline, right: Outline
) -> tuple[tuple[Notch, ...], tuple[Notch, ...]]:
    """Each notch goes to the part on whose edge it lies; one exactly on the cut to the part that
    keeps the longer piece of its edge."""
    shares: tuple[list[Notch], list[Notch]] = ([], [])
    for notch in outline.notches:
        (off_left, long_left), (off_right, long_right) = (
            _hold(part, notch) for part in (left, right)
        )
        if min(off_left, off_right) > NOTCH_OFF_EDGE_MM:
            raise PatternError(
                f"Notch {notch.code} of {outline.code} does not lie on its edge '{notch.edge}'; "
                "move it onto the edge or name the right edge."
            )
        if abs(off_left - off_right) <= ON_CUT_MM:
            to_right = long_right > long_left
        else:
            to_right = off_right < off_left
        shares[to_right].append(notch)
    return tuple(shares[0]), tuple(shares[1])


def _hold(part: Outline, notch: Notch) -> tuple[float, float]:
    """(distance, length) of the part's edge nearest to a notch among those it names."""
    import shapely

    point = shapely.Point(notch.point)
    return min(
        (
            (point.distance(path(edge.points)), edge.length_mm)
            for edge in part.edges
            if edge.name == notch.edge
        ),
        default=(math.inf, 0.0),
    )


def _shared_marks(
    marks: tuple[Mark, ...], cut: Line, left: Outline, right: Outline
) -> tuple[tuple[Mark, ...], tuple[Mark, ...]]:
    """Each mark goes to the part nearest to it; a line is first divided where it meets the cut."""

    shares: tuple[list[Mark], list[Mark]] = ([], [])
    areas = polygon(left.ring), polygon(right.ring)
    for mark in marks:
        for points in _divided(mark.points, cut):
            shares[_nearer(areas, points)].append(replace(mark, points=points))
    return tuple(shares[0]), tuple(shares[1])


def _divided(points: Line, cut: Line) -> Iterator[Line]:
    import numpy as np
    import shapely

    if len(points) < 2:
        yield points
        return
    line = path(points)
    meetings = shapely.points(shapely.get_coordinates(line.intersection(path(cut))))
    places = np.sort(np.append(shapely.line_locate_point(line, meetings), (0.0, line.length)))
    for a, b in pairwise(places.tolist()):
        if b - a > ON_CUT_MM:
            yield stretch(points, a, b)


def _nearer(areas: tuple[Polygon, Polygon], points: Line) -> bool:
    """Whether the middle of a mark lies in (or, outside both, nearer to) the second area."""
    import shapely

    middle = shapely.Point(point_along(points, 0.5))
    return areas[1].distance(middle) < areas[0].distance(middle)
