"""The steps of the operation sheet: each sewing operation of a jacket with its seams, their threads
and what is changed on the machine."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal

from production.planning.explode import sewn_by
from production.planning.sewing.sewing_jacket import JacketParts, length_of, one_of
from production.planning.sewing.sewing_order import made_up_piece
from production.planning.sewing.sewing_parts import NotionCut, SeamWork, ThreadStretch, WorkStep
from production.planning.snapshot import OperationSpec, SeamStretch
from production.planning.supplies.materials import ELASTICS_PER_JACKET
from production.planning.threads.thread_colors import thread_of

SEW = "sew"


def steps_of(parts: JacketParts) -> Iterator[WorkStep]:
    """The sewing operations that have something to do on the jacket, in the order of work."""
    yield from _threaded(tuple(_steps(parts)))


def _steps(parts: JacketParts) -> Iterator[WorkStep]:
    """Without what thread is on the machine before each seam."""
    machines, told = _Machines(), set[str]()
    operations = [one for one in parts.snapshot.operations if one.stage == SEW]
    elastic_at = _elastic_operations(operations)
    number = 0
    for operation in operations:
        sewn = parts.sewn_in(operation)
        if operation.driver == "seam_metre" and not sewn:
            continue
        number += 1
        step = machines.set_up(WorkStep(number, operation, (), _minutes(parts, operation, sewn)))
        yield replace(
            step,
            seams=tuple(
                _with_notions(work, parts.notions, told)
                for work in (
                    replace(
                        _seam_work(parts, operation, some),
                        waits_for=_waits_for(operation, some, operations),
                    )
                    for some in sewn.values()
                )
            ),
            zipper=parts.zipper if _sews_zipper(operation, sewn) else None,
            elastics=tuple(
                cut for cut in parts.elastics if operation.code in elastic_at[cut.elastic.place]
            ),
        )


@dataclass(slots=True)
class _Machines:
    """How each machine is set while the jacket goes through its operations."""

    used: set[str] = field(default_factory=set)
    foot: dict[str, str] = field(default_factory=dict)
    stitch_length: dict[str, Decimal] = field(default_factory=dict)

    def set_up(self, step: WorkStep) -> WorkStep:
        operation = step.operation
        machine, foot, length = operation.machine, operation.foot, operation.stitch_length_mm
        if not machine:
            return step
        is_first = machine not in self.used
        self.used.add(machine)
        changes_foot = bool(foot) and self.foot.get(machine, foot) != foot
        changes_length = bool(length) and self.stitch_length.get(machine, length) != length
        if foot:
            self.foot[machine] = foot
        if length:
            self.stitch_length[machine] = length
        return replace(
            step,
            is_first_at_machine=is_first,
            changes_foot=changes_foot,
            changes_stitch_length=changes_length,
        )


def _threaded(steps: Sequence[WorkStep]) -> Iterator[WorkStep]:
    """With the changes of thread in the order of sewing: a seam that waits for a later step is sewn
    when that is done."""
    on_machine: dict[str, str] = {}
    threads: dict[tuple[int, str], tuple[ThreadStretch, ...]] = {}
    for at, step in enumerate(steps):
        here = [(step, work) for work in step.seams if not work.waits_for]
        waited = [
            (earlier, work)
            for earlier in steps[:at]
            for work in earlier.seams
            if work.waits_for == step.operation.name
        ]
        for sewn_in, work in (*here, *waited):
            machine = sewn_in.operation.machine
            threads[sewn_in.number, work.seam] = tuple(_changes(work, machine, on_machine))
    for step in steps:
        seams = (replace(work, threads=threads[step.number, work.seam]) for work in step.seams)
        yield replace(step, seams=tuple(seams))


def _changes(work: SeamWork, machine: str, on_machine: dict[str, str]) -> Iterator[ThreadStretch]:
    """The stretches of a seam, that in the thread on the machine first."""
    on = on_machine.get(machine)
    for part in sorted(work.threads, key=lambda part: part.thread.code != on):
        known = on_machine.get(machine)
        yield replace(part, is_change=known is not None and known != part.thread.code)
        on_machine[machine] = part.thread.code


def _sews_zipper(operation: OperationSpec, sewn: Mapping[str, Sequence[SeamStretch]]) -> bool:
    stretches = (one for some in sewn.values() for one in some)
    return operation.covers != "topstitched" and any(one.kind == "zipper" for one in stretches)


def _elastic_operations(operations: Sequence[OperationSpec]) -> dict[str, set[str]]:
    """In which operations the elastic of each place goes in: those that name it, or else those
    that sew the place."""
    named = {one.code for one in operations if "elastic" in f"{one.code} {one.name}".lower()}
    return {
        place: named or {one.code for one in operations if one.covers == place}
        for place in ELASTICS_PER_JACKET
    }


def _seam_work(
    parts: JacketParts,
    operation: OperationSpec,
    stretches: Sequence[SeamStretch],
) -> SeamWork:
    first, room = stretches[0], parts.snapshot.workroom
    threads = _by_thread(parts, operation, stretches) if operation.stitch_type else ()
    return SeamWork(
        seam=first.seam,
        name=first.name,
        joins=tuple(
            (parts.name(one.block), tuple(parts.name(block) for block in one.against))
            for one in stretches
        ),
        length_mm=length_of(stretches),
        runs=sum(one.runs for one in stretches),
        allowance_mm=room.hem_allowance_mm if first.kind == "hem" else room.seam_allowance_mm,
        topstitched=any(one.topstitched for one in stretches),
        makes_up_piece=made_up_piece(stretches, parts.pieces) is not None,
        threads=tuple(threads),
    )


def _by_thread(
    parts: JacketParts, operation: OperationSpec, stretches: Sequence[SeamStretch]
) -> Iterator[ThreadStretch]:
    colors = {color.code: color for color in parts.snapshot.fabric_colors}
    found: dict[str, list[SeamStretch]] = {}
    for stretch in stretches:
        thread = thread_of(operation, parts.jacket, stretch, colors)
        found.setdefault(thread, []).append(stretch)
    for code, some in found.items():
        yield ThreadStretch(
            one_of(parts.snapshot.threads, code, "thread"),
            tuple(parts.name(one.block) for one in some),
            length_of(some),
        )


def _with_notions(work: SeamWork, notions: Iterable[NotionCut], told: set[str]) -> SeamWork:
    """With the notions along the seam, told where it is first sewn together."""
    if work.waits_for or work.seam in told:
        return work
    told.add(work.seam)
    return replace(work, notions=tuple(cut for cut in notions if cut.notion.seam == work.seam))


def _waits_for(
    operation: OperationSpec, stretches: Sequence[SeamStretch], operations: Sequence[OperationSpec]
) -> str:
    """The name of the later operation that first sews a topstitched seam together, or nothing."""
    if operation.covers != "topstitched":
        return ""
    sewing = [
        one
        for one in operations
        if one.covers != "topstitched" and any(sewn_by(one, part) for part in stretches)
    ]
    if not sewing or operations.index(sewing[0]) < operations.index(operation):
        return ""
    return sewing[0].name


def _minutes(
    parts: JacketParts, operation: OperationSpec, sewn: Mapping[str, Sequence[SeamStretch]]
) -> Decimal | None:
    """Standard minutes on this jacket, its equal share for work that is done once for the run."""
    each = operation.minutes_each
    match operation.driver:
        case "seam_metre":
            stretches = [one for some in sewn.values() for one in some]
            runs = sum(one.runs for one in stretches)
            return each * runs + operation.minutes_per_metre * length_of(stretches) / 1000
        case "jacket":
            return each
        case "block":
            return each * parts.cut_pieces
        case "run":
            return each / len(parts.snapshot.jackets)
    return None
