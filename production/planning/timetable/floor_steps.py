"""A jacket's steps on the floor: from the operations of its run and the minutes of its stages."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import ROUND_HALF_UP, Decimal
from itertools import groupby

from production.planning.explode import (
    Cut,
    ShapeKey,
    sewn_by,
    shapes_by_key,
    sides_of,
    stretches_by_cut,
)
from production.planning.minutes.changeovers import (
    Sewing,
    count_changeovers,
    minutes_of,
    thread_batches,
)
from production.planning.minutes.labor import STAGES, metres_of
from production.planning.minutes.time_study import standard_time_ilo
from production.planning.snapshot import JacketSpec, OperationSpec, RunSnapshot, SeamStretch
from production.planning.timetable.floor import Step

CUT, SEW = "cut", "sew"


@dataclass(frozen=True, slots=True)
class Leg:
    """A stretch of a stage at one machine with one foot and one skill; `share` is its part of the
    stage's standard minutes. The parts of sewing add up to what its changes leave of them.
    `jacket_minutes`, with allowance, are those of them that do not depend on the cloth."""

    stage: str
    share: Decimal
    machine: str = ""
    skills: tuple[str, ...] = ()
    threads: tuple[str, ...] = ()
    setting: str = ""
    operations: tuple[str, ...] = ()
    jacket_minutes: Decimal = Decimal(0)


def legs_of_jackets(snapshots: Iterable[RunSnapshot]) -> dict[str, tuple[Leg, ...]]:
    """Legs by jacket code; of a jacket that several snapshots know, the last one counts, so that
    those of its changes follow that of the freeze."""
    found: dict[str, tuple[Leg, ...]] = {}
    for snapshot in snapshots:
        found.update(_Legs.of(snapshot).by_jacket())
    return found


def steps_from(
    stage: str,
    legs: Sequence[Leg],
    minutes: Mapping[str, Decimal],
    ratios: Mapping[str, Decimal] | None = None,
    cut_share: Decimal = Decimal(0),
) -> tuple[Step, ...]:
    """The steps of a jacket from a stage on: `minutes` are its standard minutes by stage, with
    allowance, `ratios` how much longer stages take in truth. The whole minutes of a stage's steps
    add up to its minutes, rounded. A stage after the last one of work has none.

    Of the share of its blocks that is cut already, only making up the bundle is left, and a minute
    at least, as the stage is not done.
    """
    if stage not in STAGES:
        return ()
    found: list[Step] = []
    for each in STAGES[STAGES.index(stage) :]:
        own = [leg for leg in legs if leg.stage == each]
        whole = minutes.get(each, Decimal(0))
        if each == CUT:
            kept = min(sum((leg.jacket_minutes for leg in own), Decimal(0)), whole)
            left = kept + (whole - kept) * (1 - cut_share)
            whole = min(whole, max(left, Decimal(1)))
        found += _steps(own, whole * (ratios or {}).get(each, Decimal(1)))
    return tuple(found)


def less_done(steps: Sequence[Step], stage: str, done: int) -> tuple[Step, ...]:
    """The steps that are left when so many minutes were worked on the stage in hand, in their
    order. Its last step keeps a minute, as the stage is not done."""
    last = max((at for at, step in enumerate(steps) if step.stage == stage), default=-1)
    left = []
    for at, step in enumerate(steps):
        off = min(done, step.minutes) if step.stage == stage else 0
        done -= off
        minutes = max(step.minutes - off, 1) if at == last else step.minutes - off
        if minutes or not off:
            left.append(replace(step, minutes=minutes))
    return tuple(left)


def _steps(legs: Sequence[Leg], minutes: Decimal) -> Iterator[Step]:
    """Whole minutes as steps of the rounded running total, so that nothing is lost over them."""
    exact, told = Decimal(0), 0
    if minutes <= 0:
        return
    for leg in legs:
        exact += minutes * leg.share
        upto = int(exact.quantize(Decimal(1), ROUND_HALF_UP))
        if upto == told:  # rounded to nothing: it would wait for somebody's next hour for nothing
            continue
        yield Step(
            leg.stage,
            upto - told,
            leg.machine,
            leg.skills,
            leg.threads,
            leg.setting,
            leg.operations,
        )
        told = upto


@dataclass(frozen=True, slots=True)
class _Legs:
    snapshot: RunSnapshot
    sewing: Sewing
    stretches: Mapping[Cut, tuple[SeamStretch, ...]]
    sides: Mapping[ShapeKey, int]
    change_minutes: Decimal

    @classmethod
    def of(cls, snapshot: RunSnapshot) -> _Legs:
        """`change_minutes` are what the plan gave each jacket for changes of thread and foot."""
        changes = count_changeovers(snapshot, thread_batches(snapshot))
        each = minutes_of(changes) / max(len(snapshot.jackets), 1)
        shapes = shapes_by_key(snapshot.shapes).items()
        return cls(
            snapshot,
            Sewing.of(snapshot),
            stretches_by_cut(snapshot),
            {key: len(sides_of(shape)) for key, shape in shapes},
            each,
        )

    def by_jacket(self) -> dict[str, tuple[Leg, ...]]:
        alike: dict[object, tuple[Leg, ...]] = {}
        found = {}
        for jacket in self.snapshot.jackets:
            key = (jacket.blocking, jacket.size, jacket.blocks, jacket.topstitch_thread)
            if key not in alike:
                alike[key] = tuple(self._legs(jacket))
            found[jacket.code] = alike[key]
        return found

    def _legs(self, jacket: JacketSpec) -> Iterator[Leg]:
        for stage in STAGES:
            if stage == SEW:
                yield from self._sewing(jacket)
            else:
                operations = [one for one in self.snapshot.operations if one.stage == stage]
                own = sum((o.minutes_each for o in operations if o.driver == "jacket"), Decimal(0))
                allowance = self.snapshot.workroom.relaxation_allowance
                leg = _leg(stage, Decimal(1), operations)
                yield replace(leg, jacket_minutes=standard_time_ilo(own, allowance))

    def _sewing(self, jacket: JacketSpec) -> Iterator[Leg]:
        works = [
            (one, self._minutes(one, jacket))
            for one in self.snapshot.operations
            if one.stage == SEW and self._works_on(one, jacket)
        ]
        whole = sum((minutes for _, minutes in works), Decimal(0)) + self.change_minutes
        if not any(minutes for _, minutes in works):
            yield _leg(SEW, Decimal(1), [one for one, _ in works])
            return
        for _, some in groupby(works, key=lambda work: _place(work[0])):
            part = list(some)
            operations = [one for one, _ in part]
            share = sum((minutes for _, minutes in part), Decimal(0)) / whole
            leg = _leg(SEW, share, operations)
            yield replace(
                leg,
                machine=operations[0].machine,
                setting=operations[0].foot,
                threads=self._threads(operations, jacket),
            )

    def _works_on(self, operation: OperationSpec, jacket: JacketSpec) -> bool:
        if operation.machine:
            return self.sewing.works_on(operation, jacket)
        return bool(self._minutes(operation, jacket))

    def _minutes(self, operation: OperationSpec, jacket: JacketSpec) -> Decimal:
        """Minutes before the allowance; work that counts lays or plies is none of one jacket."""
        each = operation.minutes_each
        match operation.driver:
            case "seam_metre":
                on_jacket = self.stretches[jacket.blocking, jacket.size]
                sewn = [stretch for stretch in on_jacket if sewn_by(operation, stretch)]
                runs = sum(stretch.runs for stretch in sewn)
                return each * runs + operation.minutes_per_metre * metres_of(sewn)
            case "jacket":
                return each
            case "block":
                return each * sum(self.sides[block, jacket.size] for block, _ in jacket.blocks)
            case "run":
                return each / len(self.snapshot.jackets)
        return Decimal(0)

    def _threads(self, operations: Iterable[OperationSpec], jacket: JacketSpec) -> tuple[str, ...]:
        """Thread colors in the order in which they are first needed."""
        return tuple(
            dict.fromkeys(
                thread
                for one in operations
                if one.machine
                for thread in sorted(self.sewing.threads(one, [jacket]))
            )
        )


def _leg(stage: str, share: Decimal, operations: Collection[OperationSpec]) -> Leg:
    skills = sorted({one.skill for one in operations if one.skill})
    return Leg(stage, share, skills=tuple(skills), operations=tuple(one.code for one in operations))


def _place(operation: OperationSpec) -> tuple[str, str, str]:
    return operation.machine, operation.foot, operation.skill
