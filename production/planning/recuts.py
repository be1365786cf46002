"""Pieces that were short or spoiled and are cut once more: their plan, and what a change of their
jacket makes of them.

A recut cuts exactly the sides that are missing, also a left without its right. It is spread face up
and cut to exact counts, whatever the workroom does with whole runs.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from production.planning.changes import Difference, HeldBlock, Piece
from production.planning.checks import differences, named_check
from production.planning.costs import plan_costs
from production.planning.cutting.lays import asked, laid_out, validate_lay
from production.planning.explode import CutPiece, Shapes, shapes_by_key
from production.planning.minutes.labor import plan_labor
from production.planning.plan import Check, Lay, Plan, PlanError
from production.planning.schedule import capacity_schedule
from production.planning.snapshot import RunSnapshot

if TYPE_CHECKING:
    from production.planning.planner import RunPlan

SCHEMA = 1
EACH_ONCE = "every piece that is missing is cut once more, and no other"
LAYOUT = "no overlap, inside the width, nap kept"


@dataclass(frozen=True, slots=True)
class RecutPiece:
    """A piece to cut once more: for which jacket, and the ticket that it was first cut by.
    `number` is that of the report that it is missing, `dye_lot` that of the jacket's other blocks
    of the color, empty where it is not known."""

    number: int
    jacket: str
    block: str
    size: str
    side: str
    fabric_color: str
    adds_to: str
    dye_lot: str = ""


@dataclass(frozen=True, slots=True)
class RecutPlan:
    """What one recut cuts and for whom. `dye_lots` are those of the jackets' other blocks, as far
    as their cloth is known."""

    recut: str
    pieces: tuple[RecutPiece, ...]
    cut: Plan
    dye_lots: tuple[str, ...] = ()
    schema: int = field(default=SCHEMA)


def plan_recut(
    snapshot: RunSnapshot,
    pieces: Sequence[RecutPiece],
    lays_by_color: Mapping[str, tuple[Lay, ...]] | None = None,
) -> RunPlan:
    """Plans the cutting of the pieces alone; the jackets of the snapshot are those that wait. A
    fabric color without given lays is laid out in plain rows.

    Raises PlanError when there is nothing to cut, and for what does not lie on cloth or table.
    """
    # Here and not above: the pages load this module, and most of them plan nothing.
    from production.planning import planner

    if not pieces:
        raise PlanError(f"Recut {snapshot.run} has no pieces to cut.")
    snapshot = replace(
        snapshot, workroom=replace(snapshot.workroom, spreading="face_up", over_cut=0)
    )
    cut = tuple(CutPiece(p.jacket, p.block, p.size, p.side, p.fabric_color) for p in pieces)
    shapes = shapes_by_key(snapshot.shapes)
    tickets, cloth = planner.tickets_on_cloth(
        snapshot, cut, shapes, lays_by_color or {}, _lots(pieces)
    )
    lays = [lay for ticket in tickets for lay in ticket.lays]
    cutting = tuple(op for op in snapshot.operations if op.stage == "cut")
    labor, minutes = plan_labor(replace(snapshot, operations=cutting), cut, lays)
    plan = Plan(
        schema=planner.SCHEMA,
        run=snapshot.run,
        team_orders=tuple(order.code for order in snapshot.orders),
        deadline=snapshot.deadline,
        jackets=planner.planned_jackets(snapshot),
        blocks=planner.planned_blocks(shapes, cut),
        cut_tickets=tickets,
        threads=(),
        notions=(),
        labor=labor,
        costs=plan_costs(snapshot, tickets, (), (), labor),
        schedule=capacity_schedule(
            labor.with_allowance_minutes,
            snapshot.planned_on,
            snapshot.deadline,
            snapshot.workroom,
        ),
        checks=(),
    )
    checks = (_check_once(plan, pieces), _check_layout(snapshot, plan, shapes))
    return planner.RunPlan(replace(plan, checks=checks), cut, minutes, cloth)


def _lots(pieces: Iterable[RecutPiece]) -> dict[str, dict[str, str]]:
    lots: dict[str, dict[str, str]] = {}
    for piece in pieces:
        if piece.dye_lot:
            lots.setdefault(piece.fabric_color, {})[piece.jacket] = piece.dye_lot
    return lots


def _check_once(plan: Plan, pieces: Iterable[RecutPiece]) -> Check:
    missing: Counter[Piece] = Counter((p.block, p.size, p.side, p.fabric_color) for p in pieces)
    cut: Counter[Piece] = Counter()
    faults = []
    for ticket in plan.cut_tickets:
        laid = laid_out(ticket.lays)
        faults += differences(asked(ticket.lines), laid, "the ticket asks for", "its lays cut")
        for (block, size, side), count in laid.items():
            cut[block, size, side, ticket.fabric_color] += count
    return named_check(
        EACH_ONCE,
        [*differences(missing, cut, "missing are", "cut are"), *faults],
        f"{missing.total()} pieces are missing and {cut.total()} are cut, "
        "for every block, size, side and fabric color",
    )


def _check_layout(snapshot: RunSnapshot, plan: Plan, shapes: Shapes) -> Check:
    fabrics = {fabric.code: fabric for fabric in snapshot.fabrics}
    lays = [(lay, fabrics[ticket.fabric]) for ticket in plan.cut_tickets for lay in ticket.lays]
    gap_mm = snapshot.workroom.block_gap_mm
    faults = [fault for lay, fabric in lays for fault in validate_lay(lay, shapes, fabric, gap_mm)]
    placed = sum(len(lay.placements) for lay, _ in lays)
    return named_check(
        LAYOUT, faults, f"{placed} outlines placed, lays checked as true shapes: {len(lays)}"
    )


@dataclass(frozen=True, slots=True)
class SideState:
    """How a block's side really is, where reports say more than the jacket's stage: cut or not, on
    which ticket it is still to be cut, or `lost` with nothing in its place yet."""

    cut: bool = False
    ticket: str = ""
    lost: bool = False


def as_reported(change: Difference, states: Mapping[tuple[str, str], SideState]) -> Difference:
    """The difference with the blocks that the jacket gives up told side by side, as the reports say
    that they are. `states` are by block and side; sides without one are as their block is. A lost
    side is neither withdrawn nor put by."""
    withdrawn: list[HeldBlock] = []
    to_spare: list[HeldBlock] = []
    for block in (*change.withdrawn, *change.to_spare):
        groups: dict[tuple[str, bool], list[str]] = {}
        for side in block.sides:
            state = states.get((block.block, side), SideState(block.cut, block.ticket))
            if not state.lost:
                groups.setdefault((state.ticket or block.ticket, state.cut), []).append(side)
        for (ticket, cut), sides in groups.items():
            part = replace(block, ticket=ticket, cut=cut, sides=tuple(sides))
            (to_spare if cut else withdrawn).append(part)
    return replace(change, withdrawn=tuple(withdrawn), to_spare=tuple(to_spare))
