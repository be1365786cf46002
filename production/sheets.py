"""A plan as rows for the pages: needs by material, work by stage, a ticket's matrix and lays."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from production.cutting.lay_svg import Outlines, lay_svg, outlines_of
from production.planning.cutting.lays import spread_count
from production.planning.plan import (
    CutTicket,
    Lay,
    OperationNeed,
    Plan,
    ThreadNeed,
    TicketLine,
)
from production.planning.snapshot import (
    FabricColorSpec,
    FabricSpec,
    OperationSpec,
    RunSnapshot,
    ThreadSpec,
)
from production.planning.standing import STAGES
from production.planning.supplies.materials import zipper_choice
from production.planning.threads.thread import SpoolNeed, spool_needs

ZERO = Decimal(0)


@dataclass(frozen=True, slots=True)
class FabricRow:
    ticket: CutTicket
    color: FabricColorSpec
    fabric: FabricSpec


@dataclass(frozen=True, slots=True)
class ThreadRow:
    """A thread color as it is bought, and what it is needed for: each operation by its name."""

    thread: ThreadSpec
    need: SpoolNeed
    uses: tuple[tuple[str, ThreadNeed], ...]


@dataclass(frozen=True, slots=True)
class NotionPart:
    """How much of a notion goes to a size; `shorten_mm` is taken off each zipper."""

    size: str
    quantity: Decimal
    shorten_mm: int = 0


@dataclass(frozen=True, slots=True)
class NotionRow:
    """A notion as it is bought, over all sizes; `sizes` says how much of it goes to which."""

    item: str
    color: str
    unit: str
    sizes: tuple[NotionPart, ...]

    @property
    def quantity(self) -> Decimal:
        return sum((part.quantity for part in self.sizes), ZERO)

    @property
    def is_length(self) -> bool:
        return self.unit == "m"

    @property
    def length_mm(self) -> Decimal:
        return self.quantity * 1000


@dataclass(frozen=True, slots=True)
class StageWork:
    """The operations of a stage with their names, and their standard minutes together."""

    stage: str
    operations: tuple[tuple[str, OperationNeed], ...]
    minutes: Decimal


@dataclass(frozen=True, slots=True)
class DrawnLay:
    """A lay with its drawing; `saved_mm` is what it saves against rows of bounding boxes."""

    lay: Lay
    svg: str
    blocks: int
    efficiency_percent: int
    saved_mm: float

    @property
    def mode_words(self) -> str:
        return self.lay.mode.replace("_", " ")


@dataclass(frozen=True, slots=True)
class Matrix:
    """A ticket's blocks by size; a cell is None where nothing is cut."""

    sizes: tuple[str, ...]
    rows: tuple[tuple[str, str, tuple[TicketLine | None, ...]], ...]
    pieces: int


def fabric_row(ticket: CutTicket, snapshot: RunSnapshot) -> FabricRow:
    color = next(spec for spec in snapshot.fabric_colors if spec.code == ticket.fabric_color)
    fabric = next(spec for spec in snapshot.fabrics if spec.code == ticket.fabric)
    return FabricRow(ticket, color, fabric)


def thread_rows(plan: Plan, snapshot: RunSnapshot) -> tuple[ThreadRow, ...]:
    threads = {thread.code: thread for thread in snapshot.threads}
    names = _operation_names(snapshot.operations)
    return tuple(
        ThreadRow(
            threads[spools.thread_color],
            spools,
            tuple(
                (names[need.use], need)
                for need in plan.threads
                if need.thread_color == spools.thread_color
            ),
        )
        for spools in spool_needs(snapshot, plan.threads)
    )


def notion_rows(plan: Plan, snapshot: RunSnapshot) -> tuple[NotionRow, ...]:
    colors = {zipper.color_code: zipper.color_name for zipper in snapshot.zippers}
    known_sizes = {size.code: size for size in snapshot.sizes}
    parts: dict[tuple[str, str, str], list[NotionPart]] = {}
    for need in plan.notions:
        what = (need.item, colors.get(need.color, need.color), need.unit)
        # Of all notions only zippers have a color.
        shorten_mm = (
            zipper_choice(snapshot, known_sizes[need.size], need.color).shorten_mm
            if need.color
            else 0
        )
        parts.setdefault(what, []).append(NotionPart(need.size, need.quantity, shorten_mm))
    return tuple(NotionRow(*what, tuple(some)) for what, some in parts.items())


def work_by_stage(plan: Plan, snapshot: RunSnapshot) -> tuple[StageWork, ...]:
    names = _operation_names(snapshot.operations)
    return tuple(
        StageWork(
            stage,
            tuple((names[need.operation], need) for need in needs),
            sum((need.standard_minutes for need in needs), ZERO),
        )
        for stage in STAGES
        if (needs := [need for need in plan.labor.operations if need.stage == stage])
    )


def cost_lines(plan: Plan) -> tuple[tuple[str, Decimal], ...]:
    costs = plan.costs
    return (
        ("Fabric", costs.fabric),
        ("Thread", costs.thread),
        ("Notions", costs.notions),
        ("Labor", costs.labor),
        ("Overhead", costs.overhead),
        ("Waste", costs.waste),
        ("Total", costs.total),
        ("Per jacket", costs.per_jacket),
    )


def matrix(ticket: CutTicket, snapshot: RunSnapshot) -> Matrix:
    lines = {(line.block, line.size): line for line in ticket.lines}
    used = {line.size for line in ticket.lines}
    sizes = tuple(size.code for size in snapshot.sizes if size.code in used)
    names = {shape.block: shape.name for shape in snapshot.shapes}
    blocks = dict.fromkeys(line.block for line in ticket.lines)
    return Matrix(
        sizes=sizes,
        rows=tuple(
            (block, names[block], tuple(lines.get((block, size)) for size in sizes))
            for block in blocks
        ),
        pieces=sum(line.left + line.right + line.single for line in ticket.lines),
    )


def drawn_lays(row: FabricRow, plan: Plan, unit: str) -> tuple[DrawnLay, ...]:
    outlines = outlines_of(plan.blocks)
    return tuple(drawn_lay(lay, row, outlines, unit) for lay in row.ticket.lays)


def drawn_lay(lay: Lay, row: FabricRow, outlines: Outlines, unit: str) -> DrawnLay:
    return DrawnLay(
        lay=lay,
        svg=lay_svg(
            lay,
            outlines,
            hex_color=row.color.hex_color,
            one_way=row.ticket.nap == "one_way",
            unit=unit,
        ),
        blocks=len(lay.placements),
        efficiency_percent=round(lay.efficiency * 100),
        saved_mm=max(lay.box_rows_mm - lay.length_mm, 0.0) * spread_count(lay),
    )


def _operation_names(operations: Iterable[OperationSpec]) -> dict[str, str]:
    return {operation.code: operation.name for operation in operations}
