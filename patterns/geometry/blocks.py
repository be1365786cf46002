"""From pieces and style lines to blocks ready to cut: the one entry point of the geometry."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import lru_cache

from patterns.geometry.markings import square_to_cut
from patterns.geometry.outline import (
    EdgeKind,
    Line,
    Notch,
    Outline,
    Pairing,
    PatternError,
    Point,
    bounds,
    faults,
    turned,
)
from patterns.geometry.seam_allowance import cut_outline
from patterns.geometry.shapes import polygon
from patterns.geometry.style_lines import check_fold_line, line_on, open_fold, split
from patterns.geometry.unfolding import unfolded

__all__ = [
    "Allowances",
    "Anchor",
    "Block",
    "BlockName",
    "EdgeLength",
    "NotchCut",
    "StyleLine",
    "cut_blocks",
    "mirrored",
    "unfolded",
]

#: The blocks of a piece have its area but for rounding.
AREA_TOLERANCE = 1e-6

#: Printed and stored coordinates are rounded to this many digits of a millimetre.
DIGITS = 3


@dataclass(frozen=True, slots=True)
class Anchor:
    """A place on the named edge of a base piece, by fraction of that edge's length, so that it
    grades through all sizes."""

    edge: str
    fraction: float


@dataclass(frozen=True, slots=True)
class BlockName:
    code: str
    name: str


@dataclass(frozen=True, slots=True)
class StyleLine:
    """A line that cuts block `cuts` of `piece` in two, from `start` to `end`.

    `bends` are the two control points of a cubic curve given in the frame of the chord, each as
    (fraction along the chord, fraction of the chord aside, positive to the left when walking from
    start to end); empty for a straight line. `left` and `right` name the block that lies on that
    hand when walking from start to end. A line that runs along the fold edge of a piece cut on the
    fold opens the fold: then `right` is None and `left` names the block of the pair.
    """

    code: str
    name: str
    cuts: str
    start: Anchor
    end: Anchor
    left: BlockName
    right: BlockName | None
    bends: tuple[Point, ...] = ()
    topstitched: bool = True


@dataclass(frozen=True, slots=True)
class Allowances:
    """Seam allowance on seams and depth of the folded hem, in mm; the mitre limit is the greatest
    corner length as a multiple of the allowance."""

    seam_mm: float = 10.0
    hem_mm: float = 30.0
    mitre_limit: float = 3.0


@dataclass(frozen=True, slots=True)
class NotchCut:
    """A notch as the cutter needs it: from the stitching line out to the cut edge."""

    code: str
    edge: str
    stitch_point: Point
    cut_point: Point
    count: int


@dataclass(frozen=True, slots=True)
class EdgeLength:
    """One edge of a block as sewn, counted once per block (one of the two of a pair)."""

    edge: str
    kind: EdgeKind
    length_mm: float


@dataclass(frozen=True, slots=True)
class Block:
    """Part of a piece in one color, in one size.

    `draft` is the stitching line in the draft frame, whole (a fold is opened), for pictures. The
    other fields are in the lay frame: right side up, grainline and nap along +x, the center of the
    cut outline's bounding box at the origin. Rings do not repeat their first point. A pair is its
    left block; the right one is the mirror image across the grainline, y -> -y, which keeps the
    nap.
    """

    code: str
    name: str
    piece: str
    pairing: Pairing
    draft: Outline
    stitch_outline_mm: Line
    cut_outline_mm: Line
    notches: tuple[NotchCut, ...]
    marks: tuple[tuple[str, Line], ...]
    grainline: tuple[Point, Point]
    edges: tuple[EdgeLength, ...]

    @property
    def pieces_per_jacket(self) -> int:
        return 2 if self.pairing is Pairing.PAIR else 1


@dataclass(frozen=True, slots=True)
class _Part:
    """A part of a base piece while it is being cut."""

    outline: Outline
    piece: Outline


@lru_cache(maxsize=128)
def cut_blocks(
    pieces: tuple[Outline, ...], style_lines: tuple[StyleLine, ...], allowances: Allowances
) -> tuple[Block, ...]:
    """The blocks of one size: the pieces cut along the style lines in order, ready to cut.

    Every piece starts as one block with its own code and name; each style line replaces the block
    it cuts by the left and the right one, in its place. The result is kept by the content of the
    arguments, not by a name or a number, so that an edited pattern is never shown stale.

    PatternError, saying what to do: a piece that is not sound, a style line that names a block or
    an edge that is not there, or does not cut its block in two, a code used twice, an allowance
    that cannot be made.
    """
    _check_input(pieces, style_lines)
    parts = [_Part(piece, piece) for piece in pieces]
    _check_codes(parts)
    for style_line in style_lines:
        index = _place_of(style_line, parts)
        parts[index : index + 1] = _cut(parts[index], style_line)
        _check_codes(parts)
    blocks = tuple(_finished(part, allowances) for part in parts)
    _check_areas(pieces, blocks)
    return blocks


def mirrored(line: Line) -> Line:
    """The right block of a pair in the lay frame: mirrored across the grainline, y -> -y, and
    reversed, so that a ring stays counterclockwise."""
    return tuple((x, -y) for x, y in reversed(line))


def _check_input(pieces: tuple[Outline, ...], style_lines: tuple[StyleLine, ...]) -> None:
    found = [fault for piece in pieces for fault in faults(piece)]
    if found:
        raise PatternError(f"The pattern cannot be cut; correct this first: {' '.join(found)}")
    taken = {
        edge.name: f"an edge of piece {piece.code}" for piece in pieces for edge in piece.edges
    }
    for style_line in style_lines:
        if style_line.code in taken:
            raise PatternError(
                f"Style line code {style_line.code} is already the name of {taken[style_line.code]}"
                "; give the style line another code."
            )
        taken[style_line.code] = "another style line"


def _check_codes(parts: list[_Part]) -> None:
    codes = [part.outline.code for part in parts]
    for part in parts:
        code, name = part.outline.code, part.outline.name
        if codes.count(code) > 1:
            raise PatternError(
                f"Block code {code} ({name}) is used twice; give one of the blocks another code."
            )


def _place_of(style_line: StyleLine, parts: list[_Part]) -> int:
    codes = [part.outline.code for part in parts]
    if style_line.cuts not in codes:
        raise PatternError(
            f"Style line {style_line.code} cuts block {style_line.cuts}, which is not there at "
            f"this step; the blocks are: {', '.join(codes)}."
        )
    return codes.index(style_line.cuts)


def _cut(part: _Part, style_line: StyleLine) -> tuple[_Part, ...]:
    check_fold_line(part.piece, style_line)
    if style_line.right is None:
        opened = open_fold(part.outline, style_line.code)
        return (_named(opened, style_line.left, part.piece),)
    line = line_on(part.piece, style_line)
    left, right = split(part.outline, line, style_line.code)
    return (
        _named(left, style_line.left, part.piece),
        _named(right, style_line.right, part.piece),
    )


def _named(outline: Outline, block: BlockName, piece: Outline) -> _Part:
    return _Part(replace(outline, code=block.code, name=block.name), piece)


@lru_cache(maxsize=1024)
def _finished(part: _Part, allowances: Allowances) -> Block:
    """A part ready to cut; kept as well, for most blockings leave most pieces whole."""
    draft = unfolded(part.outline)
    cut = cut_outline(draft, allowances)
    left, bottom, right, top = bounds(turned(cut, 90))

    def laid(points: Line) -> Line:
        # Adding zero turns a rounded -0.0 into 0.0, which prints and compares alike everywhere.
        return tuple(
            (
                round(x - (left + right) / 2, DIGITS) + 0.0,
                round(y - (bottom + top) / 2, DIGITS) + 0.0,
            )
            for x, y in turned(points, 90)
        )

    def laid_notch(notch: Notch, cut_point: Point) -> NotchCut:
        on_stitch, on_cut = laid((notch.point, cut_point))
        return NotchCut(notch.code, notch.edge, on_stitch, on_cut, notch.count)

    start, end = laid(draft.grainline)
    laid_cut = laid(cut)
    if not polygon(laid_cut).is_valid:
        raise PatternError(
            f"The cut outline of block {draft.code} comes within a thousandth of a millimetre of "
            "itself; move its style lines a little."
        )
    return Block(
        code=draft.code,
        name=draft.name,
        piece=part.piece.code,
        pairing=part.outline.pairing,
        draft=draft,
        stitch_outline_mm=_without_repeats(laid(draft.ring)),
        cut_outline_mm=laid_cut,
        notches=tuple(map(laid_notch, draft.notches, square_to_cut(draft, cut))),
        marks=tuple((mark.code, laid(mark.points)) for mark in draft.marks),
        grainline=(start, end),
        edges=tuple(_edge_lengths(draft)),
    )


def _without_repeats(ring: Line) -> Line:
    return tuple(point for index, point in enumerate(ring) if point != ring[index - 1])


def _edge_lengths(outline: Outline) -> Iterator[EdgeLength]:
    """The length of each named edge; the stretches that bear the same name are added up."""
    for name, kind in dict.fromkeys((edge.name, edge.kind) for edge in outline.edges):
        same = (edge for edge in outline.edges if (edge.name, edge.kind) == (name, kind))
        yield EdgeLength(name, kind, sum(edge.length_mm for edge in same))


def _check_areas(pieces: tuple[Outline, ...], blocks: tuple[Block, ...]) -> None:
    for piece in pieces:
        wanted = piece.area_mm2 * (1 if piece.pairing is Pairing.SINGLE else 2)
        found = sum(
            block.draft.area_mm2 * block.pieces_per_jacket
            for block in blocks
            if block.piece == piece.code
        )
        if abs(found - wanted) > AREA_TOLERANCE * wanted:
            raise PatternError(
                f"The blocks of piece {piece.code} have {found:.1f} mm2 together, the piece has "
                f"{wanted:.1f} mm2; check its style lines where they meet an edge."
            )
