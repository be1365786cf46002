"""Blocks set in rows across the cloth: shelves, first fit in falling extent.

Bounding boxes keep the gap from one another, and shorter blocks stand behind one another in the
columns of a row. x runs along the spread, y across it, both in mm.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache

from production.planning.plan import Placement, PlanError
from production.planning.snapshot import BlockShape, FabricSpec, Line

#: Block, size, side.
LaidKey = tuple[str, str, str]


@dataclass(frozen=True, slots=True)
class LaidBlock:
    """A block as it lies face up: its bounding box runs from (left_mm, low_mm) in the frame of the
    cut outline (mirrored for a right block, then turned), `depth_mm` along x and `breadth_mm`
    along y."""

    block: str
    size: str
    side: str
    left_mm: float
    low_mm: float
    depth_mm: float
    breadth_mm: float
    area_mm2: float
    rotation_deg: float = 0.0


@dataclass(frozen=True, slots=True)
class PackedLay:
    placements: tuple[Placement, ...]
    length_mm: float
    area_mm2: float
    box_rows_mm: float


def polygon_area_mm2(outline: Line) -> float:
    """Area inside a ring that does not repeat its first point (shoelace formula)."""
    following = (*outline[1:], outline[0])
    edges = zip(outline, following, strict=True)
    return abs(sum(x0 * y1 - x1 * y0 for (x0, y0), (x1, y1) in edges)) / 2


def laid_block(shape: BlockShape, side: str, *, is_turned: bool = False) -> LaidBlock:
    """The block as it lies with its grain along the cloth, or turned by 90 degrees."""
    flip = -1.0 if side == "right" else 1.0
    points = [(x, flip * y) for x, y in shape.cut_outline_mm]
    if is_turned:
        points = [(-y, x) for x, y in points]
    left_mm, low_mm = min(x for x, _ in points), min(y for _, y in points)
    return LaidBlock(
        block=shape.block,
        size=shape.size,
        side=side,
        left_mm=left_mm,
        low_mm=low_mm,
        depth_mm=max(x for x, _ in points) - left_mm,
        breadth_mm=max(y for _, y in points) - low_mm,
        area_mm2=polygon_area_mm2(shape.cut_outline_mm),
        rotation_deg=90.0 if is_turned else 0.0,
    )


def laid_blocks(
    keys: Iterable[LaidKey],
    shapes: Mapping[tuple[str, str], BlockShape],
    fabric: FabricSpec,
    longest_mm: int,
) -> dict[LaidKey, LaidBlock]:
    """Each block as it lies in rows; one that is free on the grain is turned where it must be.

    Raises PlanError for a block that is wider than the cloth or longer than the table holds.
    """
    found = {}
    for block, size, side in keys:
        shape = shapes[block, size]
        laid = laid_block(shape, side)
        if shape.is_free_on_grain and not _fits(laid, fabric, longest_mm):
            turned = laid_block(shape, side, is_turned=True)
            laid = turned if _fits(turned, fabric, longest_mm) else laid
        _refuse_too_large(laid, fabric, longest_mm)
        found[block, size, side] = laid
    return found


def _fits(laid: LaidBlock, fabric: FabricSpec, longest_mm: int) -> bool:
    return laid.breadth_mm <= fabric.usable_width_mm and laid.depth_mm <= longest_mm


def _refuse_too_large(laid: LaidBlock, fabric: FabricSpec, longest_mm: int) -> None:
    if laid.breadth_mm > fabric.usable_width_mm:
        raise PlanError(
            f"Block {laid.block} in size {laid.size} is {laid.breadth_mm:.0f} mm wide, but "
            f"{fabric.name} has {fabric.usable_width_mm} mm of usable width. Cut the block with a "
            "style line or choose a wider fabric."
        )
    if laid.depth_mm > longest_mm:
        raise PlanError(
            f"Block {laid.block} in size {laid.size} is {laid.depth_mm:.0f} mm long, but the table "
            f"holds {max(longest_mm, 0)} mm between the end allowances. Cut the block with a style "
            "line or use a longer table."
        )


def falling(item: tuple[LaidBlock, int]) -> tuple[float, float, str, str, str]:
    laid = item[0]
    return (-laid.depth_mm, -laid.breadth_mm, laid.block, laid.size, laid.side)


@dataclass(slots=True)
class _Column:
    y_mm: float
    breadth_mm: float
    filled_mm: float


@dataclass(slots=True)
class _Row:
    """A strip across the cloth, filled in columns; positions count from the row's own start."""

    depth_mm: float
    width_mm: float
    gap_mm: float
    columns: list[_Column] = field(default_factory=list)
    boxes: list[tuple[LaidBlock, float, float]] = field(default_factory=list)

    def take(self, laid: LaidBlock, wanted: int) -> int:
        """Places up to `wanted` of the block and says how many found room."""
        placed = 0
        for column in self.columns:
            placed += self._stack(laid, column, wanted - placed)
        while placed < wanted and (opened := self._next_column(laid)):
            self.columns.append(opened)
            placed += self._stack(laid, opened, wanted - placed)
        return placed

    def _stack(self, laid: LaidBlock, column: _Column, wanted: int) -> int:
        placed = 0
        while placed < wanted and laid.breadth_mm <= column.breadth_mm:
            x_mm = column.filled_mm + self.gap_mm if column.filled_mm else 0.0
            if x_mm + laid.depth_mm > self.depth_mm:
                break
            self.boxes.append((laid, x_mm, column.y_mm))
            column.filled_mm = x_mm + laid.depth_mm
            placed += 1
        return placed

    def _next_column(self, laid: LaidBlock) -> _Column | None:
        last = self.columns[-1] if self.columns else None
        y_mm = last.y_mm + last.breadth_mm + self.gap_mm if last else 0.0
        if y_mm + laid.breadth_mm > self.width_mm or laid.depth_mm > self.depth_mm:
            return None
        return _Column(y_mm, laid.breadth_mm, 0.0)


# Different colors and reprints often ask for the same rung again, so packing is kept by content.
@lru_cache(maxsize=64)
def pack_rung(
    rung: tuple[tuple[LaidBlock, int], ...], width_mm: float, longest_mm: float, gap_mm: float
) -> tuple[PackedLay, ...]:
    rows: list[_Row] = []
    for laid, count in rung:
        waiting = count
        for row in rows:
            waiting -= row.take(laid, waiting)
        while waiting:
            rows.append(_Row(laid.depth_mm, width_mm, gap_mm))
            waiting -= rows[-1].take(laid, waiting)
    return tuple(
        _packed_lay(lay_rows, width_mm, gap_mm) for lay_rows in _deal(rows, longest_mm, gap_mm)
    )


def _deal(rows: Iterable[_Row], longest_mm: float, gap_mm: float) -> list[list[_Row]]:
    """Rows dealt to lays: each to the first lay that has room for it on the table."""
    lays: list[list[_Row]] = []
    lengths_mm: list[float] = []
    for row in rows:
        added_mm = gap_mm + row.depth_mm
        at = next((n for n, mm in enumerate(lengths_mm) if mm + added_mm <= longest_mm), None)
        if at is None:
            lays.append([row])
            lengths_mm.append(row.depth_mm)
        else:
            lays[at].append(row)
            lengths_mm[at] += added_mm
    return lays


def _length_mm(rows: Sequence[_Row], gap_mm: float) -> float:
    return sum(row.depth_mm for row in rows) + gap_mm * (len(rows) - 1)


def _packed_lay(rows: Sequence[_Row], width_mm: float, gap_mm: float) -> PackedLay:
    placements: list[Placement] = []
    start_mm = 0.0
    for row in rows:
        placements.extend(_placement(laid, start_mm + x, y) for laid, x, y in row.boxes)
        start_mm += row.depth_mm + gap_mm
    blocks = [laid for row in rows for laid, _, _ in row.boxes]
    return PackedLay(
        placements=tuple(placements),
        length_mm=_length_mm(rows, gap_mm),
        area_mm2=sum(laid.area_mm2 for laid in blocks),
        box_rows_mm=box_rows_mm(
            [(laid.depth_mm, laid.breadth_mm) for laid in blocks], width_mm, gap_mm
        ),
    )


def _placement(laid: LaidBlock, x_mm: float, y_mm: float) -> Placement:
    return Placement(
        block=laid.block,
        size=laid.size,
        side=laid.side,
        x_mm=round(x_mm - laid.left_mm, 6),
        y_mm=round(y_mm - laid.low_mm, 6),
        rotation_deg=laid.rotation_deg,
        mirrored=laid.side == "right",
    )


def box_rows_mm(boxes: Iterable[tuple[float, float]], width_mm: float, gap_mm: float) -> float:
    """Length of plain rows of bounding boxes (depth, breadth): first fit in falling depth, one box
    behind another nowhere. The yardstick that a layout is compared with."""
    depths_mm: list[float] = []
    used_mm: list[float] = []
    for depth_mm, breadth_mm in sorted(boxes, reverse=True):
        for row, used in enumerate(used_mm):
            if used + gap_mm + breadth_mm <= width_mm:
                used_mm[row] += gap_mm + breadth_mm
                break
        else:
            depths_mm.append(depth_mm)
            used_mm.append(breadth_mm)
    return sum(depths_mm) + gap_mm * max(len(depths_mm) - 1, 0)
