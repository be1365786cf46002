"""What a picture is made of: the blocks' own outlines and the stitching on them, y up."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING

from patterns.geometry.blocks import Block
from patterns.geometry.outline import (
    Edge,
    EdgeKind,
    Line,
    Pairing,
    PatternError,
    mirrored,
)

if TYPE_CHECKING:
    from shapely import LineString
    from shapely.geometry.base import BaseGeometry

#: Drawing conventions, in mm: how far stitching is drawn from its seam and from the finished hem.
TOPSTITCH_MM, HEM_STITCH_MM = 6.0, 25.0

#: Edges of two blocks nearer than this are the same style line, in mm.
SAME_LINE_MM = 0.05


@dataclass(frozen=True, slots=True)
class Cloth:
    """A part of a block: a polygon is its cloth, a line is stitching on it."""

    block: str
    geometry: BaseGeometry

    @property
    def is_stitching(self) -> bool:
        return self.geometry.geom_type.endswith("LineString")

    @property
    def points(self) -> Line:
        """The ring of the cloth, without repeating the first point, or the line of stitching."""
        import shapely

        outline = self.geometry if self.is_stitching else shapely.get_exterior_ring(self.geometry)
        points = tuple((float(x), float(y)) for x, y in shapely.get_coordinates(outline))
        return points if self.is_stitching else points[:-1]


Cloths = tuple[Cloth, ...]


@dataclass(frozen=True, slots=True)
class Piece:
    """All blocks of one piece in their common frame, with the lines that the picture hangs on."""

    code: str
    cloths: Cloths
    edges: tuple[Edge, ...]
    fold_y: float | None

    def points(self, name: str) -> Line:
        """All points of the edges of that name; PatternError when there are none."""
        points = tuple(p for edge in self.edges if edge.name == name for p in edge.points)
        if not points:
            raise PatternError(
                f"Piece {self.code} has no edge '{name}', which its picture is hung on; "
                "name that edge in the pattern."
            )
        return points

    def line(self, name: str) -> Line:
        """An edge of the piece as one polyline from its least to its greatest x, whichever blocks
        it runs over. PatternError when the piece has none of that name or it is interrupted."""
        import shapely

        self.points(name)
        parts = [shapely.LineString(edge.points) for edge in self.edges if edge.name == name]
        merged = shapely.line_merge(shapely.MultiLineString(parts))
        if merged.geom_type != "LineString":
            raise PatternError(
                f"Edge '{name}' of piece {self.code} is interrupted; its picture needs it whole."
            )
        points = tuple((float(x), float(y)) for x, y in merged.coords)
        return points if points[0][0] <= points[-1][0] else points[::-1]


def piece_of(
    blocks: Iterable[Block], code: str, *, whole: bool = False, plain_lines: Collection[str] = ()
) -> Piece | None:
    """The piece of that code, None when no block belongs to it. `whole` adds the right blocks of
    pairs; the style lines named in `plain_lines` are not topstitched."""
    import shapely

    parts: list[tuple[str, tuple[Edge, ...]]] = []
    fold_y = None
    for block in (block for block in blocks if block.piece == code):
        edges = block.draft.edges
        parts.append((block.code, edges))
        if whole and block.pairing is Pairing.PAIR:
            parts.append((block.code, tuple(_mirrored_edge(edge) for edge in edges[::-1])))
        for mark in block.draft.marks:
            if mark.code == "fold":
                fold_y = mark.points[0][1]
    if not parts:
        return None
    cloths = [
        Cloth(name, shapely.Polygon([p for edge in edges for p in edge.points[:-1]]))
        for name, edges in parts
    ]
    stitching = (*_topstitching(cloths, parts, plain_lines), *_hem_stitching(cloths, parts))
    every_edge = tuple(edge for _, edges in parts for edge in edges)
    return Piece(code, (*cloths, *stitching), every_edge, fold_y)


def _mirrored_edge(edge: Edge) -> Edge:
    return Edge(edge.name, mirrored(edge.points), edge.kind)


def _topstitching(
    cloths: Sequence[Cloth],
    parts: Sequence[tuple[str, tuple[Edge, ...]]],
    plain_lines: Collection[str],
) -> Iterable[Cloth]:
    """Beside each style line, on its first block. A style line is known by lying on two blocks."""
    import shapely

    for (one, (_, edges)), (_, (_, others)) in combinations(zip(cloths, parts, strict=True), 2):
        for edge in (edge for edge in edges if edge.name not in plain_lines):
            touching = [shapely.LineString(o.points) for o in others if o.name == edge.name]
            shared = shapely.LineString(edge.points).intersection(
                shapely.union_all(touching).buffer(SAME_LINE_MM)
            )
            if shared.length > TOPSTITCH_MM:
                yield from _beside(one, shared, TOPSTITCH_MM)


def _hem_stitching(
    cloths: Sequence[Cloth], parts: Sequence[tuple[str, tuple[Edge, ...]]]
) -> Iterable[Cloth]:
    import shapely

    for cloth, (_, edges) in zip(cloths, parts, strict=True):
        for edge in edges:
            if edge.kind is EdgeKind.HEM:
                yield from _beside(cloth, shapely.LineString(edge.points), HEM_STITCH_MM)


def _beside(cloth: Cloth, seam: BaseGeometry, distance_mm: float) -> Iterable[Cloth]:
    """Stitching at a distance from a counterclockwise edge, hence on its left."""
    import shapely

    for line in _lines(seam):
        for inner in _lines(shapely.offset_curve(line, distance_mm).intersection(cloth.geometry)):
            yield Cloth(cloth.block, inner)


def _lines(geometry: BaseGeometry) -> list[LineString]:
    import shapely

    return [part for part in shapely.get_parts(geometry) if part.geom_type == "LineString"]
