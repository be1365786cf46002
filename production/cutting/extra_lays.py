"""The lays of a supplement or a recut, changed before it is cut: its plan is made again with them.

What was agreed to with a supplement, its costs and the minutes of its jacket, stays as it was.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

import msgspec

from production.changing.change_state import load_supplement
from production.cutting import lay_plans
from production.errors import ProductionError
from production.models import CutTicket, Jacket, LayPly, Recut, Supplement
from production.planning.lengths import cloth_length
from production.planning.plan import Lay, Plan, PlanError
from production.reporting.recuts import load_recut, planned_on_cloth
from production.services import store_lays
from production.stock.cloth import with_bolts_again

if TYPE_CHECKING:
    from django.contrib.auth.models import User

    from production.planning.planner import RunPlan

Lays = Mapping[str, tuple[Lay, ...]]


def why_locked(ticket: CutTicket) -> str:
    """Why the lays of the ticket cannot change any more; empty while they can."""
    ply = LayPly.objects.filter(lay__ticket=ticket, cut_at__isnull=False).first()
    if ply:
        return f"{ply} of cut ticket {ticket} is cut already."
    # A supplement sent its jacket back to be cut; when it has left again, its blocks are cut.
    past = Jacket.objects.filter(blocks__line__ticket=ticket).exclude(stage=Jacket.Stage.CUT)
    jacket = past.order_by("pk").first()
    return f"Jacket {jacket} of cut ticket {ticket} is cut already." if jacket else ""


def use_lays(
    ticket: CutTicket,
    lays: tuple[Lay, ...],
    methods: lay_plans.Methods,
    by: User | None,
    *,
    unit: str,
) -> None:
    """Cut the ticket by these lays, all others of its supplement or recut as they are; the trace
    that it leaves tells lengths in `unit`.

    To be called in a transaction that holds the lock of the run, with a ticket that is not locked.
    Raises ProductionError for lays that break a check of the plan; the transaction is to end then.
    """
    color = ticket.fabric_color.code
    try:
        if ticket.supplement:
            before, planned = _supplement_again(ticket.supplement, ticket, {color: lays})
        else:
            assert ticket.recut
            before, planned = _recut_again(ticket.recut, ticket, {color: lays})
    except PlanError as error:
        raise ProductionError(f"{error} Nothing was changed.") from error
    held = {check.check for check in before.checks if check.holds}
    for check in planned.plan.checks:
        if check.check in held and not check.holds:
            raise ProductionError(
                f"These lays would break a check of the plan, {check.check}: {check.detail}. "
                "Nothing was changed."
            )
    store_lays(ticket, lays, methods, use=planned.cloth[ticket.code])
    old, new = (cloth_length(_cloth_mm(plan, ticket), unit) for plan in (before, planned.plan))
    words = f"{ticket}: lays set by hand, {old} of cloth before and {new} now"
    lay_plans.leave_trace(ticket.run, words, by)


def _cloth_mm(plan: Plan, ticket: CutTicket) -> int:
    return next(each.fabric_needed_mm for each in plan.cut_tickets if each.ticket == ticket.code)


def _supplement_again(
    supplement: Supplement, ticket: CutTicket, changed: Lays
) -> tuple[Plan, RunPlan]:
    from production.planning.planner import plan_run

    snapshot, plan = load_supplement(supplement)
    assert snapshot and plan.cut
    snapshot = with_bolts_again(snapshot, [ticket])
    planned = plan_run(snapshot, {**_lays_of(plan.cut), **changed})
    supplement.snapshot = msgspec.to_builtins(snapshot)
    supplement.plan = msgspec.to_builtins(replace(plan, cut=planned.plan))
    supplement.save(update_fields=["snapshot", "plan"])
    return plan.cut, planned


def _recut_again(recut: Recut, ticket: CutTicket, changed: Lays) -> tuple[Plan, RunPlan]:
    snapshot, plan = load_recut(recut)
    lays = {**_lays_of(plan.cut), **changed}
    snapshot, planned = planned_on_cloth(
        with_bolts_again(snapshot, [ticket]), plan.pieces, plan.dye_lots, lays
    )
    recut.snapshot = msgspec.to_builtins(snapshot)
    recut.plan = msgspec.to_builtins(replace(plan, cut=planned.plan))
    recut.save(update_fields=["snapshot", "plan"])
    return plan.cut, planned


def _lays_of(plan: Plan) -> Lays:
    return {ticket.fabric_color: ticket.lays for ticket in plan.cut_tickets}
