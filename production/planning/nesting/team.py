"""Solvers at work at once: two, each on a half of the blocks, or one with two cores on all.

A solver makes little of a second core while time is short: two halves come farther than one whole,
for each is half the work. Where there is time, nothing is lost where halves meet.
"""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import ExitStack
from dataclasses import replace

from production.planning.nesting.blocks import (
    NESTED,
    Nest,
    NestBlock,
    NestPlace,
    Strip,
    begun_at_zero,
    clean_ring,
    ring_area_mm2,
)
from production.planning.nesting.solver import SolverProcess

WORKERS = 2
#: With less time than this for each corner of all blocks, halves are nested. Measured on lays of
#: the demo with 2,000 to 4,500 corners: halves are shorter by 1 to 3 % below 0.005 s, the whole is
#: level or a little shorter at 0.008 s.
SECONDS_FOR_CORNER = 0.006
#: Fewer pieces are not halved: the straight edge where halves meet would cost too much.
FEWEST_PIECES_HALVED = 24


def halves(blocks: Sequence[NestBlock]) -> tuple[tuple[NestBlock, ...], tuple[NestBlock, ...]]:
    """The blocks dealt out one piece after another, large ones first, to the half with less area:
    two halves as alike as may be."""
    areas = {block.key: ring_area_mm2(clean_ring(block)) for block in blocks}
    counts: tuple[dict[tuple[str, ...], int], ...] = ({}, {})
    covered_mm2 = [0.0, 0.0]
    for block in sorted(blocks, key=lambda block: (-areas[block.key], block.key)):
        for _ in range(block.count):
            half = 0 if covered_mm2[0] <= covered_mm2[1] else 1
            counts[half][block.key] = counts[half].get(block.key, 0) + 1
            covered_mm2[half] += areas[block.key]
    first, second = (
        tuple(replace(b, count=dealt[b.key]) for b in blocks if b.key in dealt) for dealt in counts
    )
    return first, second


def joined(first: Nest, second: Nest, gap_mm: float) -> Nest:
    """The second nest laid behind the first."""
    behind_mm = first.length_mm + gap_mm
    moved = tuple(replace(place, x_mm=place.x_mm + behind_mm) for place in second.places)
    return Nest((*first.places, *moved), behind_mm + second.length_mm, 0.0, NESTED)


def is_better_halved(blocks: Sequence[NestBlock], seconds: float) -> bool:
    pieces = sum(block.count for block in blocks)
    corners = sum(block.count * len(clean_ring(block)) for block in blocks)
    return pieces >= FEWEST_PIECES_HALVED and seconds < SECONDS_FOR_CORNER * corners


class Team:
    """The solvers of one nest. Use as a context manager: no child outlives the block.

    `trouble` says in words what went wrong with one of them, or is empty.
    """

    def __init__(
        self, blocks: Sequence[NestBlock], strip: Strip, seconds: float, seed: int
    ) -> None:
        self._strip = strip
        self._is_halved = is_better_halved(blocks, seconds)
        self._parts = halves(blocks) if self._is_halved else (blocks,)
        self._solvers = [
            SolverProcess(part, strip, seconds, seed + number, WORKERS // len(self._parts))
            for number, part in enumerate(self._parts)
        ]
        self._newest: list[tuple[NestPlace, ...] | None] = [None] * len(self._parts)
        self._children = ExitStack()

    def __enter__(self) -> Team:
        with ExitStack() as children:
            for solver in self._solvers:
                children.enter_context(solver)
            self._children = children.pop_all()
        return self

    def __exit__(self, *exception: object) -> None:
        self._children.close()

    @property
    def trouble(self) -> str:
        return next((solver.trouble for solver in self._solvers if solver.trouble), "")

    @property
    def is_done(self) -> bool:
        return bool(self.trouble) or all(solver.is_done for solver in self._solvers)

    def interrupt(self) -> None:
        """Asks for the best so far."""
        for solver in self._solvers:
            solver.interrupt()

    def listen(self, wait_seconds: float) -> bool:
        """Whether there is a newer answer, waiting at most so long for one."""
        is_newer = False
        for number, solver in enumerate(self._solvers):
            if not solver.is_done:
                answer = solver.newest(wait_seconds / len(self._solvers))
                if answer is not None:
                    self._newest[number] = answer
                    is_newer = True
        return is_newer

    def nest(self) -> Nest | None:
        """What the newest answers come to, once each solver has one."""
        found = [
            begun_at_zero(answer, part)
            for answer, part in zip(self._newest, self._parts, strict=True)
            if answer is not None
        ]
        if len(found) < len(self._parts):
            return None
        return joined(found[0], found[1], self._strip.gap_mm) if self._is_halved else found[0]
