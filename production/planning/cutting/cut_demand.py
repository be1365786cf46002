"""What is to be cut of one fabric color and within what, and how long a lay will be, as a guess.

Before anything is nested a lay is guessed to be as long as its blocks by area at an expected
efficiency, plus a ragged end that no block fills, and never shorter than its longest block: blocks
that lie together in one lay fill the cloth better than in two. Guessed lengths are whole mm; what
was nested is counted by its true length.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from math import ceil
from statistics import linear_regression

from production.planning.cutting.cutting_prices import CuttingPrice
from production.planning.cutting.lays import (
    FACE_UP,
    FOLDED,
    MODES,
    OTHER_SIDE,
    allowed_turns,
    highest_plies,
    lay_width_mm,
    longest_lay_mm,
)
from production.planning.cutting.row_lays import refuse_no_cutting
from production.planning.cutting.rows import LaidKey, laid_block, laid_blocks, polygon_area_mm2
from production.planning.explode import Shapes
from production.planning.plan import PlanError
from production.planning.snapshot import FabricSpec, WorkroomSpec

#: So many lays tell the ragged end as well as the efficiency; it is never believed to be longer.
ENOUGH_LAYS, MOST_END_MM = 4, 250


@dataclass(frozen=True, slots=True)
class LengthGuess:
    """Share of the cloth that blocks are expected to cover, the ragged end of a lay, and the share
    of the table that is filled by guess, since a guess may be wrong.

    Efficiency and end are invented starting values; the nested lays of each ticket tell its own.
    """

    efficiency: float = 0.78
    end_mm: int = 60
    filled: float = 0.98


@dataclass(frozen=True, slots=True)
class LayOrder:
    """What is to lie in one lay, before it is placed: how often each block, size and side."""

    mode: str
    plies: int
    counts: tuple[tuple[LaidKey, int], ...]

    @property
    def outlines(self) -> int:
        return sum(count for _, count in self.counts)

    @property
    def pieces(self) -> Counter[LaidKey]:
        """What all plies together cut."""
        down = 0 if self.mode == FACE_UP else self.plies // 2
        cut: Counter[LaidKey] = Counter()
        for (block, size, side), count in self.counts:
            cut[block, size, side] += (self.plies - down) * count
            if down:
                cut[block, size, OTHER_SIDE[side]] += down * count
        return cut


#: How long the lays that were nested became, in whole mm.
TrueLengths = Mapping[LayOrder, int]


@dataclass(frozen=True)
class CutDemand:
    """The pieces to cut of one fabric color. Raises PlanError for what cannot be cut at all."""

    counts: Mapping[LaidKey, int]
    shapes: Shapes
    fabric: FabricSpec
    workroom: WorkroomSpec

    def __post_init__(self) -> None:
        refuse_no_cutting(self.fabric, self.workroom)
        if not self.counts:
            raise PlanError("There is nothing to cut. Give the ticket at least one piece.")
        laid_blocks(self.counts, self.shapes, self.fabric, self.longest_mm)

    @cached_property
    def longest_mm(self) -> int:
        return longest_lay_mm(self.fabric, self.workroom)

    @cached_property
    def highest_plies(self) -> int:
        return highest_plies(self.fabric, self.workroom)

    @property
    def modes(self) -> tuple[str, ...]:
        return MODES[self.workroom.spreading]

    @cached_property
    def extents_mm(self) -> dict[tuple[LaidKey, str], float]:
        """How far each block reaches along a lay of each mode, at least; none where it does not
        fit."""
        found = {}
        for key in self.counts:
            for mode in self.modes:
                reaches = self._reaches_mm(key, lay_width_mm(self.fabric, mode))
                if reaches:
                    found[key, mode] = min(reaches)
        return found

    def _reaches_mm(self, key: LaidKey, width_mm: int) -> list[float]:
        shape = self.shapes[key[0], key[1]]
        turns = {turn % 180 for turn in allowed_turns(shape, self.fabric)}
        laid = [laid_block(shape, key[2], is_turned=turn == 90) for turn in turns]
        return [
            one.depth_mm
            for one in laid
            if one.breadth_mm <= width_mm and one.depth_mm <= self.longest_mm
        ]

    @cached_property
    def _areas_mm2(self) -> dict[LaidKey, float]:
        return {
            key: polygon_area_mm2(self.shapes[key[0], key[1]].cut_outline_mm) for key in self.counts
        }

    def area_mm(self, order: LayOrder) -> float:
        """How long the blocks of a lay are by area alone; no lay can be shorter."""
        area_mm2 = sum(n * self._areas_mm2[key] for key, n in order.counts)
        return area_mm2 / lay_width_mm(self.fabric, order.mode)

    def block_mm(self, key: LaidKey, mode: str, guess: LengthGuess) -> int:
        """How much longer the block makes a lay; never more than it is long itself."""
        width_mm = lay_width_mm(self.fabric, mode)
        by_area_mm = self._areas_mm2[key] / (width_mm * guess.efficiency)
        return ceil(min(by_area_mm, self.extents_mm[key, mode]))

    def filled_most_mm(self, guess: LengthGuess) -> int:
        """How much a lay may be filled; any block has room, however short the table."""
        largest_mm = max(self.block_mm(key, FACE_UP, guess) for key in self.counts)
        return max(int(guess.filled * self.longest_mm) - guess.end_mm, largest_mm)

    def guessed_mm(self, order: LayOrder, guess: LengthGuess) -> int:
        filled_mm = sum(n * self.block_mm(key, order.mode, guess) for key, n in order.counts)
        longest_mm = max(self.extents_mm[key, order.mode] for key, _ in order.counts)
        return max(filled_mm + guess.end_mm, ceil(longest_mm))

    def cost(
        self,
        orders: Iterable[LayOrder],
        guess: LengthGuess,
        price: CuttingPrice,
        true_mm: TrueLengths | None = None,
    ) -> float:
        """What the lays cost at true lengths, where these are known, or else at guessed ones, in
        the measure of the price."""
        known_mm = true_mm or {}
        return sum(
            self.lay_cost(order, known_mm.get(order) or self.guessed_mm(order, guess), price)
            for order in orders
        )

    def lay_cost(self, order: LayOrder, length_mm: int, price: CuttingPrice) -> float:
        ply = price.ply + price.cloth_mm * (length_mm + 2 * self.fabric.end_allowance_mm)
        spread = lengths_spread(order.mode, order.plies)
        return price.lay + spread * ply + price.outline * order.outlines

    def packed(
        self, mode: str, plies: int, counts: Mapping[LaidKey, int], guess: LengthGuess
    ) -> list[LayOrder]:
        """The blocks dealt to as few lays as first fit in falling length finds, large and small
        ones in each alike, since the small fill what the large leave."""
        lengths_mm = {key: self.block_mm(key, mode, guess) for key in counts}
        falling = sorted(counts, key=lambda key: (-lengths_mm[key], key))
        blocks = [(key, counts[key], lengths_mm[key]) for key in falling]
        most_mm = self.filled_most_mm(guess)
        fitted = _first_fit(blocks, most_mm)
        evened = _even_fit(blocks, len(fitted))
        lays = evened if all(lay.filled_mm <= most_mm for lay in evened) else fitted
        return [LayOrder(mode, plies, tuple(sorted(lay.counts.items()))) for lay in lays]


@dataclass(slots=True)
class _Filling:
    filled_mm: int = 0
    counts: Counter[LaidKey] = field(default_factory=Counter)

    def add(self, key: LaidKey, count: int, length_mm: int) -> None:
        if count:
            self.filled_mm += count * length_mm
            self.counts[key] += count


#: Block, how often it lies there, and how much longer it makes a lay each time.
_Blocks = list[tuple[LaidKey, int, int]]


def _first_fit(blocks: _Blocks, most_mm: int) -> list[_Filling]:
    lays: list[_Filling] = []
    for key, count, length_mm in blocks:
        waiting = count
        for lay in lays:
            fitting = min(waiting, (most_mm - lay.filled_mm) // length_mm)
            lay.add(key, fitting, length_mm)
            waiting -= fitting
        while waiting:
            lays.append(_Filling())
            fitting = min(waiting, most_mm // length_mm)
            lays[-1].add(key, fitting, length_mm)
            waiting -= fitting
    return lays


def _even_fit(blocks: _Blocks, lays: int) -> list[_Filling]:
    filled = [_Filling() for _ in range(lays)]
    for key, count, length_mm in blocks:
        each, more = divmod(count, lays)
        filled.sort(key=lambda lay: lay.filled_mm)
        for at, lay in enumerate(filled):
            lay.add(key, each + (at < more), length_mm)
    return filled


def lengths_spread(mode: str, plies: int) -> int:
    """How often the length of a lay is spread: a folded length makes two layers."""
    return plies // 2 if mode == FOLDED else plies


def told_guess(filled: Sequence[tuple[float, float]], guess: LengthGuess) -> LengthGuess:
    """The guess as nested lays tell it, each by the length that its blocks have by area alone and
    the length it became: a straight line through them, where they are enough to tell its two ends.
    """
    if not filled:
        return guess
    end_mm = guess.end_mm
    areas_mm = [area_mm for area_mm, _ in filled]
    if len(set(areas_mm)) >= ENOUGH_LAYS:
        line = linear_regression(areas_mm, [length_mm for _, length_mm in filled])
        end_mm = round(min(max(line.intercept, 0), MOST_END_MM))
    rest_mm = sum(max(length_mm - end_mm, area_mm) for area_mm, length_mm in filled)
    return replace(guess, efficiency=sum(areas_mm) / rest_mm, end_mm=end_mm)
