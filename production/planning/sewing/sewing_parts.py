"""What stands on the operation sheet of a jacket.

Lengths are mm of seam in one row, minutes are standard minutes without allowance.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from production.planning.sewing.sewing_words import stitch_name
from production.planning.snapshot import (
    ElasticSpec,
    FabricColorSpec,
    JacketSpec,
    NotionSpec,
    OperationSpec,
    OrderSpec,
    SizeSpec,
    ThreadSpec,
)
from production.planning.supplies.materials import ZipperChoice

Colored = tuple[FabricColorSpec, tuple[str, ...]]


@dataclass(frozen=True, slots=True)
class ThreadStretch:
    """The part of a seam that is sewn in one thread, along the blocks of these names;
    `is_change` where another thread is on the machine before it."""

    thread: ThreadSpec
    blocks: tuple[str, ...]
    length_mm: Decimal
    is_change: bool = False


@dataclass(frozen=True, slots=True)
class SeamWork:
    """A seam in one operation. `joins` pairs the names of the blocks that meet along it; a hem and
    a zipper have nothing on their other side. `runs` are stretches of sewing. `waits_for` names the
    operation that sews the seam together, where that comes later."""

    seam: str
    name: str
    joins: tuple[tuple[str, tuple[str, ...]], ...]
    length_mm: Decimal
    runs: int
    allowance_mm: int
    topstitched: bool
    makes_up_piece: bool
    threads: tuple[ThreadStretch, ...]
    notions: tuple[NotionCut, ...] = ()
    waits_for: str = ""


@dataclass(frozen=True, slots=True)
class NotionCut:
    """How much of a notion of the workroom's own one jacket takes, in its unit."""

    notion: NotionSpec
    quantity: Decimal


@dataclass(frozen=True, slots=True)
class ElasticCut:
    """The elastic of a place: `pieces` lengths, each cut to `length_mm`."""

    elastic: ElasticSpec
    pieces: int
    length_mm: int


@dataclass(frozen=True, slots=True)
class WorkStep:
    """One operation on the jacket. `minutes` is None for work that is counted by lay or ply."""

    number: int
    operation: OperationSpec
    seams: tuple[SeamWork, ...]
    minutes: Decimal | None
    is_first_at_machine: bool = False
    changes_foot: bool = False
    changes_stitch_length: bool = False
    zipper: ZipperChoice | None = None
    elastics: tuple[ElasticCut, ...] = ()

    @property
    def stitch(self) -> str:
        return stitch_name(self.operation.stitch_type)

    @property
    def length_mm(self) -> Decimal:
        return sum((seam.length_mm for seam in self.seams), Decimal(0))

    @property
    def allowance_mm(self) -> int | None:
        """That of all seams sewn together here, None where they differ or there are none."""
        found = {seam.allowance_mm for seam in self.seams}
        return found.pop() if len(found) == 1 and not self.is_topstitching else None

    @property
    def is_topstitching(self) -> bool:
        return self.operation.covers == "topstitched"

    @property
    def threads(self) -> tuple[ThreadSpec, ...]:
        """In the order in which they are needed."""
        return tuple(dict.fromkeys(part.thread for seam in self.seams for part in seam.threads))

    @property
    def thread_changes(self) -> int:
        return sum(part.is_change for seam in self.seams for part in seam.threads)


@dataclass(frozen=True, slots=True)
class Placket:
    """The blocks of the placket with their colors; `inside` is the side that shows when the jacket
    is open."""

    outside: Colored | None
    inside: Colored | None


@dataclass(frozen=True, slots=True)
class SewingSheet:
    """Everything that is needed at the machine for one jacket. `colors` are the fabric colors with
    the names of their blocks."""

    jacket: JacketSpec
    order: OrderSpec
    size: SizeSpec
    blocking: str
    colors: tuple[Colored, ...]
    placket: Placket | None
    zipper: ZipperChoice
    elastics: tuple[ElasticCut, ...]
    notions: tuple[NotionCut, ...]
    steps: tuple[WorkStep, ...]
    cautions: tuple[str, ...]
    unit: str

    @property
    def minutes(self) -> Decimal:
        return sum((step.minutes for step in self.steps if step.minutes), Decimal(0))

    @property
    def threads(self) -> tuple[ThreadSpec, ...]:
        return tuple(dict.fromkeys(thread for step in self.steps for thread in step.threads))

    @property
    def thread_changes(self) -> int:
        return sum(step.thread_changes for step in self.steps)
