"""Minutes of work: by operation, for changeovers, for learning, and by jacket."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from production.planning.cutting.lays import spread_count
from production.planning.explode import Cut, CutPiece, sewn_by, stretches_by_cut
from production.planning.minutes.changeovers import CENT as CENT
from production.planning.minutes.changeovers import (
    Batch,
    cents,
    count_changeovers,
    minutes_of,
    thread_batches,
)
from production.planning.minutes.learning import unit_factor
from production.planning.minutes.time_study import standard_time_ilo
from production.planning.plan import Labor, Lay, OperationNeed, PlanError
from production.planning.snapshot import JacketSpec, OperationSpec, RunSnapshot, SeamStretch

STAGES = ("cut", "sew", "finish")
#: The stage whose minutes shrink as jackets of a run follow one another.
LEARNT = "sew"

#: Minutes with allowance of each jacket, by jacket code and stage.
JacketMinutes = dict[str, dict[str, Decimal]]


def plan_labor(
    snapshot: RunSnapshot, pieces: Sequence[CutPiece], lays: Sequence[Lay]
) -> tuple[Labor, JacketMinutes]:
    """The run's minutes, and each jacket's minutes with allowance by stage.

    Operations per ply count the lengths that are spread, of which a folded one makes two plies.
    Operations per lay, ply and outline are shared among the jackets by their numbers of pieces,
    changeovers and operations per run equally. The jackets' minutes add up to the run's.

    With a learning rate the first jacket sewn of each blocking takes the standard and each later
    one its Crawford share of it, in the order of the thread batches; `standard_minutes` stay the
    standard.
    """
    works = works_of(snapshot, pieces, lays)
    batches = thread_batches(snapshot)
    changeovers = count_changeovers(snapshot, batches)
    learning = learning_of(snapshot, works, batches)
    standard = sum((work.minutes for work in works), Decimal(0))
    extra = minutes_of(changeovers)
    worked = standard + extra - (learning.saved_minutes if learning else 0)
    allowance = snapshot.workroom.relaxation_allowance
    labor = Labor(
        operations=tuple(
            OperationNeed(w.operation.code, w.operation.stage, w.minutes, w.count) for w in works
        ),
        changeovers=changeovers,
        standard_minutes=standard,
        with_allowance_minutes=cents(standard_time_ilo(worked, allowance)),
    )
    return labor, _jacket_minutes(snapshot, works, extra, learning)


@dataclass(frozen=True, slots=True)
class Work:
    """An operation over the run: how many times, over how many metres of seam, its standard
    minutes; `shares` say how they spread over the jackets."""

    operation: OperationSpec
    count: int
    minutes: Decimal
    shares: list[Decimal]
    metres: Decimal = Decimal(0)

    def by_jacket(self) -> Iterable[Decimal]:
        """Minutes of each jacket, in the order of the jackets."""
        whole = sum(self.shares, Decimal(0))
        return (self.minutes * share / whole if whole else Decimal(0) for share in self.shares)

    @property
    def is_learnt(self) -> bool:
        """Work that is done once for the run is not repeated, so nothing is learnt by it."""
        return self.operation.stage == LEARNT and self.operation.driver != "run"


def works_of(
    snapshot: RunSnapshot, pieces: Sequence[CutPiece], lays: Sequence[Lay]
) -> tuple[Work, ...]:
    """The operations over the run, in the order of work."""
    stretches = stretches_by_cut(snapshot)
    return tuple(
        _seam_work(operation, snapshot.jackets, stretches)
        if operation.driver == "seam_metre"
        else _counted_work(operation, snapshot.jackets, pieces, lays)
        for operation in snapshot.operations
    )


@dataclass(frozen=True, slots=True)
class Learning:
    """Crawford factors by jacket code, and the standard minutes that they save over the run."""

    rate: Decimal
    factors: Mapping[str, Decimal]
    saved_minutes: Decimal


def learning_of(
    snapshot: RunSnapshot, works: Iterable[Work], batches: Iterable[Batch]
) -> Learning | None:
    """What is learnt when the batches are sewn one after the other, each blocking counted from its
    own first jacket: other blocks are other seams. None when it is off.

    Raises PlanError for a learning rate that cannot be.
    """
    rate = snapshot.workroom.learning_rate
    if rate is None:
        return None
    sewn: Counter[str] = Counter()
    factors = {}
    for jacket in (jacket for batch in batches for jacket in batch):
        sewn[jacket.blocking] += 1
        factors[jacket.code] = unit_factor(sewn[jacket.blocking], rate)
    saved = sum(
        (
            minutes * (1 - factors[jacket.code])
            for work in works
            if work.is_learnt
            for jacket, minutes in zip(snapshot.jackets, work.by_jacket(), strict=True)
        ),
        Decimal(0),
    )
    return Learning(rate, factors, saved)


def _counted_work(
    operation: OperationSpec,
    jackets: Sequence[JacketSpec],
    pieces: Sequence[CutPiece],
    lays: Sequence[Lay],
) -> Work:
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
        case "run":
            count, shares = 1, [Decimal(1)] * len(jackets)
        case _:
            raise PlanError(
                f"Operation {operation.code} is driven by {operation.driver!r}. "
                "Choose jacket, block, seam_metre, lay, ply, outline or run."
            )
    return Work(operation, count, cents(operation.minutes_each * count), shares)


def _seam_work(
    operation: OperationSpec,
    jackets: Sequence[JacketSpec],
    stretches: Mapping[Cut, Sequence[SeamStretch]],
) -> Work:
    runs: dict[Cut, int] = {}
    metres: dict[Cut, Decimal] = {}
    for cut, on_jacket in stretches.items():
        sewn = [stretch for stretch in on_jacket if sewn_by(operation, stretch)]
        runs[cut], metres[cut] = sum(stretch.runs for stretch in sewn), metres_of(sewn)
    cuts = [(jacket.blocking, jacket.size) for jacket in jackets]
    shares = [
        operation.minutes_each * runs[cut] + operation.minutes_per_metre * metres[cut]
        for cut in cuts
    ]
    return Work(
        operation,
        sum(runs[cut] for cut in cuts),
        cents(sum(shares, Decimal(0))),
        shares,
        sum((metres[cut] for cut in cuts), Decimal(0)),
    )


def metres_of(stretches: Iterable[SeamStretch]) -> Decimal:
    return sum((Decimal(str(stretch.length_mm)) for stretch in stretches), Decimal(0)) / 1000


def _jacket_minutes(
    snapshot: RunSnapshot,
    works: Iterable[Work],
    changeover_minutes: Decimal,
    learning: Learning | None,
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
        row = by_stage[work.operation.stage]
        factors = learning.factors if learning and work.is_learnt else {}
        for at, minutes in enumerate(work.by_jacket()):
            row[at] += minutes * factors.get(jackets[at].code, Decimal(1))
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
            found[jacket.code][stage] = cents(exact) - told
            told = cents(exact)
    return found
