"""What the time-study pages read: readings with what they say, and what one jacket takes."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

import msgspec

from patterns.models import Operation
from production.models import Jacket, Reading, TimeStudy
from production.planning.explode import sewn_by
from production.planning.minutes.labor import metres_of
from production.planning.minutes.time_study import Minutes, Study, Timed, study
from production.planning.snapshot import OperationSpec, SeamStretch

METHOD_WORDS = {
    "count": "all basic minutes over all that was done in them",
    "factor": "both parts of the present standard times basic minutes over standard minutes",
    "split": "least squares: so many minutes each time and so many per metre fit the readings best",
}


@dataclass(frozen=True, slots=True)
class ReadingRow:
    """A reading with its basic minutes, the share of the present standard that they are, and
    whether it is odd among those that count."""

    reading: Reading
    basic_minutes: Decimal
    share: Decimal
    is_odd: bool


@dataclass(frozen=True, slots=True)
class Evaluated:
    rows: tuple[ReadingRow, ...]
    present: Minutes
    study: Study

    @property
    def method_words(self) -> str:
        return METHOD_WORDS[self.study.proposal.method] if self.study.proposal else ""


def evaluated(row: TimeStudy) -> Evaluated:
    """A study's readings, oldest first, against the present standard of its operation."""
    readings = list(row.readings.all())
    timed = [Timed(r.seconds, r.rating, r.count, r.metres) for r in readings]
    operation = Operation.objects.get(pk=row.operation_id)
    present = Minutes(operation.minutes_each, operation.minutes_per_metre)
    found = study(present, timed, [reading.is_left_out for reading in readings])
    rows = tuple(
        ReadingRow(
            reading,
            watched.basic_minutes,
            share,
            not reading.is_left_out and found.is_odd(share),
        )
        for reading, watched, share in zip(readings, timed, found.shares, strict=True)
    )
    return Evaluated(rows, present, found)


def on_one_jacket(operation: Operation, jacket: Jacket) -> tuple[int, Decimal]:
    """How many stretches of sewing and how many metres of seam an operation has on a jacket, as it
    was frozen or last changed; (0, 0) where it sews nothing."""
    spec = OperationSpec(
        operation.code,
        operation.name,
        operation.stage,
        operation.driver,
        covers=operation.covers,
        seam=operation.seam,
    )
    stretches = [stretch for stretch in _seams_of(jacket) if sewn_by(spec, stretch)]
    return sum(stretch.runs for stretch in stretches), metres_of(stretches)


def _seams_of(jacket: Jacket) -> Iterable[SeamStretch]:
    changes = jacket.run.supplements.exclude(snapshot=None).order_by("-number")
    for snapshot in [*changes.values_list("snapshot", flat=True), jacket.run.snapshot]:
        for spec in snapshot["jackets"]:
            if spec["code"] == jacket.code:
                return _seams_in(snapshot, spec["blocking"], spec["size"])
    return ()


def _seams_in(snapshot: Mapping[str, Any], blocking: str, size: str) -> tuple[SeamStretch, ...]:
    seams = [
        seam for seam in snapshot["seams"] if (seam["blocking"], seam["size"]) == (blocking, size)
    ]
    return msgspec.convert(seams, tuple[SeamStretch, ...])
