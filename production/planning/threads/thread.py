"""Sewing thread: metres by color and operation, and each line of them explained.

What a stitch takes stands in `thread_stitches`, whose color in `thread_colors`, on how many spools
and cones in `thread_spools`.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from decimal import ROUND_CEILING, ROUND_HALF_UP, Decimal

from production.planning.explode import Cut, fabrics_by_color, sewn_by, stretches_by_cut
from production.planning.plan import PlanError, ThreadNeed
from production.planning.snapshot import (
    FabricSpec,
    JacketSpec,
    OperationSpec,
    RunSnapshot,
    SeamStretch,
)
from production.planning.threads.thread_colors import thread_of
from production.planning.threads.thread_spools import (
    SpoolNeed,
    spool_needs,
    spools_at_once,
    thread_prices,
    thread_wares,
    wound,
)
from production.planning.threads.thread_stitches import Factor, Factors, factors_of, stitch_of

__all__ = [
    "SeamThread",
    "SpoolNeed",
    "explained",
    "spool_needs",
    "spools_at_once",
    "thread_needs",
    "thread_of",
    "thread_prices",
    "thread_wares",
    "threaded_operations",
]

#: Decimals carry tiny remainders of divisions; below this many mm they are none.
_REMAINDER_MM = Decimal("0.000001")
_TENTH = Decimal("0.1")


def threaded_operations(snapshot: RunSnapshot) -> tuple[OperationSpec, ...]:
    """The operations that sew seams with thread, in the order of work."""
    return tuple(
        operation
        for operation in snapshot.operations
        if operation.driver == "seam_metre" and operation.stitch_type
    )


@dataclass(frozen=True, slots=True)
class SeamThread:
    """The thread of one operation on one seam in one color, over all jackets that have it so.

    `seam_mm` is the seam of all these jackets in one row, of which each jacket has its own length;
    `runs` are the stretches of sewing. `needle_mm` and `under_mm` (bobbin or looper) lie in the
    seam, all rows together; the tails hang at both ends of every run; waste is the workroom's share
    of both.
    """

    operation: OperationSpec
    seam: str
    name: str
    thread_color: str
    fabric: FabricSpec
    jackets: int
    seam_mm: Decimal
    runs: int
    factors: Factors
    needle_mm: Decimal
    under_mm: Decimal
    needle_tails_mm: Decimal
    under_tails_mm: Decimal
    waste: Decimal

    @property
    def used(self) -> Factor:
        return self.factors.used

    @property
    def tails_mm(self) -> Decimal:
        return self.needle_tails_mm + self.under_tails_mm

    @property
    def waste_mm(self) -> Decimal:
        return (self.needle_mm + self.under_mm + self.tails_mm) * self.waste

    @property
    def whole_needle_mm(self) -> Decimal:
        """Through needles, tails and waste included."""
        return (self.needle_mm + self.needle_tails_mm) * (1 + self.waste)

    @property
    def whole_under_mm(self) -> Decimal:
        """Through bobbins or loopers, tails and waste included."""
        return (self.under_mm + self.under_tails_mm) * (1 + self.waste)

    @property
    def whole_mm(self) -> Decimal:
        return self.whole_needle_mm + self.whole_under_mm


def explained(snapshot: RunSnapshot) -> tuple[SeamThread, ...]:
    """The thread of the run line by line: one for each operation, seam, thread color and fabric, in
    the order of work and of the seams. `thread_needs` are sums of these lines.

    Raises PlanError for an operation or a jacket whose thread cannot be counted.
    """
    room = snapshot.workroom
    factors: dict[tuple[str, str], Factors] = {}
    lines = []
    for sewn in _sewn(snapshot):
        operation, fabric = sewn.operation, sewn.fabric
        known = factors.get((operation.code, fabric.code))
        if known is None:
            known = factors_of(operation, fabric.compressed_thickness_mm, room.thread_method)
            factors[operation.code, fabric.code] = known
        stitch = stitch_of(operation.stitch_type)
        tail_mm = Decimal(sewn.runs * 2 * room.thread_tail_mm * operation.rows)
        lines.append(
            SeamThread(
                operation=operation,
                seam=sewn.seam,
                name=sewn.name,
                thread_color=sewn.thread,
                fabric=fabric,
                jackets=sewn.jackets,
                seam_mm=sewn.seam_mm,
                runs=sewn.runs,
                factors=known,
                needle_mm=sewn.seam_mm * known.used.needle * operation.rows,
                under_mm=sewn.seam_mm * known.used.under * operation.rows,
                needle_tails_mm=tail_mm * stitch.needles,
                under_tails_mm=tail_mm * (stitch.threads - stitch.needles),
                waste=room.thread_waste,
            )
        )
    return tuple(lines)


def thread_needs(snapshot: RunSnapshot) -> tuple[ThreadNeed, ...]:
    """Thread of the run by (thread color, operation, stitch type), sorted so.

    Metres are rounded up to 0.1 m and include the tails at both ends of every run of sewing and
    the workroom's waste; those of the needles among them are rounded to the nearest 0.1 m. Spools
    are those of the use alone, never fewer than stand on the machine at once, as if nothing was
    sold on cones; `spool_needs` says how many spools and cones are bought.
    """
    threads = {thread.code: thread for thread in snapshot.threads}
    uses: dict[tuple[str, str], list[SeamThread]] = defaultdict(list)
    for line in explained(snapshot):
        uses[line.thread_color, line.operation.code].append(line)
    needs = []
    for (color, use), lines in sorted(uses.items()):
        if color not in threads:
            raise PlanError(
                f"Operation {use} needs thread {color}, which is not known. "
                "Add the thread or choose another."
            )
        operation = lines[0].operation
        metres = _metres(sum((line.whole_mm for line in lines), Decimal(0)), ROUND_CEILING)
        needle = _metres(sum((line.whole_needle_mm for line in lines), Decimal(0)), ROUND_HALF_UP)
        spools = max(wound(metres, threads[color].spool_m), spools_at_once(operation))
        needs.append(
            ThreadNeed(
                color, use, operation.stitch_type, metres, spools, lines[0].used.method, needle
            )
        )
    return tuple(needs)


def _metres(length_mm: Decimal, rounding: str) -> Decimal:
    return (length_mm.quantize(_REMAINDER_MM) / 1000).quantize(_TENTH, rounding)


#: Blocking, size, fills and topstitch thread: jackets alike in these are sewn alike.
_Alike = tuple[Cut, tuple[tuple[str, str], ...], str | None]
#: Operation, seam with its name, thread and fabric.
_Key = tuple[str, str, str, str, str]


@dataclass(slots=True)
class _Sewn:
    """A seam as one operation sews it in one thread, while it is added up over the jackets."""

    operation: OperationSpec
    seam: str
    name: str
    thread: str
    fabric: FabricSpec
    seam_mm: Decimal = field(default=Decimal(0))
    runs: int = 0
    jackets: int = 0


def _sewn(snapshot: RunSnapshot) -> Iterable[_Sewn]:
    """What is sewn over the run, in the order of work and of the seams. Jackets alike are taken
    together, so that a big run is counted as fast as a small one with as many colorways."""
    colors = {color.code: color for color in snapshot.fabric_colors}
    fabrics = fabrics_by_color(snapshot)
    work = _work_by_cut(snapshot)
    found: dict[_Key, _Sewn] = {}
    for jacket, count in _alike(snapshot.jackets):
        fills, seen = dict(jacket.blocks), set()
        for operation, stretch, length_mm in work[jacket.blocking, jacket.size]:
            thread = thread_of(operation, jacket, stretch, colors)
            fabric = fabrics[fills[stretch.block]]
            key = (operation.code, stretch.seam, stretch.name, thread, fabric.code)
            line = found.get(key)
            if line is None:
                line = _Sewn(operation, stretch.seam, stretch.name, thread, fabric)
                found[key] = line
            line.seam_mm += count * length_mm
            line.runs += count * stretch.runs
            if key not in seen:
                seen.add(key)
                line.jackets += count
    return _in_order(found, snapshot)


def _in_order(found: dict[_Key, _Sewn], snapshot: RunSnapshot) -> list[_Sewn]:
    seams: dict[str, int] = {}
    for stretch in snapshot.seams:
        seams.setdefault(stretch.seam, len(seams))
    work = {operation.code: at for at, operation in enumerate(snapshot.operations)}
    return sorted(
        found.values(),
        key=lambda line: (
            work[line.operation.code],
            seams[line.seam],
            line.name,
            line.thread,
            line.fabric.code,
        ),
    )


def _alike(jackets: Iterable[JacketSpec]) -> Iterator[tuple[JacketSpec, int]]:
    """One jacket of each kind, and how many there are of it."""
    kinds: dict[_Alike, JacketSpec] = {}
    counts: Counter[_Alike] = Counter()
    for jacket in jackets:
        alike = ((jacket.blocking, jacket.size), jacket.blocks, jacket.topstitch_thread)
        kinds.setdefault(alike, jacket)
        counts[alike] += 1
    return ((jacket, counts[alike]) for alike, jacket in kinds.items())


def _work_by_cut(
    snapshot: RunSnapshot,
) -> dict[Cut, list[tuple[OperationSpec, SeamStretch, Decimal]]]:
    """What is sewn on one jacket of a blocking and size, with the length of each stretch in mm."""
    operations = threaded_operations(snapshot)
    stretches = stretches_by_cut(snapshot)
    return {
        cut: [
            (operation, stretch, Decimal(str(stretch.length_mm)))
            for stretch in stretches[cut]
            for operation in operations
            if sewn_by(operation, stretch)
        ]
        for cut in {(jacket.blocking, jacket.size) for jacket in snapshot.jackets}
    }
