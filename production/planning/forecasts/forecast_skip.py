"""What leaving out the contrast topstitching would save of each jacket."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from decimal import ROUND_HALF_UP, Decimal

from production.planning.forecasts.forecast_helps import Skipped
from production.planning.minutes.labor import works_of
from production.planning.minutes.time_study import standard_time_ilo
from production.planning.snapshot import OperationSpec, RunSnapshot
from production.planning.timetable.floor import FloorJacket

#: Seams that hold without it; hems and cuffs in contrast thread are more than looks.
TOPSTITCHED = "topstitched"


@dataclass(frozen=True, slots=True)
class Topstitching:
    """`minutes` with allowance by operation and jacket, of the jackets topstitched in a thread of
    its own color, which `threads` names; `in_contrast` are all operations sewn in that thread."""

    minutes: dict[str, dict[str, int]] = field(default_factory=dict)
    threads: dict[str, str] = field(default_factory=dict)
    in_contrast: set[str] = field(default_factory=set)


def topstitching(snapshots: Iterable[RunSnapshot]) -> Topstitching:
    """Of a jacket that several snapshots know the last one counts. What is learnt over a run is
    left out."""
    found = Topstitching()
    for snapshot in snapshots:
        found.in_contrast.update(one.code for one in snapshot.operations if one.contrast_thread)
        for jacket in snapshot.jackets:
            found.threads.pop(jacket.code, None)
            if jacket.topstitch_thread:
                found.threads[jacket.code] = jacket.topstitch_thread
        for work in works_of(snapshot, (), ()):
            if _is_topstitching(work.operation):
                own = found.minutes.setdefault(work.operation.code, {})
                for jacket, standard in zip(snapshot.jackets, work.by_jacket(), strict=True):
                    own[jacket.code] = _with_allowance(standard, snapshot)
    return found


def _is_topstitching(operation: OperationSpec) -> bool:
    return operation.contrast_thread and operation.covers == TOPSTITCHED


def _with_allowance(standard: Decimal, snapshot: RunSnapshot) -> int:
    minutes = standard_time_ilo(standard, snapshot.workroom.relaxation_allowance)
    return int(minutes.quantize(Decimal(1), ROUND_HALF_UP))


def left_out(found: Topstitching, jackets: Iterable[FloorJacket]) -> Skipped | None:
    """The one operation that saves most on the jackets that it is still to come on. None where
    nothing is saved."""
    listed = list(jackets)
    all_skipped = [_skipped(found, operation, listed) for operation in found.minutes]
    best = max(all_skipped, key=lambda one: sum(one.minutes.values()), default=None)
    return best if best and best.minutes else None


def _skipped(found: Topstitching, operation: str, jackets: Iterable[FloorJacket]) -> Skipped:
    minutes, threads = {}, {}
    for jacket in jackets:
        saved = found.minutes[operation].get(jacket.code, 0)
        of_it = [step for step in jacket.steps if operation in step.operations]
        if not (saved and of_it and jacket.code in found.threads):
            continue
        minutes[jacket.code] = saved
        others = {code for step in of_it for code in step.operations} - {operation}
        if not others & found.in_contrast:
            threads[jacket.code] = found.threads[jacket.code]
    count = f"{len(minutes)} jacket{'' if len(minutes) == 1 else 's'}"
    words = f"Leave the contrast topstitching out on {count}, if the club agrees."
    return Skipped(operation, words, minutes, threads)
