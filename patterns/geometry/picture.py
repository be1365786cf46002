"""The jacket to look at: front, back and opened front, made from the blocks' own outlines."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from patterns.geometry import picture_folds as folds
from patterns.geometry import picture_moves as moves
from patterns.geometry.blocks import Block
from patterns.geometry.outline import Line, Point, length_mm
from patterns.geometry.picture_labels import label_spots
from patterns.geometry.picture_parts import Cloth, Cloths, Piece, piece_of

#: Drawing conventions: paper around the jacket, in mm; how far the arms are spread from straight
#: down when the jacket is closed, and beyond the turned front edges when it is open.
MARGIN_MM, HANG_DEG, BEYOND_DEG = 24.0, 30.0, 18.0


class View(StrEnum):
    FRONT = "front"
    BACK = "back"
    OPEN = "open"


class Part(StrEnum):
    """What a shape of a picture shows; only a BLOCK is filled with a fabric color."""

    BLOCK = "block"
    INSIDE = "inside"
    ZIPPER = "zipper"
    STITCHES = "stitches"


@dataclass(frozen=True, slots=True)
class Shape:
    """A closed ring (BLOCK, INSIDE) or an open line (ZIPPER, STITCHES) in picture coordinates:
    millimetres, y down. INSIDE is the wrong side of the block's cloth. `label_at` is where the
    block's code can be written, or None where there is no room."""

    part: Part
    block: str
    points: Line
    label_at: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class Picture:
    """Shapes in painting order inside 0..width_mm, 0..height_mm."""

    view: View
    width_mm: float
    height_mm: float
    shapes: tuple[Shape, ...]


@dataclass(frozen=True, slots=True)
class Fill:
    """How a fabric color is shown: screen color, hatch (see `FabricColor.Hatch`) and its name."""

    hex_color: str
    hatch: str
    name: str


#: One coat of paint: what its cloths show. Their stitching is always STITCHES.
Coat = tuple[Part, Cloths]


@dataclass(frozen=True, slots=True)
class _Pieces:
    """The pieces that a picture can show, as drafted: back and collar whole, of pairs the left."""

    front: Piece | None
    back: Piece | None
    sleeve: Piece | None
    cuff: Piece | None
    collar: Piece | None
    placket_inside: Piece | None


@dataclass(frozen=True, slots=True)
class _Body:
    """Where things hang on half a body, at positive x; the neckline runs away from the center."""

    neckline: Line
    shoulder_end: Point
    underarm: Point
    hem_corner: Point
    hem_y: float

    @property
    def neck_point(self) -> Point:
        return self.neckline[-1]

    @property
    def lean(self) -> Point:
        """The direction in which a collar leans at the shoulder: in line with the fold along which
        an opened front is turned over, so that the collar folds there too."""
        dx, dy = (n - h for n, h in zip(self.neck_point, self.hem_corner, strict=True))
        return dx / math.hypot(dx, dy), dy / math.hypot(dx, dy)


def jacket_pictures(
    blocks: Sequence[Block], plain_lines: Collection[str] = ()
) -> tuple[Picture, Picture, Picture]:
    """The jacket from in front, from behind and opened, all three in frames of the same size.

    Cloth keeps its true size and shape, but the collar is bent around the neck, the cuff along the
    wrist, and the back seen through the front is fitted to its height. A sleeve is folded along its
    grain and each side shows one half; cuff and collar are folded double, so that a block on the
    cuff's inner layer alone is not seen. Opened fronts are turned over along the line from the neck
    to the side of the hem. The style lines named in `plain_lines` get no topstitching.

    Pieces are known by their codes (FR, BK, SL, CU, CO, PI); a piece that is missing is left out,
    and so is what hangs on it. PatternError when a piece lacks an edge that it or another is hung
    on.
    """
    pieces = _Pieces(
        front=piece_of(blocks, "FR", plain_lines=plain_lines),
        back=piece_of(blocks, "BK", whole=True, plain_lines=plain_lines),
        sleeve=piece_of(blocks, "SL", plain_lines=plain_lines),
        cuff=piece_of(blocks, "CU", plain_lines=plain_lines),
        collar=piece_of(blocks, "CO", whole=True, plain_lines=plain_lines),
        placket_inside=piece_of(blocks, "PI", plain_lines=plain_lines),
    )
    return _framed(
        {
            View.FRONT: tuple(_front_coats(pieces)),
            View.BACK: tuple(_back_coats(pieces)),
            View.OPEN: tuple(_open_coats(pieces)),
        }
    )


def _front_coats(pieces: _Pieces) -> Iterator[Coat]:
    front = pieces.front
    if front is None:
        return
    body = _body(front, front.line("neckline"))
    yield Part.INSIDE, _inside_neck(pieces, body)
    yield Part.BLOCK, _back_collar(pieces, body, inner=True)
    yield Part.BLOCK, moves.both_sides(_arm(pieces, body, HANG_DEG, front=True))
    yield Part.BLOCK, moves.both_sides(front.cloths)
    yield Part.BLOCK, moves.both_sides(_front_collar(pieces, body, inner=False))
    yield Part.ZIPPER, _zipper(pieces, body)


def _back_coats(pieces: _Pieces) -> Iterator[Coat]:
    back = pieces.back
    if back is None:
        return
    body = _body(back, tuple(p for p in back.line("neckline") if p[0] >= 0))
    yield Part.BLOCK, moves.both_sides(_arm(pieces, body, HANG_DEG, front=False))
    yield Part.BLOCK, back.cloths
    yield Part.BLOCK, moves.flipped(_back_collar(pieces, body, inner=False))


def _open_coats(pieces: _Pieces) -> Iterator[Coat]:
    front = pieces.front
    if front is None:
        return
    body = _body(front, front.line("neckline"))
    fold = body.neck_point, body.hem_corner
    # A center front turned over a slanting fold slants twice as much.
    spread = 2 * math.degrees(math.atan2(-body.lean[0], body.lean[1])) + BEYOND_DEG
    turned, resting = moves.parted(front.cloths, *fold)

    def turn(cloths: Cloths) -> Cloths:
        return moves.turned_over(cloths, *fold)

    yield Part.BLOCK, moves.both_sides(_arm(pieces, body, spread, front=True))
    yield Part.INSIDE, _hung_back(pieces, body)
    yield Part.BLOCK, _back_collar(pieces, body, inner=True)
    yield Part.BLOCK, moves.both_sides(resting)
    yield Part.BLOCK, turn(_placket_inside(pieces, body))
    yield Part.INSIDE, moves.both_sides(turn(turned))
    yield Part.BLOCK, moves.both_sides(turn(_front_collar(pieces, body, inner=True)))
    yield Part.ZIPPER, moves.both_sides(turn(_zipper(pieces, body)))


def _body(piece: Piece, half_neckline: Line) -> _Body:
    hem, armhole = piece.points("hem"), piece.points("armhole")
    corner = max(hem, key=lambda p: abs(p[0]))
    end, underarm = (pick(armhole, key=lambda p: p[1]) for pick in (max, min))
    return _Body(
        neckline=half_neckline,
        shoulder_end=(abs(end[0]), end[1]),
        underarm=(abs(underarm[0]), underarm[1]),
        hem_corner=(abs(corner[0]), corner[1]),
        hem_y=_hem_y(piece),
    )


def _hem_y(piece: Piece) -> float:
    """The height of the hem at the center."""
    return min(piece.points("hem"), key=lambda p: abs(p[0]))[1]


def _arm(pieces: _Pieces, body: _Body, degrees: float, *, front: bool) -> Cloths:
    """The arm at positive x, spread no wider than where its underarm meets the body's."""
    if pieces.sleeve is None:
        return ()
    half = folds.arm(pieces.sleeve, pieces.cuff, front=front)
    widest = folds.fitting_angle_deg(pieces.sleeve, body.shoulder_end, body.underarm)
    return folds.hung(half, body.shoulder_end, min(degrees, widest))


def _hung_back(pieces: _Pieces, body: _Body) -> Cloths:
    """The back seen through the front: neck on the front's neck and hem at its hem, as the balance
    of a worn jacket has it, so a hair shorter than it lies flat."""
    if pieces.back is None:
        return ()
    low = _hem_y(pieces.back)
    height = pieces.back.line("neckline")[-1][1] - low
    share = (body.neck_point[1] - body.hem_y) / height
    return moves.moved_by(pieces.back.cloths, lambda x, y: (-x, body.hem_y + share * (y - low)))


def _inside_neck(pieces: _Pieces, body: _Body) -> Cloths:
    """What the neckline of the closed front leaves of the back's inside."""
    width, low = body.neck_point[0], body.neckline[0][1]
    hung = _hung_back(pieces, body)
    cloths = tuple(cloth for cloth in hung if not cloth.is_stitching)
    return moves.clipped(cloths, x=(-width, width), y=(low, moves.FAR_MM))


def _back_collar(pieces: _Pieces, body: _Body, *, inner: bool) -> Cloths:
    """The collar on the back neckline, seen from in front."""
    if pieces.collar is None or pieces.back is None:
        return ()
    collar = folds.straightened(pieces.collar)
    neckline = pieces.back.line("neckline")
    share = length_mm(neckline) / 2 / collar.half_neck_mm
    drop = neckline[-1][1] - body.neck_point[1]
    return folds.bent(
        collar.inner if inner else collar.outer,
        collar.stand_mm,
        (-share, share),
        tuple((x, y - drop) for x, y in neckline),
        body.lean,
        lambda x: x / share,
    )


def _front_collar(pieces: _Pieces, body: _Body, *, inner: bool) -> Cloths:
    """The collar on the wearer's left front neckline."""
    if pieces.collar is None:
        return ()
    collar = folds.straightened(pieces.collar)
    share = 1.0 - length_mm(body.neckline) / collar.half_neck_mm
    return folds.bent(
        collar.inner if inner else collar.outer,
        collar.stand_mm,
        (share, 1.0),
        body.neckline[::-1],
        body.lean,
        lambda x: (1.0 - x) / (1.0 - share),
    )


def _placket_inside(pieces: _Pieces, body: _Body) -> Cloths:
    """The inside of the placket beside the wearer's left front edge, seen through from in front."""
    if pieces.placket_inside is None:
        return ()
    cloths = moves.flipped(pieces.placket_inside.cloths)
    edges = [cloth.geometry.bounds for cloth in cloths]
    inner, low = max(box[2] for box in edges), min(box[1] for box in edges)
    return moves.moved_by(cloths, lambda x, y: (x - inner, y - low + body.hem_y))


def _zipper(pieces: _Pieces, body: _Body) -> Cloths:
    """The closed zipper from the hem to the top of the collar; it belongs to no block."""
    import shapely

    stand = folds.straightened(pieces.collar).stand_mm if pieces.collar else 0.0
    top = body.neckline[0][1] + stand
    return (Cloth("", shapely.LineString(((0.0, body.hem_y), (0.0, top)))),)


def _framed(views: dict[View, tuple[Coat, ...]]) -> tuple[Picture, Picture, Picture]:
    import shapely

    painted = [
        cloth.geometry for coats in views.values() for _, cloths in coats for cloth in cloths
    ]
    left, low, right, high = (
        shapely.total_bounds(painted).tolist() if painted else (0.0, 0.0, 0.0, 0.0)
    )
    half = max(-left, right) + MARGIN_MM
    front, back, opened = (
        Picture(view, 2 * half, high - low + 2 * MARGIN_MM, tuple(_shapes(coats, half, high)))
        for view, coats in views.items()
    )
    return front, back, opened


def _shapes(coats: Sequence[Coat], half_mm: float, high_mm: float) -> Iterator[Shape]:
    """The coats as shapes, moved into the picture."""

    def placed(x: Any, y: Any) -> tuple[Any, Any]:
        return x + half_mm, high_mm + MARGIN_MM - y

    shown = [(part, cloth) for part, cloths in coats for cloth in moves.moved_by(cloths, placed)]
    spots = label_spots([cloth for _, cloth in shown])
    for (part, cloth), spot in zip(shown, spots, strict=True):
        stitched = Part.STITCHES if cloth.is_stitching and part is not Part.ZIPPER else part
        yield Shape(stitched, cloth.block, cloth.points, spot)
