"""Blocks laid one after another as near to the start as there is room, around what lies there.

The cloth is a grid of cells. A cell that an outline widened by the gap touches is taken; a block
fits where all the cells it touches are free, so what the grid allows is never an overlap. What the
grid wastes is won back by sliding each block exactly, along and across the cloth.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import lru_cache
from time import monotonic
from typing import TYPE_CHECKING

from production.planning.nesting.blocks import (
    NESTED,
    POSITION_TOL_MM,
    ROWS,
    STOPPED,
    Nest,
    NestBlock,
    NestError,
    NestPlace,
    Piece,
    Strip,
    area_mm2,
    box,
    clean_outline,
    clean_ring,
    pieces_of,
    refuse_strip,
    refuse_unfit,
    ring_area_mm2,
)
from production.planning.nesting.check import faults_of
from production.planning.nesting.rows import in_rows
from production.planning.nesting.slide import Body, body_at, free_way_mm
from production.planning.nesting.squeeze import squeezed
from production.planning.snapshot import Line

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Cells = NDArray[np.int32]
    Spots = NDArray[np.int64]

FINEST_CELL_MM = 2.0
MOST_CELLS = 600_000
COLUMNS_AT_ONCE = 32
#: Time for squeezing what the grid has laid.
SQUEEZING_SECONDS = 2.0
#: A cell that is touched less deep than this stays free.
GRAZING_MM = 1e-6
#: Ends the note of a filling that was stopped.
REST_IN_ROWS = "; what had no place yet lies in rows"
#: A block slides along and across in turn, so often at most.
SETTLING_ROUNDS = 3

#: Cells of one column that an outline touches: column, first row, row after the last.
Run = tuple[int, int, int]
IsStopped = Callable[[], bool]


def fill_around(
    blocks: Sequence[NestBlock],
    fixed: Sequence[Line],
    strip: Strip,
    *,
    is_stopped: IsStopped | None = None,
) -> Nest:
    """The blocks laid around outlines that lie fixed, large ones first, each as near to x = 0 as
    there is room. The places are those of `blocks`; the length covers the fixed outlines too, and
    may be more than `strip.longest_mm`: the caller looks.

    When it is stopped, the blocks that have no place yet are set in rows behind the others, and
    `note` says so. Raises NestError, naming the block, for what cannot lie on the cloth.
    """
    began_at = monotonic()
    refuse_unfit(blocks, strip)
    still = [clean_outline("what lies there", ring) for ring in fixed]
    cloth = _Cloth(strip, still, _cell_mm(blocks, still, strip))
    places: list[NestPlace] = []
    waiting = {block.key: block for block in _large_first(blocks)}
    while waiting and not _asks(is_stopped):
        block = next(iter(waiting.values()))
        place = cloth.lay(pieces_of(block, strip), math.inf)
        assert place is not None  # there is always room behind everything
        places.append(place)
        _one_less(waiting, block)
    filled = Nest(tuple(places), cloth.length_mm, 0.0, NESTED)
    if waiting:
        filled = _with_rows_behind(filled, list(waiting.values()), strip)

    def is_over() -> bool:
        return monotonic() - squeezed_at > SQUEEZING_SECONDS or _asks(is_stopped)

    squeezed_at = monotonic()
    tight = squeezed(filled, blocks, still, strip, is_over=is_over)
    if not faults_of(tight, blocks, strip, still):
        filled = tight
    return replace(
        filled,
        length_mm=max(filled.length_mm, _end_mm(still)),
        seconds=monotonic() - began_at,
    )


def fit_into(blocks: Sequence[NestBlock], strip: Strip) -> tuple[Nest, tuple[int, ...]]:
    """As many blocks as are found room for on a piece of cloth of `strip.longest_mm`, large ones
    first; and how many of each, in the order of `blocks`, are left over.

    Raises NestError for a strip without a longest length, or that is no cloth.
    """
    began_at = monotonic()
    refuse_strip(strip)
    if strip.longest_mm is None:
        raise NestError("The cloth to fill has no length. Enter how long it is.")
    cloth = _Cloth(strip, (), _cell_mm(blocks, (), strip))
    places: list[NestPlace] = []
    left_over = {block.key: block.count for block in blocks}
    for block in _large_first(blocks):
        pieces = pieces_of(block, strip)
        while left_over[block.key] and (place := cloth.lay(pieces, strip.longest_mm)):
            places.append(place)
            left_over[block.key] -= 1
    nest = Nest(tuple(places), cloth.length_mm, monotonic() - began_at, NESTED)
    return nest, tuple(left_over[block.key] for block in blocks)


def _asks(is_stopped: IsStopped | None) -> bool:
    return is_stopped is not None and is_stopped()


def _end_mm(rings: Sequence[Line]) -> float:
    return max((box(ring)[2] for ring in rings), default=0.0)


def _large_first(blocks: Sequence[NestBlock]) -> list[NestBlock]:
    return sorted(blocks, key=lambda block: (-ring_area_mm2(clean_ring(block)), block.key))


def _one_less(waiting: dict[tuple[str, ...], NestBlock], block: NestBlock) -> None:
    if block.count == 1:
        del waiting[block.key]
    else:
        waiting[block.key] = replace(block, count=block.count - 1)


def _with_rows_behind(filled: Nest, rest: Sequence[NestBlock], strip: Strip) -> Nest:
    rows = in_rows(rest, strip)
    start_mm = filled.length_mm + strip.gap_mm if filled.length_mm else 0.0
    moved = tuple(replace(place, x_mm=place.x_mm + start_mm) for place in rows.places)
    return Nest(
        (*filled.places, *moved), start_mm + rows.length_mm, 0.0, ROWS, STOPPED + REST_IN_ROWS
    )


def _cell_mm(blocks: Sequence[NestBlock], fixed: Sequence[Line], strip: Strip) -> float:
    """As fine as the number of cells allows."""
    length_mm = _end_mm(fixed) + 1.5 * area_mm2(blocks) / strip.width_mm
    if strip.longest_mm is not None:
        length_mm = min(length_mm, strip.longest_mm)
    return max(FINEST_CELL_MM, math.sqrt(strip.width_mm * length_mm / MOST_CELLS))


class _Cloth:
    """What lies on the cloth, as outlines and as cells."""

    def __init__(self, strip: Strip, fixed: Sequence[Line], cell_mm: float) -> None:
        import numpy as np

        self._strip = strip
        self._cell_mm = cell_mm
        #: All that lies there, and the same with x and y exchanged, for sliding across.
        self._along: list[Body] = []
        self._across: list[Body] = []
        #: Where to begin to look for room: a cloth that fills has none where it had none before.
        self._first_column: dict[Line, int] = {}
        #: Taken cells of a column below each row, so that two looks tell whether a run is free.
        rows = math.ceil(strip.width_mm / cell_mm - GRAZING_MM)
        self._taken_below: Cells = np.zeros((0, rows + 1), np.int32)
        self.length_mm = 0.0
        for ring in fixed:
            self._take(ring)

    def lay(self, pieces: Sequence[Piece], longest_mm: float) -> NestPlace | None:
        """Lays one of the pieces where it ends nearest to the start, or none beyond the longest."""
        spots = [(self._room(piece), piece) for piece in pieces]
        ending = sorted(spots, key=lambda spot: spot[0][0] + spot[1].depth_mm)
        for (x_mm, y_mm), piece in ending:
            x_mm, y_mm = self._settled(piece, x_mm, y_mm)
            if x_mm + piece.depth_mm <= longest_mm + POSITION_TOL_MM:
                self._take(tuple((x + x_mm, y + y_mm) for x, y in piece.ring))
                return piece.place_at(x_mm, y_mm)
        return None

    def _take(self, ring: Line) -> None:
        import numpy as np

        gap_mm = self._strip.gap_mm
        self._along.append(body_at(ring, gap_mm, 0.0, 0.0))
        self._across.append(body_at(_exchanged(ring), gap_mm, 0.0, 0.0))
        right_mm = box(ring)[2]
        self.length_mm = max(self.length_mm, right_mm)
        self._reach(right_mm + gap_mm)
        columns, levels = self._taken_below.shape
        for column, first, after in cells_of(ring, self._cell_mm, gap_mm):
            if 0 <= column < columns and first < levels - 1 and after > 0:
                below = self._taken_below[column]
                taken = np.diff(below)
                taken[max(first, 0) : after] = 1
                below[1:] = np.cumsum(taken)

    def _reach(self, length_mm: float) -> None:
        """Makes the grid at least so long."""
        import numpy as np

        columns, levels = self._taken_below.shape
        more = math.ceil(length_mm / self._cell_mm) + 1 - columns
        if more > 0:
            free = np.zeros((more, levels), np.int32)
            self._taken_below = np.concatenate([self._taken_below, free])

    def _room(self, piece: Piece) -> tuple[float, float]:
        """The first column, and in it the lowest row, where the piece touches free cells only."""
        self._reach(self.length_mm + self._strip.gap_mm + piece.depth_mm + 2 * self._cell_mm)
        runs = cells_of(piece.ring, self._cell_mm, 0.0)
        # Runs from all over the block come first: most spots are refused after a few looks.
        apart = max(len(runs) // 8, 1)
        runs = [run for start in range(apart) for run in runs[start::apart]]
        highest_mm = self._strip.width_mm + POSITION_TOL_MM - piece.breadth_mm
        rows = math.floor(highest_mm / self._cell_mm) + 1
        last = self._taken_below.shape[0] - 1 - max(column for column, _, _ in runs)
        for column in range(self._first_column.get(piece.ring, 0), last + 1, COLUMNS_AT_ONCE):
            spot = self._free_spot(runs, column, min(column + COLUMNS_AT_ONCE, last + 1), rows)
            if spot is not None:
                self._first_column[piece.ring] = column
                return spot[0] * self._cell_mm, spot[1] * self._cell_mm
        raise AssertionError("the grid was made long enough")

    def _free_spot(
        self, runs: Sequence[Run], first_column: int, after_column: int, rows: int
    ) -> tuple[int, int] | None:
        import numpy as np

        levels = self._taken_below.shape[1]
        taken_below = self._taken_below.ravel()
        columns = np.arange(first_column, after_column, dtype=np.int64) * levels
        spots: Spots = (columns[:, None] + np.arange(rows, dtype=np.int64)).ravel()
        for column, first, after in runs:
            looked = spots + column * levels
            spots = spots[taken_below[looked + after] == taken_below[looked + first]]
            if not spots.size:
                return None
        column, row = divmod(int(spots[0]), levels)
        return column, row

    def _settled(self, piece: Piece, x_mm: float, y_mm: float) -> tuple[float, float]:
        """Where the piece comes to lie when it slides to the start and to the lower edge."""
        along = body_at(piece.ring, 0.0, x_mm, y_mm)
        across = body_at(_exchanged(piece.ring), 0.0, y_mm, x_mm)
        for _ in range(SETTLING_ROUNDS):
            along.x_mm -= free_way_mm(along, self._along)
            across.y_mm = along.x_mm
            way_mm = free_way_mm(across, self._across)
            across.x_mm -= way_mm
            along.y_mm = across.x_mm
            if way_mm < POSITION_TOL_MM:
                break
        return along.x_mm, along.y_mm


def _exchanged(ring: Line) -> Line:
    return tuple((y, x) for x, y in ring)


@lru_cache(maxsize=4096)
def cells_of(ring: Line, cell_mm: float, wider_mm: float) -> list[Run]:
    """The cells that an outline, widened all around by `wider_mm`, touches, column by column."""
    import numpy as np
    import shapely

    shape = shapely.Polygon(ring)
    if wider_mm:
        shape = shape.buffer(wider_mm)
    left, low, right, high = shape.bounds
    first = math.floor(left / cell_mm + GRAZING_MM)
    columns = np.arange(first, math.ceil(right / cell_mm - GRAZING_MM))
    lows, highs = np.full(columns.shape, low - 1), np.full(columns.shape, high + 1)
    lanes = shapely.box(columns * cell_mm, lows, (columns + 1) * cell_mm, highs)
    parts, numbers = shapely.get_parts(shapely.intersection(shape, lanes), return_index=True)
    bounds = shapely.bounds(parts)
    runs = []
    for number, (_, bottom, _, top) in zip(numbers.tolist(), bounds.tolist(), strict=True):
        lowest = math.floor(bottom / cell_mm + GRAZING_MM)
        after = math.ceil(top / cell_mm - GRAZING_MM)
        if after > lowest:
            runs.append((first + number, lowest, after))
    return runs
