"""Minutes of work: by operation, for the changes of thread and foot, and by jacket."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from production.planning.explode import Cut, CutPiece, sewn_by, stretches_by_cut
from production.planning.lays import spread_count
from production.planning.plan import Changeover, Labor, Lay, OperationNeed, PlanError
from production.planning.snapshot import (
    FabricColorSpec,
    JacketSpec,
    OperationSpec,
    RunSnapshot,
    SeamStretch,
)
from production.planning.thread import spools_at_once, thread_of

STAGES = ("cut", "sew", "finish")
CENT = Decimal("0.01")

#: Invented starting values, to be replaced by a workroom's own: rethreading the first spool of a
#: machine, each further spool, and changing a presser foot.
THREAD_CHANGE_MINUTES = Decimal("3.0")
FURTHER_SPOOL_MINUTES = Decimal("1.5")
FOOT_CHANGE_MINUTES = Decimal("1.0")

#: Minutes with allowance of each jacket, by jacket code and stage.
JacketMinutes = dict[str, dict[str, Decimal]]
Batch = tuple[JacketSpec, ...]


def basic_time(
    observed_minutes: Decimal, rating: Decimal, standard_rating: Decimal = Decimal(100)
) -> Decimal:
    """Observed time x rating / standard rating, the rating on the 0-100 scale (ILO, Introduction
    to Work Study, 4th ed., 1992; from memory)."""
    return observed_minutes * rating / standard_rating


def standard_time_ilo(basic_minutes: Decimal, allowance: Decimal) -> Decimal:
    """Basic time x (1 + relaxation allowance): the allowance is a share of the work (ILO 1992, from
    memory). This is the method that plans use."""
    return basic_minutes * (1 + allowance)


def standard_time_share_of_day(normal_minutes: Decimal, allowance: Decimal) -> Decimal:
    """Normal time / (1 - allowance): the allowance is a share of the working day (Heizer & Render,
    Operations Management, from memory). Not the same as the ILO method."""
    return normal_minutes / (1 - allowance)


def plan_labor(
    snapshot: RunSnapshot, pieces: Sequence[CutPiece], lays: Sequence[Lay]
) -> tuple[Labor, JacketMinutes]:
    """The run's minutes, and each jacket's minutes with allowance by stage.

    Operations per ply count the lengths that are spread, of which a folded one makes two plies.
    Operations per lay, ply and outline are shared among the jackets by their numbers of pieces,
    changeovers equally in the stage sew. The jackets' minutes add up to the run's.
    """
    stretches = stretches_by_cut(snapshot)
    works = [
        _seam_work(operation, snapshot.jackets, stretches)
        if operation.driver == "seam_metre"
        else _counted_work(operation, snapshot.jackets, pieces, lays)
        for operation in snapshot.operations
    ]
    changeovers = count_changeovers(snapshot, thread_batches(snapshot))
    standard = sum((work.minutes for work in works), Decimal(0))
    extra = sum((changeover.minutes for changeover in changeovers), Decimal(0))
    allowance = snapshot.workroom.relaxation_allowance
    labor = Labor(
        operations=tuple(
            OperationNeed(w.operation.code, w.operation.stage, w.minutes, w.count) for w in works
        ),
        changeovers=changeovers,
        standard_minutes=standard,
        with_allowance_minutes=_cents(standard_time_ilo(standard + extra, allowance)),
    )
    return labor, _jacket_minutes(snapshot, works, extra)


@dataclass(frozen=True, slots=True)
class _Work:
    """An operation over the run; `shares` say how its minutes spread over the jackets."""

    operation: OperationSpec
    count: int
    minutes: Decimal
    shares: list[Decimal]


def _counted_work(
    operation: OperationSpec,
    jackets: Sequence[JacketSpec],
    pieces: Sequence[CutPiece],
    lays: Sequence[Lay],
) -> _Work:
    by_jacket = Counter(piece.jacket for piece in pieces)
    shares = [Decimal(by_jacket[jacket.code]) for jacket in jackets]
    match operation.driver:
        case "jacket":
            count, shares = len(jackets), [Decimal(1)] * len(jackets)
        case "block":
            count = len(pieces)
        case "lay":
            count = len(lays)
        case "ply":
            count = sum(spread_count(lay) for lay in lays)
        case "outline":
            count = sum(len(lay.placements) for lay in lays)
        case _:
            raise PlanError(
                f"Operation {operation.code} is driven by {operation.driver!r}. "
                "Choose jacket, block, seam_metre, lay, ply or outline."
            )
    return _Work(operation, count, _cents(operation.minutes_each * count), shares)


def _seam_work(
    operation: OperationSpec,
    jackets: Sequence[JacketSpec],
    stretches: Mapping[Cut, Sequence[SeamStretch]],
) -> _Work:
    runs: dict[Cut, int] = {}
    minutes: dict[Cut, Decimal] = {}
    for cut, on_jacket in stretches.items():
        sewn = [stretch for stretch in on_jacket if sewn_by(operation, stretch)]
        runs[cut] = sum(stretch.runs for stretch in sewn)
        metres = sum((Decimal(str(stretch.length_mm)) for stretch in sewn), Decimal(0)) / 1000
        minutes[cut] = operation.minutes_each * runs[cut] + operation.minutes_per_metre * metres
    cuts = [(jacket.blocking, jacket.size) for jacket in jackets]
    shares = [minutes[cut] for cut in cuts]
    count = sum(runs[cut] for cut in cuts)
    return _Work(operation, count, _cents(sum(shares, Decimal(0))), shares)


def _cents(minutes: Decimal) -> Decimal:
    return minutes.quantize(CENT, ROUND_HALF_UP)


def _jacket_minutes(
    snapshot: RunSnapshot, works: Iterable[_Work], changeover_minutes: Decimal
) -> JacketMinutes:
    jackets = snapshot.jackets
    by_stage = {stage: [Decimal(0)] * len(jackets) for stage in STAGES}
    by_stage["sew"] = [changeover_minutes / len(jackets)] * len(jackets)
    for work in works:
        if work.operation.stage not in by_stage:
            raise PlanError(
                f"Operation {work.operation.code} belongs to stage {work.operation.stage!r}. "
                f"Choose one of {', '.join(STAGES)}."
            )
        whole = sum(work.shares, Decimal(0))
        if whole:
            row = by_stage[work.operation.stage]
            for at, share in enumerate(work.shares):
                row[at] += work.minutes * share / whole
    return _rounded(snapshot, by_stage)


def _rounded(snapshot: RunSnapshot, by_stage: Mapping[str, Sequence[Decimal]]) -> JacketMinutes:
    """Each jacket's minutes to 0.01, taken as steps of the rounded running total, so that nothing
    is lost over many jackets."""
    found: JacketMinutes = {jacket.code: {} for jacket in snapshot.jackets}
    allowance = snapshot.workroom.relaxation_allowance
    exact = told = Decimal(0)
    for stage, row in by_stage.items():
        for jacket, minutes in zip(snapshot.jackets, row, strict=True):
            exact += standard_time_ilo(minutes, allowance)
            found[jacket.code][stage] = _cents(exact) - told
            told = _cents(exact)
    return found


def thread_batches(snapshot: RunSnapshot) -> tuple[Batch, ...]:
    """The order of work that plans assume: jackets sewn in the same thread colors together, batches
    in the order of their colors so that neighbors share some."""
    sewing = _Sewing.of(snapshot)
    batches: dict[tuple[str, ...], list[JacketSpec]] = defaultdict(list)
    for jacket in snapshot.jackets:
        batches[tuple(sorted(sewing.threads_of_jacket(jacket)))].append(jacket)
    return tuple(tuple(batches[key]) for key in sorted(batches))


@dataclass(frozen=True, slots=True)
class _Sewing:
    """The sewing operations on machines, and the blocks each sews on, by blocking and size."""

    operations: tuple[OperationSpec, ...]
    blocks: Mapping[tuple[str, Cut], frozenset[str]]
    colors: Mapping[str, FabricColorSpec]

    @classmethod
    def of(cls, snapshot: RunSnapshot) -> _Sewing:
        operations = tuple(op for op in snapshot.operations if op.stage == "sew" and op.machine)
        blocks = {
            (op.code, cut): frozenset(s.block for s in stretches if sewn_by(op, s))
            for cut, stretches in stretches_by_cut(snapshot).items()
            for op in operations
        }
        return cls(operations, blocks, {color.code: color for color in snapshot.fabric_colors})

    def works_on(self, operation: OperationSpec, jacket: JacketSpec) -> bool:
        if operation.driver != "seam_metre":
            return True
        return bool(self.blocks[operation.code, (jacket.blocking, jacket.size)])

    def threads(self, operation: OperationSpec, jackets: Iterable[JacketSpec]) -> set[str]:
        """Needle threads of an operation; empty for work that is not a seam."""
        if not operation.stitch_type:
            return set()
        return {
            thread_of(operation, jacket, self.colors[color])
            for jacket in jackets
            for block, color in jacket.blocks
            if block in self.blocks[operation.code, (jacket.blocking, jacket.size)]
        }

    def threads_of_jacket(self, jacket: JacketSpec) -> set[str]:
        return {t for operation in self.operations for t in self.threads(operation, [jacket])}


def count_changeovers(snapshot: RunSnapshot, batches: Iterable[Batch]) -> tuple[Changeover, ...]:
    """Changes of thread color and presser foot when the batches are sewn one after the other, each
    through the sewing operations in their order.

    Every machine is found threaded and footed for its first work. Within an operation on a batch
    the color that is on the machine is sewn first, and each further color is one change.
    """
    sewing = _Sewing.of(snapshot)
    thread_on: dict[str, str] = {}
    foot_on: dict[str, str] = {}
    thread_count = foot_count = 0
    thread_minutes = Decimal(0)
    for batch in batches:
        for operation in sewing.operations:
            if not any(sewing.works_on(operation, jacket) for jacket in batch):
                continue
            machine = operation.machine
            if operation.foot:
                foot_count += foot_on.get(machine, operation.foot) != operation.foot
                foot_on[machine] = operation.foot
            needed = sewing.threads(operation, batch)
            if needed:
                on = thread_on.setdefault(machine, min(needed))
                changes = len(needed - {on})
                thread_count += changes
                thread_minutes += changes * _thread_change_minutes(operation)
                thread_on[machine] = max(needed - {on}, default=on)
    return (
        Changeover("thread color", thread_count, _cents(thread_minutes)),
        Changeover("presser foot", foot_count, _cents(foot_count * FOOT_CHANGE_MINUTES)),
    )


def _thread_change_minutes(operation: OperationSpec) -> Decimal:
    return THREAD_CHANGE_MINUTES + (spools_at_once(operation) - 1) * FURTHER_SPOOL_MINUTES
