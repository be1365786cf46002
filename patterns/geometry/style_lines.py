"""Style lines: where they run on a piece, and the two parts they cut an outline into."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import accumulate, pairwise
from typing import TYPE_CHECKING

from patterns.geometry import markings
from patterns.geometry.outline import (
    SAME_POINT_MM,
    Edge,
    EdgeKind,
    Line,
    Outline,
    Pairing,
    PatternError,
    Point,
    cubic,
    distance_mm,
    point_along,
)
from patterns.geometry.shapes import path, polygon, stretch

if TYPE_CHECKING:
    from shapely import LineString, Polygon

    from patterns.geometry.blocks import Anchor, StyleLine

#: A point of a style line this near to the outline lies on it, and on a corner this near.
REACH_MM = 0.01


@dataclass(frozen=True, slots=True)
class _Cut:
    """The stretch of a line inside an outline; its two ends as lengths along the outline's ring."""

    points: Line
    start_mm: float
    end_mm: float


def line_on(piece: Outline, style_line: StyleLine) -> Line:
    """The style line as a polyline in the draft frame of the base piece, from start to end.

    PatternError: an anchor edge the piece lacks, a fraction outside 0 to 1, both ends in one place,
    bends that are not two finite points.
    """
    start = _anchored(piece, style_line, style_line.start)
    end = _anchored(piece, style_line, style_line.end)
    if distance_mm(start, end) <= REACH_MM:
        raise PatternError(
            f"Style line {style_line.code} starts and ends in the same place of piece "
            f"{piece.code}; move one end."
        )
    if not style_line.bends:
        return (start, end)
    if len(style_line.bends) != 2 or not _finite(style_line.bends):
        raise PatternError(
            f"Style line {style_line.code} on piece {piece.code} needs two bends with plain "
            "numbers, or none for a straight line."
        )
    first, second = (_beside_chord(start, end, bend) for bend in style_line.bends)
    return cubic(start, first, second, end)


def check_fold_line(piece: Outline, style_line: StyleLine) -> None:
    """Refuse a line that neither cuts a block in two nor opens the fold of its base piece.

    A line opens the fold if it runs straight along the whole fold edge and names its left block
    only. PatternError: it touches the fold with both ends in any other way, or names one block only
    without opening a fold.
    """
    folds = {edge.name for edge in piece.edges if edge.kind is EdgeKind.FOLD}
    anchors = (style_line.start, style_line.end)
    along_fold = all(anchor.edge in folds for anchor in anchors)
    whole = {anchor.fraction for anchor in anchors} == {0.0, 1.0} and not style_line.bends
    if along_fold and not (whole and style_line.right is None):
        raise PatternError(
            f"Style line {style_line.code} has both ends on the fold of piece {piece.code}. To "
            "open the fold it runs straight from 0 to 1 of that edge and names its left block "
            "only; otherwise move one end to another edge."
        )
    if style_line.right is None and not along_fold:
        raise PatternError(
            f"Style line {style_line.code} names no block on its right; only a line along the "
            f"fold of piece {piece.code} may do so. Name the block, or move both ends to the "
            "fold edge."
        )


def open_fold(outline: Outline, code: str) -> Outline:
    """The half outline as one of a pair: its fold becomes a seam named `code`, with notches."""
    folds = [edge for edge in outline.edges if edge.kind is EdgeKind.FOLD]
    if not folds:
        raise PatternError(
            f"Style line {code} would open the fold of block {outline.code}, which has none left; "
            "leave this style line out or let it cut the block that holds the fold."
        )
    opened = {edge.name for edge in folds}
    seams = {edge: Edge(code, edge.points) for edge in folds}
    kept = tuple(
        replace(notch, edge=code) if notch.edge in opened else notch for notch in outline.notches
    )
    # The right half is the mirror image, so the left half's notches match their own reflections.
    new = markings.matching_notches(code, folds[0].points)
    return replace(
        outline,
        pairing=Pairing.PAIR,
        edges=tuple(seams.get(edge, edge) for edge in outline.edges),
        notches=(*kept, *new),
    )


def split(outline: Outline, line: Line, code: str) -> tuple[Outline, Outline]:
    """The parts of an outline on the left and on the right hand when walking along `line`.

    The line may start and end on the outline or beyond it, where it is clipped. Both parts keep
    the code and the name of the outline; both new edges are seams named `code` with the same
    points. A part that keeps no fold is one of a pair.

    PatternError, naming the line, the outline and what to do: too few points or numbers that are
    not finite, a line that crosses itself, misses the outline, ends inside it or cuts off more
    than one part.
    """
    cut = _inner_stretch(outline, _checked(outline, line, code), code)
    left = _part(outline, Edge(code, cut.points), cut.end_mm, cut.start_mm)
    right = _part(outline, Edge(code, cut.points[::-1]), cut.start_mm, cut.end_mm)
    return markings.shared(outline, cut.points, code, left, right)


def _anchored(piece: Outline, style_line: StyleLine, anchor: Anchor) -> Point:
    try:
        return point_along(piece.edge(anchor.edge).points, anchor.fraction)
    except PatternError as error:
        raise PatternError(f"Style line {style_line.code} cannot be placed: {error}") from error


def _finite(points: Line) -> bool:
    return all(math.isfinite(number) for point in points for number in point)


def _beside_chord(start: Point, end: Point, bend: Point) -> Point:
    along, aside = bend
    dx, dy = end[0] - start[0], end[1] - start[1]
    return (start[0] + along * dx - aside * dy, start[1] + along * dy + aside * dx)


def _checked(outline: Outline, line: Line, code: str) -> Line:
    if not _finite(line):
        raise PatternError(
            f"Style line {code} on {outline.code} holds a number that is not finite; draw it again."
        )
    points = tuple(
        point
        for index, point in enumerate(line)
        if not index or distance_mm(line[index - 1], point) > SAME_POINT_MM
    )
    if len(points) < 2:
        raise PatternError(
            f"Style line {code} on {outline.code} needs at least two different points; move an end."
        )
    if not path(points).is_simple or points[0] == points[-1]:
        raise PatternError(
            f"Style line {code} on {outline.code} crosses itself; flatten the curve or move an end."
        )
    return points


def _inner_stretch(outline: Outline, line: Line, code: str) -> _Cut:
    import shapely

    track, area = path(line), polygon(outline.ring)
    inner = list(_stretches_inside(track, area))
    if not inner:
        raise PatternError(
            f"Style line {code} misses {outline.code}: no point of it lies inside; "
            "move an end or flatten the curve."
        )
    if len(inner) > 1:
        raise PatternError(
            f"Style line {code} runs {len(inner)} times through {outline.code} and cuts it into "
            "three or more parts; move an end or flatten the curve so that it enters only once."
        )
    ends = shapely.line_interpolate_point(track, inner[0])
    for end in ends[shapely.distance(area.exterior, ends) > REACH_MM]:
        raise PatternError(
            f"Style line {code} does not reach the edge of {outline.code}: it ends inside, at "
            f"({end.x:.1f}, {end.y:.1f}); move this end onto or beyond an edge."
        )
    start_mm, end_mm = shapely.line_locate_point(area.exterior, ends).tolist()
    return _cut_at(outline, line, inner[0], (start_mm, end_mm), code)


def _stretches_inside(track: LineString, area: Polygon) -> Iterator[tuple[float, float]]:
    """The stretches of a line strictly inside, as lengths from the line's start.

    Between two meetings with the outline a line stays on one side of it or runs along it, so that
    a few points of each stretch tell; a stretch that merely follows the outline cuts nothing.
    """
    import numpy as np
    import shapely

    meetings = shapely.points(shapely.get_coordinates(track.intersection(area.exterior)))
    places = [0.0]
    for place in np.sort(shapely.line_locate_point(track, meetings)).tolist():
        if place - places[-1] > REACH_MM:
            places.append(place)
    if track.length - places[-1] > REACH_MM:
        places.append(track.length)
    else:
        places[-1] = track.length
    for a, b in pairwise(places):
        samples = shapely.line_interpolate_point(
            track, [a + (b - a) * q for q in (0.25, 0.5, 0.75)]
        )
        deep = shapely.distance(area.exterior, samples) > REACH_MM
        if bool((shapely.contains(area, samples) & deep).any()):
            yield a, b


def _cut_at(
    outline: Outline,
    line: Line,
    along_line: tuple[float, float],
    along_ring: tuple[float, float],
    code: str,
) -> _Cut:
    """The cut with both ends laid exactly onto the ring, onto a corner where one is near."""
    ring = (*outline.ring, outline.ring[0])
    corners = list(accumulate((distance_mm(a, b) for a, b in pairwise(ring)), initial=0.0))

    def snapped(place: float) -> tuple[float, Point]:
        nearest = min(range(len(corners)), key=lambda i: abs(corners[i] - place))
        if abs(corners[nearest] - place) <= REACH_MM:
            return corners[nearest] % corners[-1], ring[nearest]
        return place, stretch(ring, place, corners[-1])[0]

    (start_mm, start), (end_mm, end) = (snapped(place) for place in along_ring)
    if distance_mm(start, end) <= REACH_MM:
        raise PatternError(
            f"Style line {code} on {outline.code} comes back to where it started; move an end."
        )
    return _Cut((start, *stretch(line, *along_line)[1:-1], end), start_mm, end_mm)


def _part(outline: Outline, cut: Edge, start_mm: float, end_mm: float) -> Outline:
    """The part between the cut and the stretch of the ring from the cut's end back to its start."""
    kept = list(_ring_stretch(outline, start_mm, end_mm))
    kept[0] = replace(kept[0], points=(cut.points[-1], *kept[0].points[1:]))
    kept[-1] = replace(kept[-1], points=(*kept[-1].points[:-1], cut.points[0]))
    lost_fold = all(edge.kind is not EdgeKind.FOLD for edge in kept)
    pairing = Pairing.PAIR if outline.pairing is Pairing.FOLD and lost_fold else outline.pairing
    return replace(outline, pairing=pairing, edges=(cut, *kept), notches=(), marks=())


def _ring_stretch(outline: Outline, start_mm: float, end_mm: float) -> Iterator[Edge]:
    """The edges and parts of edges met when walking the ring from one place on to another."""
    if end_mm <= start_mm:
        end_mm += outline.perimeter_mm
    begin = 0.0
    for edge in (*outline.edges, *outline.edges):
        length = edge.length_mm
        first, last = max(0.0, start_mm - begin), min(length, end_mm - begin)
        # Cuts lie on a corner or farther than REACH_MM from it: what is shorter is rounding.
        if last - first > REACH_MM / 2:
            yield replace(edge, points=stretch(edge.points, first, last))
        begin += length
