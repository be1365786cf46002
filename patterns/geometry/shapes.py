"""Outlines and lines as shapes of the geometry library, which is loaded only when it is needed,
and stretches of lines."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

from patterns.geometry.outline import SAME_POINT_MM, Line, distance_mm, length_mm, point_along

if TYPE_CHECKING:
    from shapely import LinearRing, LineString, Polygon

# The library's array functions build a shape some three times faster than its classes do.


def polygon(ring: Line) -> Polygon:
    """The area within a ring given without its repeated first point."""
    import shapely

    return shapely.polygons(ring)


def boundary(ring: Line) -> LinearRing:
    """The closed line around a ring given without its repeated first point."""
    import shapely

    return shapely.linearrings(ring)


def path(points: Line) -> LineString:
    """The open line through at least two points."""
    import shapely

    return shapely.linestrings(points)


def stretch(line: Line, start_mm: float, end_mm: float) -> Line:
    """The part of an open polyline between two places, given as lengths from its start."""
    total = length_mm(line)
    between = []
    reached = 0.0
    for a, b in pairwise(line):
        reached += distance_mm(a, b)
        if start_mm + SAME_POINT_MM < reached < end_mm - SAME_POINT_MM:
            between.append(b)
    first = line[0] if start_mm <= SAME_POINT_MM else point_along(line, min(1, start_mm / total))
    last = line[-1] if end_mm >= total - SAME_POINT_MM else point_along(line, end_mm / total)
    return (first, *between, last)
