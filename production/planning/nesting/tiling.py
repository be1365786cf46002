"""Rectangles that cover the cloth without any waste, where they can.

Where nothing is wasted, the corner nearest to the start must be filled exactly by one of the
blocks: trying them there one after another ends soon, and neither rows nor the solver find such a
nest by themselves. A gap belongs to the blocks: each is larger by it, and so is the cloth.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from production.planning.nesting.blocks import (
    NESTED,
    Nest,
    NestBlock,
    NestPlace,
    Piece,
    Strip,
    pieces_of,
    ring_area_mm2,
)

#: Lengths that differ by no more are equal.
EQUAL_MM = 1e-6
#: After so many tries the search is given up: most rectangles do not tile.
MOST_TRIES = 20_000
#: More pieces are not tried; each is a level of recursion.
MOST_PIECES = 300


@dataclass(frozen=True, slots=True)
class _Step:
    """Part of the front of the filled cloth: filled up to x between two heights."""

    x_mm: float
    low_mm: float
    high_mm: float


@dataclass(slots=True)
class _Tiler:
    """Depth first over the corner nearest to the start."""

    choices: list[tuple[int, Piece]]
    left: list[int]
    gap_mm: float
    length_mm: float
    places: list[NestPlace] = field(default_factory=list)
    tries: int = 0

    def fill(self, front: list[_Step]) -> bool:
        if not any(self.left):
            return True
        at = min(range(len(front)), key=lambda index: (front[index].x_mm, front[index].low_mm))
        for number, piece in self.choices:
            if not self.left[number] or self.tries >= MOST_TRIES:
                continue
            following = self._with(front, at, piece)
            if following is None:
                continue
            self.tries += 1
            self.left[number] -= 1
            self.places.append(piece.place_at(front[at].x_mm, front[at].low_mm))
            if self.fill(following):
                return True
            self.places.pop()
            self.left[number] += 1
        return False

    def _with(self, front: list[_Step], at: int, piece: Piece) -> list[_Step] | None:
        """The front after the piece is laid in the low corner of a step, if it fits there."""
        step = front[at]
        x_mm = step.x_mm + piece.depth_mm + self.gap_mm
        top_mm = step.low_mm + piece.breadth_mm + self.gap_mm
        if x_mm > self.length_mm + EQUAL_MM or top_mm > step.high_mm + EQUAL_MM:
            return None
        steps = [*front[:at], _Step(x_mm, step.low_mm, top_mm)]
        if top_mm < step.high_mm - EQUAL_MM:
            steps.append(_Step(step.x_mm, top_mm, step.high_mm))
        return _joined([*steps, *front[at + 1 :]])


def _joined(steps: list[_Step]) -> list[_Step]:
    """Neighboring steps filled up to the same x made one."""
    front = steps[:1]
    for step in steps[1:]:
        if abs(step.x_mm - front[-1].x_mm) <= EQUAL_MM:
            front[-1] = _Step(front[-1].x_mm, front[-1].low_mm, step.high_mm)
        else:
            front.append(step)
    return front


def tiled(blocks: Sequence[NestBlock], strip: Strip) -> Nest | None:
    """A nest of rectangles that wastes no cloth, or None where none is found."""
    gap_mm = strip.gap_mm
    choices = []
    for number, block in enumerate(blocks):
        pieces = pieces_of(block, strip)
        if not all(_is_rectangle(piece) for piece in pieces):
            return None
        different = {(round(p.depth_mm, 6), round(p.breadth_mm, 6)): p for p in pieces}
        choices += [(number, piece) for piece in different.values()]
    if sum(block.count for block in blocks) > MOST_PIECES:
        return None
    first = dict(reversed(choices))
    covered_mm2 = sum(
        block.count * (first[number].depth_mm + gap_mm) * (first[number].breadth_mm + gap_mm)
        for number, block in enumerate(blocks)
    )
    width_mm = strip.width_mm + gap_mm
    tiler = _Tiler(
        sorted(choices, key=lambda choice: -choice[1].breadth_mm * choice[1].depth_mm),
        [block.count for block in blocks],
        gap_mm,
        covered_mm2 / width_mm,
    )
    if not tiler.fill([_Step(0.0, 0.0, width_mm)]):
        return None
    return Nest(tuple(tiler.places), tiler.length_mm - gap_mm, 0.0, NESTED)


def _is_rectangle(piece: Piece) -> bool:
    whole_mm2 = piece.depth_mm * piece.breadth_mm
    return whole_mm2 - ring_area_mm2(piece.ring) <= EQUAL_MM * piece.depth_mm
