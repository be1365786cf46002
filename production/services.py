"""Functions that write runs: freeze team orders, plan them, store the plan."""

from __future__ import annotations

import datetime
from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import TYPE_CHECKING

import msgspec
from django.db import transaction
from django.db.models import TextField
from django.db.models.functions import Cast
from django.utils import timezone

from orders.models import JacketOrder, TeamOrder
from orders.services import freeze
from patterns.models import FabricColor
from production.errors import ProductionError
from production.models import (
    CutTicket,
    Jacket,
    JacketBlock,
    Lay,
    Recut,
    Run,
    RunOrder,
    Supplement,
    TicketLine,
)
from production.planning.plan import Lay as PlannedLay
from production.planning.plan import Plan, PlanError
from production.planning.snapshot import RunSnapshot
from production.stock.cloth import plan_plies

if TYPE_CHECKING:
    from django.contrib.auth.models import User

    from production.planning.cloth.bolts import ClothUse
    from production.planning.planner import RunPlan


def load_plan(run: Run) -> Plan:
    return msgspec.json.decode(_stored_text(run, "plan"), type=Plan)


def load_snapshot(run: Run) -> RunSnapshot:
    return msgspec.json.decode(_stored_text(run, "snapshot"), type=RunSnapshot)


def _stored_text(run: Run, column: str) -> str:
    """A large column as it is stored: made into its classes at once, it takes a third of the time
    that the dictionaries in between would."""
    text: str = Run.objects.values_list(Cast(column, TextField()), flat=True).get(pk=run.pk)
    return text


@transaction.atomic
def plan_run_for(
    team_orders: Sequence[TeamOrder], by: User | None, planned_on: datetime.date | None = None
) -> Run:
    """Freeze team orders into one new run and store its plan, all or nothing; the schedule counts
    from `planned_on`, today unless given.

    OrderError says which order cannot be frozen (already planned, empty, without a color),
    ProductionError which block, size or material cannot be planned.
    """
    from production.cutting import lay_plans  # builds on this module
    from production.planning.planner import plan_run
    from production.snapshots import take_snapshot

    if not team_orders:
        raise ProductionError("Choose at least one team order to plan.")
    orders = list(
        TeamOrder.objects.select_for_update()
        .filter(pk__in=[order.pk for order in team_orders])
        .order_by("deadline", "code")
    )
    for order in orders:
        freeze(order, by)
    code = _next_run_code()
    snapshot = take_snapshot(
        run=code, team_orders=orders, planned_on=planned_on or timezone.localdate()
    )
    try:
        planned = plan_run(snapshot)
    except PlanError as error:
        raise ProductionError(f"{error} Nothing was frozen.") from error
    run = Run.objects.create(
        code=code,
        deadline=snapshot.deadline,
        snapshot=msgspec.to_builtins(snapshot),
        plan=msgspec.to_builtins(planned.plan),
        created_by=by,
    )
    RunOrder.objects.bulk_create(RunOrder(run=run, team_order=order) for order in orders)
    store_tickets(run, planned, _store_jackets(run, snapshot, planned))
    lay_plans.keep_rows(run, snapshot, planned.plan)
    return run


def _next_run_code() -> str:
    last = Run.objects.order_by("-pk").values_list("code", flat=True).first()
    return f"R-{int(last.removeprefix('R-')) + 1 if last else 1:04d}"


def _store_jackets(run: Run, snapshot: RunSnapshot, planned: RunPlan) -> dict[str, Jacket]:
    lines = {
        (order, member): pk
        for order, member, pk in JacketOrder.objects.filter(
            team_order__run_order__run=run
        ).values_list("team_order__code", "member", "pk")
    }
    jackets = Jacket.objects.bulk_create(
        Jacket(
            run=run,
            code=spec.code,
            jacket_order_id=lines[spec.team_order, spec.member],
            size=spec.size,
            standard_minutes=minutes_as_stored(planned.jacket_minutes[spec.code]),
        )
        for spec in snapshot.jackets
    )
    return {jacket.code: jacket for jacket in jackets}


def store_lays(
    ticket: CutTicket,
    lays: Sequence[PlannedLay],
    methods: Mapping[str, tuple[str, str]] | None = None,
    *,
    use: ClothUse | None = None,
) -> None:
    """The lays of a ticket in place of those it had. `methods` tells, by the code of a lay, how it
    was laid out and why rows had to do; plain rows unless told. Their plies are planned onto the
    bolts of `use`; ClothError when one of them is not free any more."""
    told = methods or {}
    ticket.lays.all().delete()
    stored = Lay.objects.bulk_create(
        Lay(
            ticket=ticket,
            code=lay.lay,
            position=place,
            mode=lay.mode,
            method=told.get(lay.lay, (Lay.Method.ROWS, ""))[0],
            method_note=told.get(lay.lay, (Lay.Method.ROWS, ""))[1],
            plies=lay.plies,
            usable_width_mm=lay.usable_width_mm,
            length_mm=lay.length_mm,
            placements=msgspec.to_builtins(lay.placements),
        )
        for place, lay in enumerate(lays)
    )
    if use:
        plan_plies({lay.code: lay for lay in stored}, use)


def minutes_as_stored(minutes: Mapping[str, Decimal]) -> dict[str, str]:
    return {stage: str(each) for stage, each in minutes.items()}


def store_tickets(
    run: Run,
    planned: RunPlan,
    jackets: dict[str, Jacket],
    supplement: Supplement | None = None,
    recut: Recut | None = None,
) -> None:
    """The tickets of a plan with their lines and lays, and the blocks of its jackets on them; those
    of a supplement or a recut come after the tickets that are there. Blocks stay on the tickets
    that a recut adds to."""
    first = run.cut_tickets.count()
    colors = {color.code: color for color in FabricColor.objects.all()}
    lines: dict[tuple[str, str, str], TicketLine] = {}
    for position, planned_ticket in enumerate(planned.plan.cut_tickets, start=first):
        ticket = CutTicket.objects.create(
            run=run,
            supplement=supplement,
            recut=recut,
            code=planned_ticket.ticket,
            fabric_color=colors[planned_ticket.fabric_color],
            position=position,
        )
        for stored in TicketLine.objects.bulk_create(
            TicketLine(
                ticket=ticket,
                block=line.block,
                size=line.size,
                left=line.left,
                right=line.right,
                single=line.single,
                is_recut=recut is not None,
            )
            for line in planned_ticket.lines
        ):
            lines[planned_ticket.fabric_color, stored.block, stored.size] = stored
        store_lays(ticket, planned_ticket.lays, use=planned.cloth.get(ticket.code))
    if recut:
        return
    JacketBlock.objects.bulk_create(
        (
            JacketBlock(
                jacket=jackets[jacket.code], block=block, line=lines[color, block, jacket.size]
            )
            for jacket in planned.plan.jackets
            for block, color in jacket.blocks.items()
        ),
        batch_size=2000,
    )
