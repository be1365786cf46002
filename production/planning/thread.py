"""Sewing thread: metres by color, operation and stitch type, and the spools they take.

Two methods, kept apart by name: the geometric formulas of `FORMULAS`, which the plan uses, and the
older table `RATIOS` of thread length to seam length.

Thickness is that of the cloth as the presser foot holds it. With the loft of two uncompressed
fleece layers a lockstitch would seem to take nearly twice its thread.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal

from production.planning.explode import Cut, fabrics_by_color, sewn_by, stretches_by_cut
from production.planning.plan import PlanError, ThreadNeed
from production.planning.snapshot import (
    FabricColorSpec,
    FabricSpec,
    JacketSpec,
    OperationSpec,
    RunSnapshot,
    SeamStretch,
    WorkroomSpec,
)

#: Decimals carry tiny remainders of divisions; below this many mm they are none.
_REMAINDER_MM = Decimal("0.000001")


@dataclass(frozen=True, slots=True)
class StitchFormula:
    """Thread length per seam length, C = constant + S x (per_thickness x T + per_width x W).

    T is the thickness under the foot, S the stitches per length, W the width of the stitch, all in
    one length unit. `threads` run through the stitch; `spools_at_once` stand on the machine (the
    bobbin of a lockstitch is wound from the needle's own spool).
    """

    constant: int
    per_thickness: int
    per_width: int
    threads: int
    spools_at_once: int


#: By ISO 4915 stitch type. 101, 301, 401 and 504 version A as printed by textilecalculations.com
#: (101 also by textileblog.com); 406, 504 version B, 514, 516, 602 and 605 as printed alike by
#: textiletechinsight.com and a second textile-education page. The two versions of 504 differ by
#: exactly 2; version B has two sources and is the one used for '504'. Numbers of threads as in
#: ISO 4915 (from memory).
FORMULAS: Mapping[str, StitchFormula] = {
    "101": StitchFormula(3, 2, 0, threads=1, spools_at_once=1),
    "301": StitchFormula(2, 2, 0, threads=2, spools_at_once=1),
    "401": StitchFormula(4, 2, 0, threads=2, spools_at_once=2),
    "406": StitchFormula(7, 2, 2, threads=3, spools_at_once=3),
    "504": StitchFormula(5, 4, 4, threads=3, spools_at_once=3),
    "504 version A": StitchFormula(3, 4, 4, threads=3, spools_at_once=3),
    "514": StitchFormula(5, 6, 4, threads=4, spools_at_once=4),
    "516": StitchFormula(9, 6, 4, threads=5, spools_at_once=5),
    "602": StitchFormula(8, 4, 5, threads=4, spools_at_once=4),
    "605": StitchFormula(10, 6, 4, threads=5, spools_at_once=5),
}

#: Thread length over seam length by ISO 4915 stitch type, for about 7 stitches per cm: far denser
#: than the 3 mm stitch of fleece, for which it overstates the overedge and cover stitches. 301
#: after apparelscience.com; 503, 504, 512 and 516 after bkkquilt.com; the others from memory of a
#: thread maker's technical bulletin.
RATIOS: Mapping[str, Decimal] = {
    "101": Decimal("4.0"),
    "301": Decimal("2.5"),
    "304": Decimal("7.0"),
    "401": Decimal("5.5"),
    "406": Decimal("18.0"),
    "503": Decimal("12.0"),
    "504": Decimal("14.0"),
    "512": Decimal("18.0"),
    "516": Decimal("20.0"),
    "602": Decimal("25.0"),
    "605": Decimal("28.0"),
}


def formula_for(stitch_type: str) -> StitchFormula:
    """The formula of a stitch type; PlanError for one that the table does not have."""
    if stitch_type not in FORMULAS:
        raise PlanError(
            f"There is no thread formula for stitch type {stitch_type}. "
            f"Choose one of {', '.join(FORMULAS)}."
        )
    return FORMULAS[stitch_type]


def consumption(
    stitch_type: str,
    thickness: Decimal,
    stitches_per_length: Decimal,
    width: Decimal = Decimal(0),
) -> Decimal:
    """Thread length per seam length by formula; thickness, 1/stitches and width in one unit."""
    formula = formula_for(stitch_type)
    return formula.constant + stitches_per_length * (
        formula.per_thickness * thickness + formula.per_width * width
    )


def thread_by_ratio(stitch_type: str, seam_length: Decimal) -> Decimal:
    """Thread length by the ratio table, in the unit of `seam_length`."""
    if stitch_type not in RATIOS:
        raise PlanError(
            f"There is no thread ratio for stitch type {stitch_type}. "
            f"Choose one of {', '.join(RATIOS)}."
        )
    return RATIOS[stitch_type] * seam_length


def factor_from_sample(thread_taken: Decimal, sample_seam: Decimal) -> Decimal:
    """Thread length per seam length, from the thread unravelled out of a sewn sample."""
    return thread_taken / sample_seam


def thread_of(operation: OperationSpec, jacket: JacketSpec, color: FabricColorSpec) -> str:
    """The thread an operation uses on a block of the given fabric color."""
    if operation.contrast_thread and jacket.topstitch_thread:
        return jacket.topstitch_thread
    return color.thread


def spools_at_once(operation: OperationSpec) -> int:
    """How many spools of one color stand on the machine for the operation."""
    return formula_for(operation.stitch_type).spools_at_once * operation.rows


def threaded_operations(snapshot: RunSnapshot) -> tuple[OperationSpec, ...]:
    """The operations that sew seams with thread, in the order of work."""
    return tuple(
        operation
        for operation in snapshot.operations
        if operation.driver == "seam_metre" and operation.stitch_type
    )


def thread_on_stretch_mm(
    operation: OperationSpec, stretch: SeamStretch, fabric: FabricSpec, workroom: WorkroomSpec
) -> Decimal:
    """Thread of one operation on one stretch of seam of one jacket, tails and waste included.

    Raises PlanError for an unknown stitch type, one without a stitch length, and for no rows or
    layers.
    """
    if not (operation.rows and operation.cloth_layers):
        raise PlanError(
            f"Operation {operation.code} sews {operation.rows} rows through "
            f"{operation.cloth_layers} layers of cloth. Enter at least one of each."
        )
    if not operation.stitch_length_mm:
        raise PlanError(
            f"Operation {operation.code} has stitch type {operation.stitch_type} but no stitch "
            "length. Enter its stitch length in mm."
        )
    per_mm = consumption(
        operation.stitch_type,
        operation.cloth_layers * fabric.compressed_thickness_mm,
        1 / operation.stitch_length_mm,
        operation.seam_width_mm,
    )
    threads = formula_for(operation.stitch_type).threads
    tails_mm = stretch.runs * 2 * workroom.thread_tail_mm * threads
    row_mm = Decimal(str(stretch.length_mm)) * per_mm + tails_mm
    return row_mm * operation.rows * (1 + workroom.thread_waste)


@dataclass(frozen=True, slots=True)
class SpoolNeed:
    """The thread of one color over the whole run, and the spools of it that are bought."""

    thread_color: str
    metres: Decimal
    spools: int


def spool_needs(snapshot: RunSnapshot, needs: Iterable[ThreadNeed]) -> tuple[SpoolNeed, ...]:
    """Spools by thread color, colors in the order of the needs.

    Work on one machine is sewn from the same spools, and every machine has its own: as many as hold
    its metres, and never fewer than stand on it at once.
    """
    operations = {operation.code: operation for operation in snapshot.operations}
    spool_m = {thread.code: thread.spool_m for thread in snapshot.threads}
    by_color: dict[str, dict[str, list[ThreadNeed]]] = defaultdict(lambda: defaultdict(list))
    for need in needs:
        by_color[need.thread_color][operations[need.use].machine].append(need)
    return tuple(
        SpoolNeed(
            color,
            sum((need.metres for some in machines.values() for need in some), Decimal(0)),
            sum(
                max(
                    _spools(sum((need.metres for need in some), Decimal(0)), spool_m[color]),
                    max(spools_at_once(operations[need.use]) for need in some),
                )
                for some in machines.values()
            ),
        )
        for color, machines in by_color.items()
    )


def _spools(metres: Decimal, spool_m: int) -> int:
    return int((metres / spool_m).to_integral_value(ROUND_CEILING))


#: Blocking, size, block, fabric color, contrast thread: blocks alike in all five take alike.
_Alike = tuple[Cut, str, str, str | None]


def thread_needs(snapshot: RunSnapshot) -> tuple[ThreadNeed, ...]:
    """Thread of the run by (thread color, operation, stitch type), sorted so.

    Metres are rounded up to 0.1 m and include the tails at both ends of every run of sewing and
    the workroom's waste. Spools are those of the use alone, never fewer than stand on the machine
    at once; `spool_needs` says how many are bought.
    """
    threads = {thread.code: thread for thread in snapshot.threads}
    operations = {operation.code: operation for operation in snapshot.operations}
    needs = []
    for (color, use), length_mm in sorted(_thread_mm(snapshot).items()):
        if color not in threads:
            raise PlanError(
                f"Operation {use} needs thread {color}, which is not known. "
                "Add the thread or choose another."
            )
        metres = (length_mm.quantize(_REMAINDER_MM) / 1000).quantize(Decimal("0.1"), ROUND_CEILING)
        operation = operations[use]
        spools = max(_spools(metres, threads[color].spool_m), spools_at_once(operation))
        needs.append(ThreadNeed(color, use, operation.stitch_type, metres, spools))
    return tuple(needs)


def _thread_mm(snapshot: RunSnapshot) -> dict[tuple[str, str], Decimal]:
    """Thread length by thread color and operation code."""
    colors = {color.code: color for color in snapshot.fabric_colors}
    fabrics = fabrics_by_color(snapshot)
    sewing = _sewing_by_block(snapshot)
    jackets: dict[_Alike, JacketSpec] = {}
    counts: Counter[_Alike] = Counter()
    for jacket in snapshot.jackets:
        for block, color in jacket.blocks:
            alike = ((jacket.blocking, jacket.size), block, color, jacket.topstitch_thread)
            jackets[alike] = jacket
            counts[alike] += 1
    totals: dict[tuple[str, str], Decimal] = defaultdict(Decimal)
    for alike, count in counts.items():
        cut, block, color, _ = alike
        for operation, stretch in sewing[cut, block]:
            thread = thread_of(operation, jackets[alike], colors[color])
            totals[thread, operation.code] += count * thread_on_stretch_mm(
                operation, stretch, fabrics[color], snapshot.workroom
            )
    return totals


def _sewing_by_block(
    snapshot: RunSnapshot,
) -> dict[tuple[Cut, str], list[tuple[OperationSpec, SeamStretch]]]:
    """What is sewn on one block of one jacket, by its blocking and size and the block's code."""
    operations = threaded_operations(snapshot)
    found: dict[tuple[Cut, str], list[tuple[OperationSpec, SeamStretch]]] = defaultdict(list)
    for cut, stretches in stretches_by_cut(snapshot).items():
        for stretch in stretches:
            found[cut, stretch.block] += [
                (op, stretch) for op in operations if sewn_by(op, stretch)
            ]
    return found
