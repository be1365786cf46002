"""What the page of a jacket shows for the stage at which it stands."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from patterns.models import FabricColor
from production.models import CheckPoint, Inspection, Jacket, JacketBlock, StageEvent
from production.planning.inspecting.inspection import Lot
from production.stages import lots
from production.stages.check_points import asked_points
from production.stages.inspections import LOOKED_OVER_AT
from production.stages.stage_forms import FaultForm
from production.stages.table import How, blocks_by_jacket


@dataclass(frozen=True, slots=True)
class TableRow:
    """A block of the jacket and how it stands; `pieces` is 2 for one with a left and a right."""

    block: str
    name: str
    color: FabricColor
    pieces: int
    how: How


@dataclass(frozen=True, slots=True)
class Table:
    rows: tuple[TableRow, ...]

    @property
    def missing(self) -> list[TableRow]:
        return [row for row in self.rows if row.how == How.MISSING]

    @property
    def spoiled(self) -> list[TableRow]:
        return [row for row in self.rows if row.how == How.SPOILED]

    @property
    def lying(self) -> list[TableRow]:
        return [row for row in self.rows if row.how.lies]


def table_of(jacket: Jacket, blocks: Sequence[JacketBlock], names: Mapping[str, str]) -> Table:
    """`blocks` come with the color of their ticket."""
    standing = blocks_by_jacket([jacket])[jacket.pk]
    return Table(
        tuple(
            TableRow(
                row.block,
                names.get(row.block, row.block),
                row.line.ticket.fabric_color,
                1 if row.line.single else 2,
                standing[row.block],
            )
            for row in blocks
        )
    )


@dataclass(frozen=True, slots=True)
class LookOver:
    """How the looking over of a jacket stands: whether it is asked for, by which lot where a sample
    is taken, and the look that counts."""

    points: tuple[CheckPoint, ...]
    is_asked: bool
    lot: Lot | None
    passed: Inspection | None
    form: FaultForm

    @property
    def is_open(self) -> bool:
        return self.is_asked and self.passed is None


def look_over_of(jacket: Jacket, events: Sequence[StageEvent]) -> LookOver | None:
    """None at a stage where a jacket is not looked over."""
    if jacket.cancelled_at or jacket.stage not in LOOKED_OVER_AT or not events:
        return None
    points = tuple(asked_points())
    asked, lot = lots.asked_with_lot(jacket)
    form = FaultForm(points=points, stage=jacket.stage, initial={"seen": events[-1].pk})
    return LookOver(points, asked, lot, lots.passed_since(jacket, events), form)
