"""How short lays become: the program beside the solver called directly with the same seconds.

    python -m tests.benchmarks.run_nesting [--seconds 5 20 60] [--only WORD …] [--seeds N]

For the demo's largest lays and a synthetic set of jacket pieces: rows of bounding boxes, the
solver alone, the program, and how long each really took; then the ESICUP instances with their
density beside the best known. Both sides run one after the other with the same number of workers
and the same seed, and the same outlines. Works in a database in memory; touches no data.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from time import monotonic

from production.planning.nesting import Nest, faults_of, nest
from production.planning.nesting.blocks import pieces_of
from production.planning.nesting.run import WORKERS
from production.planning.rows import box_rows_mm
from tests.benchmarks.nesting_sets import BEST_DENSITY, Nesting, demo_sets, density, esicup

LAYS = 3
JACKET_PIECES = 120


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


def lay_lines(name: str, nesting: Nesting, seconds: int, seeds: int) -> Iterator[str]:
    rows_mm = box_rows(nesting)
    for seed in range(seeds):
        direct_mm, direct_s = directly(nesting, seconds, seed)
        found = checked(nesting, seconds, seed)
        yield (
            f"{name:16s} {seconds:3d} s seed {seed}: box rows {rows_mm:7.0f} mm,"
            f" solver alone {direct_mm:7.0f} ({direct_s:5.1f} s),"
            f" program {found.length_mm:7.0f} ({found.seconds:5.1f} s, {found.method}"
            f", {density(found, *nesting):.2f} %):"
            f" {100 * (found.length_mm / direct_mm - 1):+.2f} % beside the solver,"
            f" {100 * (1 - found.length_mm / rows_mm):.1f} % saved beside box rows"
        )


def esicup_line(name: str, seconds: int, seed: int) -> str:
    nesting = esicup(name)
    direct_mm, direct_s = directly(nesting, seconds, seed)
    found = checked(nesting, seconds, seed)
    reached = density(found, *nesting)
    return (
        f"{name:16s} {seconds:3d} s seed {seed}: program {reached:.2f} % ({found.seconds:.1f} s),"
        f" solver alone {reached * found.length_mm / direct_mm:.2f} % ({direct_s:.1f} s),"
        f" best known {BEST_DENSITY[name]:.2f} %: {reached - BEST_DENSITY[name]:+.2f} points"
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--seconds", type=int, nargs="+", default=[5, 20, 60])
    parser.add_argument("--seeds", type=int, default=1)
    parser.add_argument("--only", nargs="+", default=[], help="names, or parts of names, of sets")
    asked = parser.parse_args()

    def wanted(name: str) -> bool:
        return not asked.only or any(word in name for word in asked.only)

    # The demo takes its time to make, and has no set by an ESICUP name.
    if not asked.only or not all(word in BEST_DENSITY for word in asked.only):
        for name, nesting in demo_sets(LAYS, JACKET_PIECES).items():
            for seconds in asked.seconds if wanted(name) else []:
                for line in lay_lines(name, nesting, seconds, asked.seeds):
                    print(line, flush=True)
    for name in filter(wanted, BEST_DENSITY):
        for seconds in asked.seconds:
            for seed in range(asked.seeds):
                print(esicup_line(name, seconds, seed), flush=True)


if __name__ == "__main__":
    main()
