"""A nest in a given time: rows at once, then what the solver finds, each believed once checked."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from time import monotonic

from production.planning.nesting.blocks import (
    CLOSED_ROWS_ARE_USED,
    POSITION_TOL_MM,
    ROWS,
    ROWS_ARE_USED,
    STOPPED,
    Nest,
    NestBlock,
    NestError,
    Strip,
    least_length_mm,
    refuse_unfit,
)
from production.planning.nesting.check import faults_of
from production.planning.nesting.rows import in_rows
from production.planning.nesting.slide import slid
from production.planning.nesting.squeeze import squeezed
from production.planning.nesting.team import WORKERS, Team
from production.planning.nesting.tiling import tiled

LOOK_EVERY_SECONDS = 0.25
#: With a smaller part of the time left, the solver is not started again.
WORTH_A_START = 0.25
#: Time kept for squeezing what the solvers found, for each piece, and most, as a part of the time.
SQUEEZING_SECONDS_FOR_PIECE = 0.012
MOST_FOR_SQUEEZING = 0.2
#: Time for squeezing the rows when the solvers have failed.
ROWS_SECONDS = 0.6
#: After an answer was checked, the solver has the machine to itself so many times as long.
LEFT_ALONE = 20
#: The last step may end so much after the time.
GRACE_SECONDS = 1.0
#: A nest so little shorter is not worth telling.
WORTH_TELLING_MM = 0.1

FAULTY = "nesting gave an answer that cannot be cut"
NOTHING_SHORTER = "nesting found nothing shorter"
NO_TIME = "no time was given to nesting"

OnBetter = Callable[[Nest], None]
IsStopped = Callable[[], bool]


def nest(
    blocks: Sequence[NestBlock],
    strip: Strip,
    seconds: float,
    *,
    seed: int = 0,
    on_better: OnBetter | None = None,
    is_stopped: IsStopped | None = None,
) -> Nest:
    """The shortest nest found in `seconds`, without a fault by `faults_of`, no longer than rows.

    `on_better` is called with each better nest while it runs, first with the rows. When it is
    stopped, or the solver fails, the best so far is returned; `note` says why when that is rows.
    A nest may be longer than `strip.longest_mm` when nothing shorter was found: the caller looks.
    Raises NestError, naming the block, for what cannot lie on the cloth at all.
    """
    if not (math.isfinite(seconds) and seconds >= 0):
        raise NestError("The seconds for nesting are not zero or more. Enter a number of seconds.")
    refuse_unfit(blocks, strip)
    if not blocks:
        return Nest((), 0.0, 0.0, ROWS)
    rows = in_rows(blocks, strip)
    search = _Search(blocks, strip, rows.length_mm, on_better or (lambda _: None))
    search.take(rows)
    tiling = tiled(blocks, strip)
    if search.is_perfect or (tiling is not None and search.take(tiling)):
        return search.result("")
    stops = is_stopped or (lambda: False)
    return search.result(_solve(search, seconds, seed, stops))


class _Search:
    """The best sound nest so far; `plain_mm` is the length of rows as they are first set."""

    def __init__(
        self, blocks: Sequence[NestBlock], strip: Strip, plain_mm: float, on_better: OnBetter
    ) -> None:
        self._plain_mm = plain_mm
        self.blocks = blocks
        self.strip = strip
        self._on_better = on_better
        self._started_at = monotonic()
        self._least_mm = least_length_mm(blocks, strip)
        self.best = Nest((), math.inf, 0.0, ROWS)

    @property
    def seconds(self) -> float:
        return monotonic() - self._started_at

    def result(self, trouble: str) -> Nest:
        note = ""
        if trouble and self.best.method == ROWS:
            is_closed = self.best.length_mm < self._plain_mm
            note = trouble + (CLOSED_ROWS_ARE_USED if is_closed else ROWS_ARE_USED)
        return replace(self.best, seconds=self.seconds, note=note)

    @property
    def is_perfect(self) -> bool:
        """Whether no nest can be shorter: its cloth is all used, or one block is as long."""
        return self.best.length_mm <= self._least_mm + POSITION_TOL_MM

    def take(self, found: Nest) -> bool:
        """Whether the nest is sound; the better one is kept and told."""
        if faults_of(found, self.blocks, self.strip):
            return False
        if found.length_mm < self.best.length_mm - WORTH_TELLING_MM:
            self.best = replace(found, seconds=self.seconds)
            self._on_better(self.best)
        return True

    def take_squeezed(self, found: Nest, seed: int, until: float, is_stopped: IsStopped) -> None:
        """Takes the nest, if it is sound, and then its blocks squeezed together."""

        def is_over() -> bool:
            return self.seconds > until or is_stopped()

        if not self.take(found) or is_over():
            return
        tight = squeezed(found, self.blocks, (), self.strip, seed=seed, is_over=is_over)
        if is_over() or not self.take(slid(tight, self.blocks, (), self.strip.gap_mm)):
            self.take(tight)


def _solve(search: _Search, seconds: float, seed: int, is_stopped: IsStopped) -> str:
    """Runs the solvers until the time is over; says in words what went wrong, if anything."""
    trouble = NO_TIME
    while search.seconds < seconds * (1.0 if trouble == NO_TIME else 1.0 - WORTH_A_START):
        if search.is_perfect:
            return ""
        if is_stopped():
            return STOPPED
        trouble = _run_solvers(search, seconds, seed, is_stopped)
        if trouble:
            break
        seed += WORKERS
    if trouble != STOPPED and search.best.method == ROWS:
        rows = slid(search.best, search.blocks, (), search.strip.gap_mm)
        until = min(search.seconds + ROWS_SECONDS, seconds)
        search.take_squeezed(rows, seed, until, is_stopped)
    return trouble or NOTHING_SHORTER


def _run_solvers(search: _Search, seconds: float, seed: int, is_stopped: IsStopped) -> str:
    """One run of the solvers in their part of the time that is left, squeezed in the rest."""
    begun = search.seconds
    left = seconds - begun
    grace = min(GRACE_SECONDS, left / 4)
    pieces = sum(block.count for block in search.blocks)
    for_squeezing = min(SQUEEZING_SECONDS_FOR_PIECE * pieces, MOST_FOR_SQUEEZING * left)
    interrupt_at = begun + left - for_squeezing + grace
    next_look, trouble = 0.0, ""
    with Team(search.blocks, search.strip, left - for_squeezing, seed) as team:
        while not team.is_done:
            is_newer = team.listen(LOOK_EVERY_SECONDS)
            if is_stopped():
                trouble = STOPPED
                break
            if search.seconds > interrupt_at:
                team.interrupt()
                interrupt_at = next_look = math.inf
            if is_newer and not team.is_done and search.seconds >= next_look:
                looked = search.seconds
                # The solvers need the machine: what they find is squeezed when they have ended.
                found = team.nest()
                if found is not None and found.length_mm < search.best.length_mm:
                    search.take(found)
                next_look = search.seconds + LEFT_ALONE * (search.seconds - looked)
    found = team.nest()
    if found is not None:
        if not search.take(found):
            return FAULTY
        if trouble != STOPPED:
            search.take_squeezed(found, seed, seconds + grace, is_stopped)
    return trouble or team.trouble
