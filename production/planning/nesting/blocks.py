"""What is nested, on what, and what comes of it.

x runs along the spread, y across it, both in mm; the cloth is 0 <= y <= the width of the strip.
"""

from __future__ import annotations

import hashlib
import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise

from production.planning.plan import PlanError
from production.planning.snapshot import Line

NESTED = "nested"
ROWS = "rows"
#: Ends every note: what is used after all.
ROWS_ARE_USED = "; rows are used"
CLOSED_ROWS_ARE_USED = "; rows moved together are used"
STOPPED = "nesting was stopped"

#: Outlines may reach over an edge, and lie nearer than the gap, within this many mm.
POSITION_TOL_MM = 0.01
#: Two outlines that share more than this overlap.
OVERLAP_TOL_MM2 = 0.01
#: Corners nearer than this are one corner.
SAME_CORNER_MM = 1e-4


class NestError(PlanError):
    """Blocks or cloth that cannot be nested; the message names the block and what to do."""


@dataclass(frozen=True, slots=True)
class NestBlock:
    """`count` pieces of one outline, given as it lies on the cloth: a right block is mirrored
    already. `turns` are the allowed rotations in degrees. `key` tells blocks apart."""

    key: tuple[str, ...]
    name: str
    outline: Line
    count: int
    turns: tuple[float, ...] = (0.0,)


@dataclass(frozen=True, slots=True)
class Strip:
    """The cloth: usable width, least distance between blocks, and the length there is, if any."""

    width_mm: float
    gap_mm: float
    longest_mm: float | None = None


@dataclass(frozen=True, slots=True)
class NestPlace:
    """Turn the outline of the block about its origin, then move it."""

    key: tuple[str, ...]
    x_mm: float
    y_mm: float
    rotation_deg: float


@dataclass(frozen=True, slots=True)
class Nest:
    """`seconds` is the time spent; `note` says, in words for the ticket, why rows had to do."""

    places: tuple[NestPlace, ...]
    length_mm: float
    seconds: float
    method: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class Piece:
    """A block in one allowed turn, moved so that its bounding box begins in the origin.

    `ring` is the clean outline there; `left_mm` and `low_mm` lead back to the frame of the turned
    block: its place is the position of the piece less these two.
    """

    key: tuple[str, ...]
    turn_deg: float
    ring: Line
    left_mm: float
    low_mm: float
    depth_mm: float
    breadth_mm: float

    def place_at(self, x_mm: float, y_mm: float) -> NestPlace:
        return NestPlace(self.key, x_mm - self.left_mm, y_mm - self.low_mm, self.turn_deg)


def turned(outline: Line, turn_deg: float) -> Line:
    """The outline turned about the origin; quarter turns are exact."""
    quarters, rest = divmod(turn_deg, 90.0)
    if rest:
        cosine, sine = math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))
    else:
        cosine, sine = ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[int(quarters) % 4]
    return tuple((x * cosine - y * sine, x * sine + y * cosine) for x, y in outline)


def box(outline: Line) -> tuple[float, float, float, float]:
    """Least x, least y, greatest x, greatest y."""
    xs, ys = [x for x, _ in outline], [y for _, y in outline]
    return min(xs), min(ys), max(xs), max(ys)


def clean_ring(block: NestBlock) -> Line:
    """The outer ring of a block: corners told twice left out, slits and holes closed.

    Raises NestError, naming the block, for an outline that encloses nothing or crosses itself.
    """
    return clean_outline(block.name, block.outline)


@lru_cache(maxsize=4096)
def clean_outline(name: str, outline: Line) -> Line:
    """`clean_ring` for an outline that is no block; `name` is what an error calls it."""
    import shapely

    if not all(math.isfinite(x) and math.isfinite(y) for x, y in outline):
        raise NestError(f"The outline of {name} has a corner that is not a number. Draw it anew.")
    corners = [
        corner
        for corner, following in pairwise((*outline, *outline[:1]))
        if math.dist(corner, following) > SAME_CORNER_MM
    ]
    whole: shapely.geometry.base.BaseGeometry = (
        shapely.Polygon(corners) if len(corners) >= 3 else shapely.Polygon()
    )
    if not whole.is_valid:
        # A slit that leads to a hole, or a hole that touches the edge, comes out as one polygon.
        whole = shapely.make_valid(whole, method="structure", keep_collapsed=False)
    if whole.is_empty or whole.area <= 0:
        raise NestError(f"The outline of {name} encloses no cloth. Draw it anew.")
    if not isinstance(whole, shapely.Polygon):
        raise NestError(f"The outline of {name} crosses itself. Draw it without a crossing.")
    return tuple((float(x), float(y)) for x, y in whole.exterior.coords[:-1])


def pieces_of(block: NestBlock, strip: Strip) -> tuple[Piece, ...]:
    """The block in each allowed turn in which it lies on the cloth."""
    fitting = []
    for turn_deg in block.turns:
        piece = _piece(block, turn_deg)
        if piece.breadth_mm <= strip.width_mm + POSITION_TOL_MM and (
            strip.longest_mm is None or piece.depth_mm <= strip.longest_mm + POSITION_TOL_MM
        ):
            fitting.append(piece)
    return tuple(fitting)


def _piece(block: NestBlock, turn_deg: float) -> Piece:
    ring = turned(clean_ring(block), turn_deg)
    left, low, right, high = box(ring)
    at_origin = tuple((x - left, y - low) for x, y in ring)
    return Piece(block.key, turn_deg, at_origin, left, low, right - left, high - low)


def placed_rings(places: Sequence[NestPlace], blocks: Sequence[NestBlock]) -> list[Line]:
    """The clean outlines where they lie."""
    rings = {block.key: clean_ring(block) for block in blocks}
    return [
        tuple(
            (x + place.x_mm, y + place.y_mm)
            for x, y in turned(rings[place.key], place.rotation_deg)
        )
        for place in places
    ]


def area_mm2(blocks: Sequence[NestBlock]) -> float:
    """Cloth inside all outlines."""
    return sum(block.count * ring_area_mm2(clean_ring(block)) for block in blocks)


def least_length_mm(blocks: Sequence[NestBlock], strip: Strip) -> float:
    """A length that no nest can be shorter than: all cloth used, or one block at its shortest."""
    longest = max(min(piece.depth_mm for piece in pieces_of(block, strip)) for block in blocks)
    return max(area_mm2(blocks) / strip.width_mm, longest)


def begun_at_zero(places: Sequence[NestPlace], blocks: Sequence[NestBlock]) -> Nest:
    """Places moved along the cloth so that the first outline begins at x = 0."""
    boxes = [box(ring) for ring in placed_rings(places, blocks)]
    start_mm = min((left for left, *_ in boxes), default=0.0)
    moved = tuple(replace(place, x_mm=place.x_mm - start_mm) for place in places)
    return Nest(moved, max((right for *_, right, _ in boxes), default=0.0) - start_mm, 0.0, NESTED)


def ring_area_mm2(ring: Line) -> float:
    """Area inside a ring that does not repeat its first point (shoelace formula)."""
    edges = zip(ring, (*ring[1:], ring[0]), strict=True)
    return abs(sum(x0 * y1 - x1 * y0 for (x0, y0), (x1, y1) in edges)) / 2


def refuse_unfit(blocks: Sequence[NestBlock], strip: Strip) -> None:
    """Raises NestError, by name, for blocks that cannot lie on this cloth, and for no cloth."""
    refuse_strip(strip)
    twice = [key for key, count in Counter(block.key for block in blocks).items() if count > 1]
    if twice:
        raise NestError(f"Two blocks are called {' '.join(twice[0])}. Join them, or name one anew.")
    for block in blocks:
        if block.count < 1:
            raise NestError(f"{block.name} is asked for {block.count} times. Ask for at least one.")
        if not block.turns or not all(math.isfinite(turn) for turn in block.turns):
            raise NestError(f"{block.name} has no turn in which it may lie. Allow at least one.")
        if not pieces_of(block, strip):
            raise NestError(_why_not(block, strip))


def refuse_strip(strip: Strip) -> None:
    """Raises NestError for a width, a gap or a length that is no measure."""
    if not (math.isfinite(strip.width_mm) and strip.width_mm > 0):
        raise NestError("The cloth has no usable width. Enter a width above zero.")
    if not (math.isfinite(strip.gap_mm) and strip.gap_mm >= 0):
        raise NestError("The gap between blocks is below zero. Enter zero or more in the settings.")
    longest_mm = strip.longest_mm
    if longest_mm is not None and not (math.isfinite(longest_mm) and longest_mm > 0):
        raise NestError("There is no length of cloth to lie on. Enter a length above zero.")


def _why_not(block: NestBlock, strip: Strip) -> str:
    narrowest = min(_piece(block, turn).breadth_mm for turn in block.turns)
    if narrowest > strip.width_mm + POSITION_TOL_MM:
        return (
            f"{block.name} is {narrowest:.0f} mm wide, but the cloth has {strip.width_mm:.0f} mm "
            "of usable width. Cut the block with a style line or choose a wider fabric."
        )
    shortest = min(
        piece.depth_mm
        for piece in (_piece(block, turn) for turn in block.turns)
        if piece.breadth_mm <= strip.width_mm + POSITION_TOL_MM
    )
    return (
        f"{block.name} is {shortest:.0f} mm long, but only {strip.longest_mm:.0f} mm of cloth are "
        "there. Cut the block with a style line or use a longer table."
    )


def nest_key(blocks: Sequence[NestBlock], strip: Strip) -> str:
    """sha256 of what is asked, whatever the order of the blocks: equal questions share answers."""
    words = sorted(repr((b.key, b.outline, b.count, tuple(sorted(b.turns)))) for b in blocks)
    asked = "\n".join([repr((strip.width_mm, strip.gap_mm, strip.longest_mm)), *words])
    return hashlib.sha256(asked.encode()).hexdigest()
