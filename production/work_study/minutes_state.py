"""A run's minutes with where each comes from, as rows for its page."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import TYPE_CHECKING

from production.models import Run
from production.planning.explode import explode
from production.planning.minutes.changeovers import Batching, compare_batching, thread_batches
from production.planning.minutes.labor import LEARNT, STAGES, Work, learning_of, works_of
from production.planning.minutes.stage_times import Correction
from production.planning.minutes.time_study import standard_time_ilo
from production.planning.plan import Changeover, Plan
from production.planning.snapshot import JacketSpec, RunSnapshot, ThreadSpec
from production.services import load_plan, load_snapshot
from production.work_study.stage_minutes import stage_corrections
from production.work_study.taken_over import factor_since, taken_over

if TYPE_CHECKING:
    from production.planning.minutes.labor import Learning

ZERO = Decimal(0)
TIMES = {
    "jacket": "jackets",
    "block": "pieces cut",
    "lay": "lays",
    "ply": "lengths spread",
    "outline": "outlines cut round",
    "run": "run",
    "seam_metre": "stretches of sewing",
}


@dataclass(frozen=True, slots=True)
class OperationRow:
    """An operation over the run; `times` says what its count counts."""

    work: Work
    with_allowance: Decimal

    @property
    def times(self) -> str:
        return TIMES[self.work.operation.driver]


@dataclass(frozen=True, slots=True)
class StageRow:
    """A stage of the run: operations, changeovers and what is learnt, then all with allowance, and
    what it would really take by the corrections of this run and of all jackets."""

    stage: str
    operations: tuple[OperationRow, ...]
    changeover_minutes: Decimal
    learnt_minutes: Decimal
    standard_minutes: Decimal
    with_allowance: Decimal
    here: Correction | None
    everywhere: Correction | None

    @property
    def likely_minutes(self) -> Decimal | None:
        """By this run's own jackets where it has some that count, else by all."""
        for correction in (self.here, self.everywhere):
            if correction and correction.ratio is not None:
                return self.with_allowance * correction.ratio
        return None


@dataclass(frozen=True, slots=True)
class BatchRow:
    threads: tuple[ThreadSpec, ...]
    jackets: tuple[JacketSpec, ...]


@dataclass(frozen=True, slots=True)
class LearningRow:
    """What is learnt: of how many blockings, how many jackets the one sewn most often has, the
    share of the standard that its last one takes, and the mean of all `jackets`, to 0.1 %."""

    learning: Learning
    jackets: int
    blockings: int
    most: int
    last: Decimal
    mean: Decimal


@dataclass(frozen=True, slots=True)
class RunMinutes:
    plan: Plan
    stages: tuple[StageRow, ...]
    batching: Batching
    batches: tuple[BatchRow, ...]
    compared: tuple[tuple[Changeover, Changeover], ...]
    learning: LearningRow | None


def run_minutes(run: Run) -> RunMinutes:
    """Everything again from the frozen snapshot and the lays of the plan."""
    snapshot, plan = load_snapshot(run), load_plan(run)
    lays = [lay for ticket in plan.cut_tickets for lay in ticket.lays]
    works = works_of(snapshot, explode(snapshot), lays)
    batching = compare_batching(snapshot)
    learning = learning_of(snapshot, works, thread_batches(snapshot))
    here, everywhere = stage_corrections(run), _in_standards_of(run, stage_corrections())
    return RunMinutes(
        plan,
        tuple(
            _stage_row(stage, snapshot, works, batching, learning, here, everywhere)
            for stage in STAGES
        ),
        batching,
        _batch_rows(batching, snapshot),
        tuple(zip(batching.changeovers, batching.one_by_one, strict=True)),
        _learning_row(learning, snapshot),
    )


def _in_standards_of(run: Run, found: Mapping[str, Correction]) -> dict[str, Correction]:
    """Corrections of the standards of today as those of the standards that a run keeps."""
    taken = taken_over()
    return {
        stage: replace(own, ratio=own.ratio * factor_since(taken, stage, run.created_at))
        for stage, own in found.items()
        if own.ratio is not None
    }


def _stage_row(
    stage: str,
    snapshot: RunSnapshot,
    works: tuple[Work, ...],
    batching: Batching,
    learning: Learning | None,
    here: Mapping[str, Correction],
    everywhere: Mapping[str, Correction],
) -> StageRow:
    allowance = snapshot.workroom.relaxation_allowance
    own = [work for work in works if work.operation.stage == stage]
    standard = sum((work.minutes for work in own), ZERO)
    changeovers = batching.minutes if stage == LEARNT else ZERO
    learnt = learning.saved_minutes if learning and stage == LEARNT else ZERO
    return StageRow(
        stage,
        tuple(OperationRow(work, standard_time_ilo(work.minutes, allowance)) for work in own),
        changeovers,
        learnt,
        standard,
        standard_time_ilo(standard + changeovers - learnt, allowance),
        here.get(stage),
        everywhere.get(stage),
    )


def _batch_rows(batching: Batching, snapshot: RunSnapshot) -> tuple[BatchRow, ...]:
    threads = {thread.code: thread for thread in snapshot.threads}
    jackets = {jacket.code: jacket for jacket in snapshot.jackets}
    return tuple(
        BatchRow(
            tuple(threads[code] for code in batch.threads),
            tuple(jackets[code] for code in batch.jackets),
        )
        for batch in batching.batches
    )


def _learning_row(learning: Learning | None, snapshot: RunSnapshot) -> LearningRow | None:
    if learning is None:
        return None
    factors = list(learning.factors.values())
    mean = sum(factors, ZERO) / len(factors)
    sewn = Counter(jacket.blocking for jacket in snapshot.jackets)
    return LearningRow(
        learning,
        len(factors),
        len(sewn),
        max(sewn.values()),
        round(min(factors), 3),
        round(mean, 3),
    )
