"""How short lays become: the program beside the solver called directly with the same seconds.

    python -m tests.benchmarks.run_nesting [--seconds 5 20 60] [--only WORD …] [--seeds N]

For the demo's largest lays, a synthetic set of jacket pieces and the ESICUP instances: the length
by rows of bounding boxes (lays only), by the solver alone with its own settings, and by the
program, how long both really took, and the density beside the best known (ESICUP only). Both sides
get the same cloth, gap, outlines, seconds, seed and number of cores, and run by turns, each first
as often as the other. At the end, for each number of seconds, all pairs in short and the mean of
their differences, with its standard error. Works in a database in memory; touches no data.
"""

from __future__ import annotations

import argparse
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from statistics import fmean, stdev
from time import monotonic

from production.planning.cutting.rows import box_rows_mm
from production.planning.nesting import Nest, faults_of, nest
from production.planning.nesting.blocks import pieces_of
from production.planning.nesting.team import WORKERS
from tests.benchmarks.nesting_sets import BEST_DENSITY, Nesting, demo_sets, density, esicup

LAYS = 3
JACKET_PIECES = 120


@dataclass(frozen=True, slots=True)
class Pair:
    """One set nested by both sides: lengths, and the seconds that each really took."""

    name: str
    seconds: int
    seed: int
    program_mm: float
    program_s: float
    direct_mm: float
    direct_s: float
    density: float

    @property
    def difference(self) -> float:
        """How much longer the program's nest is, in %."""
        return 100 * (self.program_mm / self.direct_mm - 1)

    def __str__(self) -> str:
        return (
            f"{self.name:14s} {self.seconds:3d} s seed {self.seed}:"
            f" program {self.program_mm:7.1f} mm ({self.program_s:5.2f} s,"
            f" {self.density:.2f} %), solver alone {self.direct_mm:7.1f} mm"
            f" ({self.direct_s:5.2f} s, {self.density * self.program_mm / self.direct_mm:.2f} %),"
            f" {self.difference:+.2f} %"
        )


def directly(nesting: Nesting, seconds: int, seed: int) -> tuple[float, float]:
    """Length by the solver alone, without the gap at both ends, and the seconds it really took."""
    import spyrrow

    blocks, strip = nesting
    items = [
        spyrrow.Item(str(number), list(block.outline), block.count, list(block.turns))
        for number, block in enumerate(blocks)
    ]
    instance = spyrrow.StripPackingInstance("", strip.width_mm + 2 * strip.gap_mm, items)
    config = spyrrow.StripPackingConfig(
        total_computation_time=seconds,
        seed=seed,
        num_workers=WORKERS,
        min_items_separation=strip.gap_mm or None,
    )
    begun = monotonic()
    return instance.solve(config).width - 2 * strip.gap_mm, monotonic() - begun


def box_rows(nesting: Nesting) -> float:
    blocks, strip = nesting
    boxes = []
    for block in blocks:
        piece = min(pieces_of(block, strip), key=lambda piece: piece.depth_mm)
        boxes += [(piece.depth_mm, piece.breadth_mm)] * block.count
    return box_rows_mm(boxes, strip.width_mm, strip.gap_mm)


def checked(nesting: Nesting, seconds: int, seed: int) -> Nest:
    found = nest(*nesting, seconds, seed=seed)
    faults = faults_of(found, *nesting)
    if faults:
        raise SystemExit(f"a nest with faults: {faults}")
    return found


def pair_of(name: str, nesting: Nesting, seconds: int, seed: int, *, is_first: bool) -> Pair:
    """`is_first`: whether the program runs before the solver alone."""
    if is_first:
        found = checked(nesting, seconds, seed)
    direct_mm, direct_s = directly(nesting, seconds, seed)
    if not is_first:
        found = checked(nesting, seconds, seed)
    reached = density(found, *nesting)
    return Pair(name, seconds, seed, found.length_mm, found.seconds, direct_mm, direct_s, reached)


def pairs_of(name: str, nesting: Nesting, seconds: Sequence[int], seeds: int) -> Iterator[Pair]:
    """Pairs as they are found, each with a line about it."""
    rows_mm = 0.0 if name in BEST_DENSITY else box_rows(nesting)
    for limit in seconds:
        for seed in range(seeds):
            pair = pair_of(name, nesting, limit, seed, is_first=seed % 2 == 0)
            if rows_mm:
                saved = 100 * (1 - pair.program_mm / rows_mm)
                beside = f"box rows {rows_mm:.0f} mm: {saved:.1f} % saved"
            else:
                best = BEST_DENSITY[name]
                beside = f"best known {best:.2f} %: {pair.density - best:+.2f} points"
            print(f"{pair}; {beside}", flush=True)
            yield pair


def summary(pairs: Sequence[Pair]) -> str:
    """The differences of pairs with the same seconds, and their mean with its standard error."""
    differences = [pair.difference for pair in pairs]
    error = stdev(differences) / math.sqrt(len(pairs)) if len(pairs) > 1 else math.nan
    longer = sum(difference > 0 for difference in differences)
    return (
        f"{pairs[0].seconds:3d} s, program beside solver alone in %: "
        + " ".join(f"{difference:+.2f}" for difference in differences)
        + f"; mean {fmean(differences):+.2f} ± {error:.2f}, longer in {longer} of {len(pairs)};"
        f" took {fmean(p.program_s for p in pairs):.2f} and"
        f" {fmean(p.direct_s for p in pairs):.2f} s"
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--seconds", type=int, nargs="+", default=[5, 20, 60])
    parser.add_argument("--seeds", type=int, default=1)
    parser.add_argument("--only", nargs="+", default=[], help="names, or parts of names, of sets")
    asked = parser.parse_args()
    sets = {name: esicup(name) for name in BEST_DENSITY}
    # The demo takes its time to make, and has no set by an ESICUP name.
    if not asked.only or not all(word in BEST_DENSITY for word in asked.only):
        sets = demo_sets(LAYS, JACKET_PIECES) | sets
    pairs = [
        pair
        for name, nesting in sets.items()
        if not asked.only or any(word in name for word in asked.only)
        for pair in pairs_of(name, nesting, asked.seconds, asked.seeds)
    ]
    for limit in asked.seconds:
        of_limit = [pair for pair in pairs if pair.seconds == limit]
        if of_limit:
            print(summary(of_limit))


if __name__ == "__main__":
    main()
