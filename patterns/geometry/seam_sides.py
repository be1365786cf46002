"""Which blocks lie opposite each other across a seam.

Both sides of a seam are walked as one path over the edges of the pieces, cut into the parts that
lie on the blocks, and compared by fractions of their lengths.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from itertools import accumulate
from typing import TypeVar

from patterns.geometry.blocks import Block
from patterns.geometry.outline import Edge, Line, Pairing, Point, distance_mm, length_mm

#: A piece and one of its edges.
PieceEdge = tuple[str, str]
#: The two sides of a seam.
Sides = tuple[tuple[PieceEdge, ...], tuple[PieceEdge, ...]]

Item = TypeVar("Item")

#: Cut ends of an edge that lie nearer than this are the same cut.
SAME_CUT_MM = 0.1
#: Where seams meant to meet miss each other by less than this, nothing lies opposite there.
SHORTEST_MM = 5.0


@dataclass(frozen=True, slots=True)
class Part:
    """The part of an edge that lies on one block, in the frame that the piece is drawn in."""

    block: str
    points: Line

    @property
    def length_mm(self) -> float:
        return length_mm(self.points)


Parts = Mapping[PieceEdge, Sequence[Part]]


def parts_of(blocks: Sequence[Block]) -> Parts:
    """The parts of every edge, in no order. Style lines are edges of the piece that they cut."""
    found: dict[PieceEdge, list[Part]] = {}
    for block in blocks:
        for name, points in _drawn_edges(block):
            found.setdefault((block.piece, name), []).append(Part(block.code, points))
    return found


def _drawn_edges(block: Block) -> list[tuple[str, Line]]:
    """The edges of a block; of one cut on the fold those of the half that is drawn."""
    edges = block.draft.edges
    if block.pairing is not Pairing.FOLD:
        return [(edge.name, edge.points) for edge in edges]
    side = _drawn_half(edges)
    halves = [
        (edge.name, tuple(point for point in edge.points if point[0] * side >= 0)) for edge in edges
    ]
    return [
        (name, points) for name, points in halves if len(points) > 1 and any(x for x, _ in points)
    ]


def _drawn_half(edges: Sequence[Edge]) -> float:
    """The sign of x: an unfolded outline begins with an edge that ends in the drawn half."""
    xs = (x for x, _ in reversed(edges[0].points))
    return next((x for x in xs if x), 0.0)


def across_seam(sides: Sides, parts: Parts, seams: Collection[Sides]) -> dict[str, tuple[str, ...]]:
    """By each block on the first side the blocks of the second that lie opposite, in the order of
    sewing; `seams` are all seams of the jacket, by which edges of different pieces follow one
    another. Where the order of the edges of a side cannot be told, all blocks of the second side
    count as opposite."""
    whole = [[part for edge in side for part in parts.get(edge, ())] for side in sides]
    paths = [_path(side, parts, seams) for side in sides]
    return _facing(whole[0], whole[1], paths[0], paths[1])


def across_cut(left: Sequence[Part], right: Sequence[Part]) -> dict[str, tuple[str, ...]]:
    """The same for both hands of a style line."""
    return _facing(left, right, _chained(left), _chained(right))


def _facing(
    first: Sequence[Part],
    second: Sequence[Part],
    first_path: Sequence[Part] | None,
    second_path: Sequence[Part] | None,
) -> dict[str, tuple[str, ...]]:
    """Pieces lie right side up, so the edges of a seam run against each other around their pieces,
    unless both rise or both fall: pieces are drawn upright, and like heights meet."""
    if not (first_path and second_path):
        every = tuple(dict.fromkeys(part.block for part in second))
        return {part.block: every for part in first}
    if _rise(first_path) * _rise(second_path) <= 0:
        second_path = second_path[::-1]
    return _overlapping(first_path, second_path)


def _path(
    side: Sequence[PieceEdge], parts: Parts, seams: Collection[Sides]
) -> tuple[Part, ...] | None:
    """The parts of a side in the order in which one walks along it; None if it cannot be told."""
    chains = {edge: _chained(parts.get(edge, ())) for edge in side}
    known = {edge: chain for edge, chain in chains.items() if chain}
    if len(known) < len(side):
        return None
    ordered = _in_a_row(list(side), known, parts, seams)
    return tuple(part for edge in ordered for part in known[edge]) if ordered else None


def _chained(parts: Sequence[Part]) -> tuple[Part, ...] | None:
    """The parts of one edge from its start to its end."""
    return _row(parts, lambda a, b: _same(a.points[-1], b.points[0]))


def _in_a_row(
    edges: Sequence[PieceEdge],
    chains: Mapping[PieceEdge, tuple[Part, ...]],
    parts: Parts,
    seams: Collection[Sides],
) -> tuple[PieceEdge, ...] | None:
    """Edges of one side one after the other: on one piece where they touch, on two pieces where
    the edges beside them are sewn together, as beside the necklines the shoulders are."""

    def follows(a: PieceEdge, b: PieceEdge) -> bool:
        end, start = chains[a][-1].points[-1], chains[b][0].points[0]
        if a[0] == b[0]:
            return _same(end, start)
        after, before = _beside(a, end, 0, parts), _beside(b, start, -1, parts)
        return any(
            (after & set(one) and before & set(other)) or (after & set(other) and before & set(one))
            for one, other in seams
        )

    return _row(edges, follows)


def _beside(edge: PieceEdge, at: Point, end: int, parts: Parts) -> set[PieceEdge]:
    """The other edges of the piece that have their first (0) or last (-1) point there."""
    return {
        other
        for other, found in parts.items()
        if other[0] == edge[0]
        and other != edge
        and any(_same(part.points[end], at) for part in found)
    }


def _row(items: Sequence[Item], follows: Callable[[Item, Item], bool]) -> tuple[Item, ...] | None:
    """The items so that each follows the one before, a ring from its first item on; None where
    that leaves a choice or a gap."""
    left = list(items)
    starts = [b for b in left if not any(a is not b and follows(a, b) for a in left)]
    if not left or len(starts) > 1:
        return None
    row = [*starts, *left][:1]
    left.remove(row[0])
    while left:
        after = [item for item in left if follows(row[-1], item)]
        if len(after) != 1:
            return None
        row += after
        left.remove(after[0])
    return tuple(row)


def _same(a: Point, b: Point) -> bool:
    return distance_mm(a, b) <= SAME_CUT_MM


def _rise(path: Sequence[Part]) -> int:
    """Whether a path clearly rises (1) or falls (-1): by more than half of its length."""
    rise_mm = sum(part.points[-1][1] - part.points[0][1] for part in path)
    clear = abs(rise_mm) > sum(part.length_mm for part in path) / 2
    return (rise_mm > 0) - (rise_mm < 0) if clear else 0


def _overlapping(first: Sequence[Part], second: Sequence[Part]) -> dict[str, tuple[str, ...]]:
    whole_mm = sum(part.length_mm for part in first)
    found: dict[str, dict[str, None]] = {}
    for block, start, end in _spans(first):
        own = found.setdefault(block, {})
        for other, other_start, other_end in _spans(second):
            if (min(end, other_end) - max(start, other_start)) * whole_mm > SHORTEST_MM:
                own.setdefault(other)
    return {block: tuple(own) for block, own in found.items()}


def _spans(path: Sequence[Part]) -> list[tuple[str, float, float]]:
    """Each part with the fractions of the path at which it begins and ends."""
    whole_mm = sum(part.length_mm for part in path)
    ends = [reached / whole_mm for reached in accumulate(part.length_mm for part in path)]
    return [
        (part.block, start, end) for part, start, end in zip(path, [0.0, *ends], ends, strict=False)
    ]
