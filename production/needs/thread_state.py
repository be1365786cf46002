"""The thread of a run with where each metre comes from, and samples beside both methods, as rows
for their pages."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace
from decimal import Decimal

import msgspec

from patterns.models import Fabric, Operation, ThreadSample
from patterns.services import workroom
from production.planning.snapshot import FabricSpec, OperationSpec, RunSnapshot, ThreadSpec
from production.planning.threads import thread_words
from production.planning.threads.thread import SeamThread, explained, spool_needs, thread_needs
from production.planning.threads.thread_spools import SpoolNeed
from production.planning.threads.thread_stitches import (
    Factor,
    Factors,
    factor_from_sample,
    factors_of,
)

ZERO = Decimal(0)
METHODS = {"formula": "formula", "ratio": "ratio table", "sample": "own sample"}


@dataclass(frozen=True, slots=True)
class Told:
    """The factors of one operation on one fabric, with both methods in words."""

    operation: OperationSpec
    fabric: FabricSpec
    factors: Factors

    @property
    def thickness_mm(self) -> Decimal:
        return self.operation.cloth_layers * self.fabric.compressed_thickness_mm

    @property
    def formula(self) -> str:
        return thread_words.formula_words(self.operation.stitch_type)

    @property
    def in_numbers(self) -> str:
        return thread_words.formula_in_numbers(self.operation, self.fabric)

    @property
    def other_version(self) -> str:
        return thread_words.other_version(self.operation, self.fabric)

    @property
    def sources(self) -> str:
        return thread_words.source_words(self.operation.stitch_type)

    @property
    def split(self) -> str:
        return thread_words.split_words(self.operation.stitch_type)

    @property
    def rows(self) -> tuple[tuple[str, Factor, str], ...]:
        """Each method that has a factor: in words, the factor, and its difference to the formula,
        to 0.1 %."""
        named = (self.factors.formula, self.factors.ratio, self.factors.sample)
        return tuple(
            (METHODS[one.method], one, _difference(one, self.factors.formula))
            for one in named
            if one
        )

    @property
    def method(self) -> str:
        return METHODS[self.factors.used.method]

    def falls_to_other(self, method: str) -> bool:
        """Whether the workroom's method lacks the stitch type, so that the other one counts."""
        return self.factors.used.method not in (method, "sample")


def _difference(one: Factor, formula: Factor | None) -> str:
    if formula is None or one is formula:
        return ""
    return f"{100 * (one.whole / formula.whole - 1):+.1f} %"


@dataclass(frozen=True, slots=True)
class UseRow:
    """What one operation takes of a thread color, on one fabric, seam by seam."""

    told: Told
    lines: tuple[SeamThread, ...]

    @property
    def needle_mm(self) -> Decimal:
        return sum((line.whole_needle_mm for line in self.lines), ZERO)

    @property
    def under_mm(self) -> Decimal:
        return sum((line.whole_under_mm for line in self.lines), ZERO)

    @property
    def whole_mm(self) -> Decimal:
        return self.needle_mm + self.under_mm


@dataclass(frozen=True, slots=True)
class ColorRow:
    """A thread color over the run; `need` has the metres that are planned, rounded up use by use,
    and the spools and cones that are to be there."""

    thread: ThreadSpec
    need: SpoolNeed
    uses: tuple[UseRow, ...]

    @property
    def needle_mm(self) -> Decimal:
        return sum((use.needle_mm for use in self.uses), ZERO)

    @property
    def under_mm(self) -> Decimal:
        return sum((use.under_mm for use in self.uses), ZERO)


def thread_of_run(snapshot: RunSnapshot) -> tuple[ColorRow, ...]:
    """Everything again from the frozen snapshot, thread colors by name."""
    threads = {thread.code: thread for thread in snapshot.threads}
    needs = {need.thread_color: need for need in spool_needs(snapshot, thread_needs(snapshot))}
    by_color: dict[str, list[SeamThread]] = defaultdict(list)
    for line in explained(snapshot):
        by_color[line.thread_color].append(line)
    rows = (ColorRow(threads[code], needs[code], _uses(by_color[code])) for code in needs)
    return tuple(sorted(rows, key=lambda row: row.thread.name))


def _uses(lines: Iterable[SeamThread]) -> tuple[UseRow, ...]:
    found: dict[tuple[str, str], list[SeamThread]] = defaultdict(list)
    for line in lines:
        found[line.operation.code, line.fabric.code].append(line)
    return tuple(
        UseRow(Told(some[0].operation, some[0].fabric, some[0].factors), tuple(some))
        for some in found.values()
    )


def told_of(operation: Operation, sample: ThreadSample | None) -> tuple[Told, ...]:
    """A sample, kept or not, beside both methods on every fabric of the workroom.

    Raises PlanError for an operation without a stitch length.
    """
    measured = replace(
        msgspec.convert(operation, OperationSpec, from_attributes=True),
        needle_factor=factor_from_sample(sample.needle_mm, sample.seam_mm) if sample else None,
        under_factor=factor_from_sample(sample.under_mm, sample.seam_mm) if sample else None,
    )
    method = workroom().thread_method
    fabrics = [
        msgspec.convert(row, FabricSpec, from_attributes=True) for row in Fabric.objects.all()
    ]
    return tuple(
        Told(measured, fabric, factors_of(measured, fabric.compressed_thickness_mm, method))
        for fabric in fabrics
    )
