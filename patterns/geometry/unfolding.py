"""From the left half of a piece cut on the fold to the whole."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from patterns.geometry.outline import (
    NOTCH_OFF_EDGE_MM,
    SAME_POINT_MM,
    Edge,
    EdgeKind,
    Line,
    Mark,
    Notch,
    Outline,
    Pairing,
    PatternError,
    Point,
    distance_mm,
    mirrored,
)


def unfolded(outline: Outline) -> Outline:
    """The whole of a half outline with pairing FOLD, as SINGLE; any other outline as it is.

    The half is mirrored across x = 0. Mirrored edges, notches and marks keep their names and codes;
    an edge and a line mark that end on the fold go on into their own mirror image, and a notch or
    mark on the fold is there once. A notch on the fold itself, away from its ends, has no edge left
    and becomes a mark.

    PatternError: a fold that is missing, not in one stretch or not on x = 0, or a half that crosses
    x = 0.
    """
    if outline.pairing is not Pairing.FOLD:
        return outline
    fold, half = _opened(outline)
    notches, spots = _off_fold(outline.notches, fold, half)
    return replace(
        outline,
        pairing=Pairing.SINGLE,
        edges=_joined(half),
        notches=tuple(_both_sides_of_notches(notches)),
        marks=tuple(_both_sides_of_marks((*outline.marks, *spots))),
    )


def _opened(outline: Outline) -> tuple[Edge, list[Edge]]:
    """The fold, and the other edges from its end round to its start, these two points exactly on
    x = 0."""
    folds = [index for index, edge in enumerate(outline.edges) if edge.kind is EdgeKind.FOLD]
    if len(folds) != 1:
        raise PatternError(
            f"The fold of {outline.code} must be one stretch, not {len(folds)}; move the style "
            "line so that it meets the fold once at most."
        )
    fold = outline.edges[folds[0]]
    if any(abs(x) > SAME_POINT_MM for x, _ in fold.points):
        raise PatternError(f"The fold of {outline.code} must lie on x = 0; move it there.")
    xs = [x for x, _ in outline.ring]
    if min(xs) < -SAME_POINT_MM and max(xs) > SAME_POINT_MM:
        raise PatternError(
            f"The half outline {outline.code} crosses its fold; keep it on one side of x = 0."
        )
    half = [*outline.edges[folds[0] + 1 :], *outline.edges[: folds[0]]]
    if not half:
        raise PatternError(f"The half outline {outline.code} has no edge beside its fold.")
    half[0] = replace(half[0], points=((0.0, half[0].points[0][1]), *half[0].points[1:]))
    half[-1] = replace(half[-1], points=(*half[-1].points[:-1], (0.0, half[-1].points[-1][1])))
    return fold, half


def _joined(half: list[Edge]) -> tuple[Edge, ...]:
    mirror = [replace(edge, points=mirrored(edge.points)) for edge in reversed(half)]
    if len(half) == 1:
        # Joined at both ends it would be an edge without ends.
        return (*half, *mirror)
    first = replace(half[0], points=(*mirror[-1].points, *half[0].points[1:]))
    last = replace(half[-1], points=(*half[-1].points, *mirror[0].points[1:]))
    return (first, *half[1:-1], last, *mirror[1:-1])


def _off_fold(
    notches: tuple[Notch, ...], fold: Edge, half: list[Edge]
) -> tuple[list[Notch], list[Mark]]:
    ends = ((fold.points[0], half[-1].name), (fold.points[-1], half[0].name))
    kept, spots = [], []
    for notch in notches:
        if notch.edge != fold.name:
            kept.append(notch)
            continue
        neighbors = [name for end, name in ends if _near(end, notch.point)]
        if neighbors:
            kept.append(replace(notch, edge=neighbors[0]))
        else:
            spots.append(Mark(notch.code, (notch.point,)))
    return kept, spots


def _both_sides_of_notches(notches: list[Notch]) -> Iterator[Notch]:
    for notch in notches:
        yield notch
        if not _on_fold(notch.point):
            x, y = notch.point
            yield replace(notch, point=(-x, y))


def _both_sides_of_marks(marks: tuple[Mark, ...]) -> Iterator[Mark]:
    for mark in marks:
        for points in _both_sides(mark.points):
            yield replace(mark, points=points)


def _both_sides(points: Line) -> tuple[Line, ...]:
    if all(map(_on_fold, points)):
        return (points,)
    if _on_fold(points[-1]):
        return ((*points, *mirrored(points)[1:]),)
    if _on_fold(points[0]):
        return ((*mirrored(points), *points[1:]),)
    return (points, mirrored(points))


def _on_fold(point: Point) -> bool:
    return abs(point[0]) <= NOTCH_OFF_EDGE_MM


def _near(a: Point, b: Point) -> bool:
    return distance_mm(a, b) <= NOTCH_OFF_EDGE_MM
