"""Rows of true outlines: the nest there is before, and without, the solver."""

from __future__ import annotations

from collections.abc import Sequence

from production.planning.cutting.rows import LaidBlock, falling, pack_rung
from production.planning.nesting.blocks import (
    ROWS,
    Nest,
    NestBlock,
    Piece,
    Strip,
    pieces_of,
    ring_area_mm2,
)

NO_END_MM = 1e12


def in_rows(blocks: Sequence[NestBlock], strip: Strip) -> Nest:
    """Bounding boxes in rows across the cloth; slid together they are rows of true outlines."""
    best = {block.key: _flattest(block, strip) for block in blocks}
    rung = [(_laid(str(index), best[block.key]), block.count) for index, block in enumerate(blocks)]
    # Blocks may lie as wide as the cloth within a tolerance, which rows do not know.
    width_mm = max(strip.width_mm, *(laid.breadth_mm for laid, _ in rung))
    packed = pack_rung(tuple(sorted(rung, key=falling)), width_mm, NO_END_MM, strip.gap_mm)
    places = tuple(
        best[blocks[int(at.block)].key].place_at(at.x_mm, at.y_mm)
        for lay in packed
        for at in lay.placements
    )
    return Nest(places, max(lay.length_mm for lay in packed), 0.0, ROWS)


def _flattest(block: NestBlock, strip: Strip) -> Piece:
    return min(pieces_of(block, strip), key=lambda piece: piece.depth_mm)


def _laid(name: str, piece: Piece) -> LaidBlock:
    return LaidBlock(
        block=name,
        size="",
        side="single",
        left_mm=0.0,
        low_mm=0.0,
        depth_mm=piece.depth_mm,
        breadth_mm=piece.breadth_mm,
        area_mm2=ring_area_mm2(piece.ring),
    )
