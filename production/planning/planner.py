"""The plan of a run from its snapshot: the one entry point of the planning."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal

from production.planning.checks import check_plan
from production.planning.cloth.bolts import ClothUse
from production.planning.cloth.ticket_cloth import (
    TicketCloth,
    lay_alike,
    needs_by_color,
    rows_on_cloth,
)
from production.planning.costs import plan_costs
from production.planning.cutting.cutting_prices import cutting_price
from production.planning.explode import (
    CutPiece,
    Shapes,
    cut_ticket_lines,
    explode,
    fabrics_by_color,
    shapes_by_key,
)
from production.planning.minutes.labor import plan_labor
from production.planning.plan import CutTicket, Lay, Plan, PlannedBlock, PlannedJacket
from production.planning.schedule import capacity_schedule
from production.planning.snapshot import RunSnapshot
from production.planning.supplies.materials import notion_needs
from production.planning.threads.thread import thread_needs

SCHEMA = 1
#: By fabric color the dye lots that jackets have blocks from already.
LotsOfJackets = Mapping[str, Mapping[str, str]]


@dataclass(frozen=True, slots=True)
class RunPlan:
    """A plan with what it was made from: the pieces, the minutes with allowance of each jacket by
    stage (cut, sew, finish), and by ticket the cloth that it is spread from."""

    plan: Plan
    pieces: tuple[CutPiece, ...]
    jacket_minutes: dict[str, dict[str, Decimal]]
    cloth: dict[str, ClothUse] = field(default_factory=dict)


def plan_run(
    snapshot: RunSnapshot,
    lays_by_color: Mapping[str, tuple[Lay, ...]] | None = None,
    lots: LotsOfJackets | None = None,
) -> RunPlan:
    """Plans a run; the same snapshot and lays always give the same plan. A fabric color without
    given lays is laid out in plain rows. `lots` tells what jackets have blocks from already.

    Raises PlanError for a run that cannot be cut or sewn as it is described.
    """
    pieces = explode(snapshot)
    shapes = shapes_by_key(snapshot.shapes)
    tickets, cloth = tickets_on_cloth(snapshot, pieces, shapes, lays_by_color or {}, lots)
    threads = thread_needs(snapshot)
    notions = notion_needs(snapshot)
    labor, jacket_minutes = plan_labor(
        snapshot, pieces, [lay for ticket in tickets for lay in ticket.lays]
    )
    plan = Plan(
        schema=SCHEMA,
        run=snapshot.run,
        team_orders=tuple(order.code for order in snapshot.orders),
        deadline=snapshot.deadline,
        jackets=planned_jackets(snapshot),
        blocks=planned_blocks(shapes, pieces),
        cut_tickets=tickets,
        threads=threads,
        notions=tuple(priced.need for priced in notions),
        labor=labor,
        costs=plan_costs(snapshot, tickets, threads, notions, labor),
        schedule=capacity_schedule(
            labor.with_allowance_minutes,
            snapshot.planned_on,
            snapshot.deadline,
            snapshot.workroom,
        ),
        checks=(),
    )
    checked = replace(plan, checks=check_plan(snapshot, plan, jacket_minutes))
    return RunPlan(checked, pieces, jacket_minutes, cloth)


def tickets_on_cloth(
    snapshot: RunSnapshot,
    pieces: Sequence[CutPiece],
    shapes: Shapes,
    lays_by_color: Mapping[str, tuple[Lay, ...]],
    lots: LotsOfJackets | None = None,
) -> tuple[tuple[CutTicket, ...], dict[str, ClothUse]]:
    """The tickets that cut the pieces, and by ticket the cloth that they are spread from."""
    fabrics, needs = fabrics_by_color(snapshot), needs_by_color(pieces)
    tickets, uses = [], {}
    for number, (color, lines) in enumerate(cut_ticket_lines(pieces, snapshot).items(), start=1):
        code, fabric = f"{snapshot.run}-T{number}", fabrics[color]
        bolts = tuple(bolt for bolt in snapshot.bolts if bolt.fabric_color == color)
        alike = (lots or {}).get(color, {})
        price = cutting_price(fabric, snapshot.operations, snapshot.workroom)
        if lays := lays_by_color.get(color, ()):
            unit = snapshot.workroom.length_unit
            use = lay_alike(lays, shapes, bolts, fabric, needs[color], alike, unit=unit)
        else:
            lays, use = rows_on_cloth(
                TicketCloth(
                    code,
                    lines,
                    needs[color],
                    shapes,
                    fabric,
                    snapshot.workroom,
                    price,
                    bolts,
                    alike,
                )
            )
        uses[code] = use
        tickets.append(
            CutTicket(
                ticket=code,
                fabric=fabric.code,
                fabric_color=color,
                nap=fabric.nap,
                lines=tuple(lines),
                lays=lays,
                fabric_needed_mm=use.from_stock_mm + use.to_buy_mm,
                from_stock_mm=use.from_stock_mm,
                to_buy_mm=use.to_buy_mm,
                cloth_notes=use.reasons,
            )
        )
    return tuple(tickets), uses


def planned_jackets(snapshot: RunSnapshot) -> tuple[PlannedJacket, ...]:
    return tuple(
        PlannedJacket(
            code=jacket.code,
            member=jacket.member,
            size=jacket.size,
            colorway=jacket.colorway,
            blocks=dict(jacket.cut_blocks),
        )
        for jacket in snapshot.jackets
    )


def planned_blocks(shapes: Shapes, pieces: Iterable[CutPiece]) -> tuple[PlannedBlock, ...]:
    """The shapes that are cut, in the order of the snapshot."""
    used = {(piece.block, piece.size) for piece in pieces}
    return tuple(
        PlannedBlock(
            block=shape.block,
            piece=shape.piece,
            size=shape.size,
            pairing=shape.pairing,
            cut_outline_mm=shape.cut_outline_mm,
            stitch_outline_mm=shape.stitch_outline_mm,
        )
        for key, shape in shapes.items()
        if key in used
    )
