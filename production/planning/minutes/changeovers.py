"""Changes of thread color, presser foot and stitch length, counted from the order of work, and what
it saves to sew jackets of the same thread colors together."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from decimal import ROUND_HALF_UP, Decimal

from production.planning.explode import Cut, sewn_by, stretches_by_cut
from production.planning.plan import Changeover
from production.planning.snapshot import (
    FabricColorSpec,
    JacketSpec,
    OperationSpec,
    RunSnapshot,
    SeamStretch,
    WorkroomSpec,
)
from production.planning.threads.thread import spools_at_once, thread_of

CENT = Decimal("0.01")
THREAD_COLOR, PRESSER_FOOT, STITCH_LENGTH = "thread color", "presser foot", "stitch length"

Batch = tuple[JacketSpec, ...]
#: Cut, blocks with their colors, topstitch thread: jackets alike in these are sewn alike.
_Alike = tuple[Cut, tuple[tuple[str, str], ...], str | None]


@dataclass(frozen=True, slots=True)
class ThreadBatch:
    """Jackets sewn one after the other in the same thread colors, by their codes."""

    threads: tuple[str, ...]
    jackets: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Batching:
    """The batches that plans assume with their changeovers, beside sewing jacket by jacket in the
    order of codes; minutes without allowance. Below zero, batching saves nothing."""

    batches: tuple[ThreadBatch, ...]
    changeovers: tuple[Changeover, ...]
    one_by_one: tuple[Changeover, ...]

    @property
    def minutes(self) -> Decimal:
        return minutes_of(self.changeovers)

    @property
    def one_by_one_minutes(self) -> Decimal:
        return minutes_of(self.one_by_one)

    @property
    def saved_minutes(self) -> Decimal:
        return self.one_by_one_minutes - self.minutes


def minutes_of(changeovers: Iterable[Changeover]) -> Decimal:
    return sum((changeover.minutes for changeover in changeovers), Decimal(0))


def compare_batching(snapshot: RunSnapshot) -> Batching:
    sewing = Sewing.of(snapshot)
    batches = thread_batches(snapshot)
    by_code = sorted(snapshot.jackets, key=lambda jacket: jacket.code)
    return Batching(
        tuple(
            ThreadBatch(sewing.threads_of_jacket(batch[0]), tuple(j.code for j in batch))
            for batch in batches
        ),
        count_changeovers(snapshot, batches),
        count_changeovers(snapshot, [(jacket,) for jacket in by_code]),
    )


def thread_batches(snapshot: RunSnapshot) -> tuple[Batch, ...]:
    """The order of work that plans assume: jackets sewn in the same thread colors together, batches
    in the order of their colors so that neighbors share some."""
    sewing = Sewing.of(snapshot)
    batches: dict[tuple[str, ...], list[JacketSpec]] = defaultdict(list)
    for jacket in snapshot.jackets:
        batches[sewing.threads_of_jacket(jacket)].append(jacket)
    return tuple(tuple(batches[key]) for key in sorted(batches))


def count_changeovers(snapshot: RunSnapshot, batches: Iterable[Batch]) -> tuple[Changeover, ...]:
    """Changes of thread color, presser foot and stitch length when the batches are sewn one after
    the other, each through the sewing operations in their order.

    Every machine is found threaded, footed and set for its first work. Within an operation on a
    batch the color that is on the machine is sewn first, and each further color is one change.
    """
    sewing = Sewing.of(snapshot)
    thread_on: dict[str, str] = {}
    foot_on: dict[str, str] = {}
    length_on: dict[str, Decimal] = {}
    thread_count = foot_count = length_count = 0
    thread_minutes = Decimal(0)
    for batch in batches:
        for operation in sewing.operations:
            if not any(sewing.works_on(operation, jacket) for jacket in batch):
                continue
            machine = operation.machine
            if operation.foot:
                foot_count += foot_on.get(machine, operation.foot) != operation.foot
                foot_on[machine] = operation.foot
            if length := operation.stitch_length_mm:
                length_count += length_on.get(machine, length) != length
                length_on[machine] = length
            needed = sewing.threads(operation, batch)
            if needed:
                on = thread_on.setdefault(machine, min(needed))
                changes = len(needed - {on})
                thread_count += changes
                thread_minutes += changes * _thread_change_minutes(operation, snapshot.workroom)
                thread_on[machine] = max(needed - {on}, default=on)
    room = snapshot.workroom
    return (
        Changeover(THREAD_COLOR, thread_count, cents(thread_minutes)),
        Changeover(PRESSER_FOOT, foot_count, cents(foot_count * room.foot_change_minutes)),
        Changeover(STITCH_LENGTH, length_count, cents(length_count * room.stitch_change_minutes)),
    )


def _thread_change_minutes(operation: OperationSpec, room: WorkroomSpec) -> Decimal:
    further = spools_at_once(operation) - 1
    return room.thread_change_minutes + further * room.further_spool_minutes


def cents(minutes: Decimal) -> Decimal:
    return minutes.quantize(CENT, ROUND_HALF_UP)


@dataclass(frozen=True, slots=True)
class Sewing:
    """The sewing operations on machines, and the stretches each sews, by blocking and size."""

    operations: tuple[OperationSpec, ...]
    stretches: Mapping[tuple[str, Cut], tuple[SeamStretch, ...]]
    colors: Mapping[str, FabricColorSpec]
    known: dict[tuple[str, _Alike], frozenset[str]] = field(default_factory=dict)

    @classmethod
    def of(cls, snapshot: RunSnapshot) -> Sewing:
        operations = tuple(op for op in snapshot.operations if op.stage == "sew" and op.machine)
        stretches = {
            (op.code, cut): tuple(stretch for stretch in on_jacket if sewn_by(op, stretch))
            for cut, on_jacket in stretches_by_cut(snapshot).items()
            for op in operations
        }
        return cls(operations, stretches, {color.code: color for color in snapshot.fabric_colors})

    def works_on(self, operation: OperationSpec, jacket: JacketSpec) -> bool:
        if operation.driver != "seam_metre":
            return True
        return bool(self.stretches[operation.code, (jacket.blocking, jacket.size)])

    def threads(self, operation: OperationSpec, jackets: Iterable[JacketSpec]) -> frozenset[str]:
        """Needle threads of an operation; none for work that is not a seam."""
        if not operation.stitch_type:
            return frozenset()
        return frozenset[str]().union(*(self._threads(operation, jacket) for jacket in jackets))

    def _threads(self, operation: OperationSpec, jacket: JacketSpec) -> frozenset[str]:
        cut = (jacket.blocking, jacket.size)
        key = (operation.code, (cut, jacket.blocks, jacket.topstitch_thread))
        if key not in self.known:
            self.known[key] = frozenset(
                thread_of(operation, jacket, stretch, self.colors)
                for stretch in self.stretches[operation.code, cut]
            )
        return self.known[key]

    def threads_of_jacket(self, jacket: JacketSpec) -> tuple[str, ...]:
        found = {thread for op in self.operations for thread in self.threads(op, [jacket])}
        return tuple(sorted(found))
