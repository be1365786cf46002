"""The ways to cut a ticket: kept as they get better, and put to use when the maker says so."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import msgspec
from django.db import transaction
from django.db.models import Q, QuerySet

from orders.models import Amendment, TeamOrder
from production.errors import ProductionError
from production.models import CutTicket, Jacket, LayPlan, LayPly, Run
from production.planning.cutting.savings import LaySums, lay_sums
from production.planning.lengths import cloth_length
from production.planning.plan import CutTicket as PlannedTicket
from production.planning.plan import Lay, Plan, PlanError
from production.planning.snapshot import RunSnapshot
from production.services import load_plan, load_snapshot, minutes_as_stored, store_lays
from production.stock.cloth import with_bolts_again

if TYPE_CHECKING:
    from django.contrib.auth.models import User

    from production.planning.cutting.cutting import LayChoice
    from production.planning.planner import RunPlan

Aim = LayPlan.Aim
#: How good lays are for an aim, less being better.
Judge = Callable[[Sequence[Lay]], float]
#: How each lay of a plan was laid out and why rows had to do, by the code of the lay.
Methods = Mapping[str, tuple[str, str]]


class LaysRefusedError(ProductionError):
    """Lays that cannot be put to use; the message says why, and nothing was changed."""


def keep_choice(ticket: CutTicket, choice: LayChoice, judge: Judge | None = None) -> bool:
    """Keep a way to cut a ticket for its aim, unless `judge` finds what is kept at least as good,
    and say whether it is kept. The lays in use stay as they are, and a ticket that is gone keeps
    nothing."""
    with transaction.atomic():
        if not CutTicket.objects.select_for_update().filter(pk=ticket.pk).exists():
            return False
        kept = LayPlan.objects.filter(ticket=ticket, aim=choice.aim).first()
        _note_in_use(ticket, choice)
        if kept and judge and judge(choice.lays) >= judge(lays_of(kept)):
            return False
        LayPlan.objects.update_or_create(
            ticket=ticket,
            aim=choice.aim,
            defaults={
                "lays": _as_rows(choice.lays, choice.methods),
                "fabric_mm": choice.fabric_mm,
                "cutting_minutes": choice.cutting_minutes,
                "cost": choice.cost,
                "is_in_use": False,
            },
        )
    return True


def _note_in_use(ticket: CutTicket, choice: LayChoice) -> None:
    """Lays in use that are found again tell on the ticket why they are still rows."""
    noted = {code: note for code, (_, note) in choice.methods.items() if note}
    if not noted:
        return
    in_use = ticket.lay_plans.filter(is_in_use=True).first()
    if in_use and lays_of(in_use) == choice.lays:
        for code, note in noted.items():
            ticket.lays.filter(code=code, method="rows", method_note="").update(method_note=note)


def keep_rows(run: Run, snapshot: RunSnapshot, plan: Plan) -> None:
    """Keep the plain rows of a fresh plan as the way in use of each ticket."""
    tickets = {ticket.code: ticket for ticket in run.cut_tickets.all()}
    for planned in plan.cut_tickets:
        sums = sums_of(planned, planned.lays, snapshot)
        LayPlan.objects.create(
            ticket=tickets[planned.ticket],
            aim=Aim.ROWS,
            lays=_as_rows(planned.lays, {}),
            fabric_mm=sums.fabric_mm,
            cutting_minutes=sums.cutting_minutes,
            cost=sums.cost,
            is_in_use=True,
        )


def sums_of(planned: PlannedTicket, lays: tuple[Lay, ...], snapshot: RunSnapshot) -> LaySums:
    from production.planning.cutting.cutting_prices import cutting_price

    fabric = next(fabric for fabric in snapshot.fabrics if fabric.code == planned.fabric)
    price = cutting_price(fabric, snapshot.operations, snapshot.workroom)
    return lay_sums(lays, fabric, price)


def _as_rows(lays: tuple[Lay, ...], methods: Methods) -> list[dict[str, Any]]:
    """Lays as they are stored, each with how it was laid out."""
    return [
        {
            **msgspec.to_builtins(lay),
            "method": methods.get(lay.lay, ("rows", ""))[0],
            "method_note": methods.get(lay.lay, ("rows", ""))[1],
        }
        for lay in lays
    ]


def lays_of(kept: LayPlan) -> tuple[Lay, ...]:
    return msgspec.convert(kept.lays, tuple[Lay, ...])


def methods_of(kept: LayPlan) -> dict[str, tuple[str, str]]:
    return {row["lay"]: (row["method"], row["method_note"]) for row in kept.lays}


def mark_of(*kept: LayPlan) -> str:
    """Stands for these ways as they are now, so that a page that shows older ones is found out."""
    told = repr([(each.pk, each.at.isoformat()) for each in kept])
    return hashlib.sha256(told.encode()).hexdigest()[:16]


def run_tickets(run: Run) -> QuerySet[CutTicket]:
    """The tickets whose lays can be chosen. A supplement and a recut are agreed to with their
    costs, and stay as they are."""
    return run.cut_tickets.filter(supplement=None, recut=None).select_related(
        "fabric_color__fabric"
    )


def why_locked(ticket: CutTicket) -> str:
    """Why the lays of a ticket cannot change any more; empty while they can."""
    ply = LayPly.objects.filter(lay__ticket=ticket, cut_at__isnull=False).first()
    if ply:
        return f"{ply} of cut ticket {ticket} is cut already."
    past = Jacket.objects.filter(blocks__line__ticket=ticket).filter(
        ~Q(stage=Jacket.Stage.CUT) | ~Q(mend_reason="")
    )
    jacket = past.order_by("pk").first()
    return f"Jacket {jacket} of cut ticket {ticket} is cut already." if jacket else ""


def open_tickets(run: Run) -> list[CutTicket]:
    return [ticket for ticket in run_tickets(run) if not why_locked(ticket)]


def less_cloth_mm(run: Run) -> int:
    """How much less cloth the cheapest lays kept for the run take than those in use."""
    known = LayPlan.objects.filter(ticket__in=open_tickets(run), aim=Aim.MONEY)
    kept = list(known.select_related("ticket"))
    if not kept:  # nothing was found, or the run was deleted meanwhile
        return 0
    snapshot = load_snapshot(run)
    planned = {ticket.ticket: ticket for ticket in load_plan(run).cut_tickets}
    return sum(
        sums_of(planned[each.ticket.code], planned[each.ticket.code].lays, snapshot).fabric_mm
        - each.fabric_mm
        for each in kept
    )


def use_lay_plan(ticket: CutTicket, aim: str, by: User | None, *, seen: str = "") -> bool:
    """Cut a ticket by the lays kept for an aim: its run is planned again with them, all other
    tickets as they are. Whether that changed anything.

    `seen` is the mark of the way as it was shown. Raises LaysRefusedError, with nothing changed,
    once a ply or a jacket of the ticket is cut, for an aim nothing is kept for, when better lays
    were found since they were shown, and when a check of the plan does not hold.
    """
    with transaction.atomic():
        run = _locked_run(ticket.run_id)
        if ticket.supplement_id or ticket.recut_id:
            raise LaysRefusedError(f"The lays of {ticket} stay as they were agreed to.")
        locked = why_locked(ticket)
        if locked:
            raise LaysRefusedError(f"{locked} Its lays stay as they are.")
        kept = ticket.lay_plans.filter(aim=aim).first()
        if kept is None:
            raise LaysRefusedError(
                f"No lays with {Aim(aim).label} are known for cut ticket {ticket} yet. Look for"
                " better lays first."
            )
        _refuse_unseen(seen, mark_of(kept))
        return bool(_use(run, {ticket: kept}, by))


def use_aim(run: Run, aim: str, by: User | None, *, seen: str = "") -> list[CutTicket]:
    """Cut all tickets of a run that can still change by the lays kept for an aim, and give those
    that changed. Raises as `use_lay_plan`; nothing is changed then."""
    with transaction.atomic():
        run = _locked_run(run.pk)
        kept = {each.ticket: each for each in plans_to_use(run, aim)}
        if not kept:
            raise LaysRefusedError(
                f"No ticket of {run} can be given lays with {Aim(aim).label}: all are being cut, or"
                " none are known yet."
            )
        _refuse_unseen(seen, mark_of(*kept.values()))
        return _use(run, kept, by)


def plans_to_use(run: Run, aim: str) -> list[LayPlan]:
    kept = LayPlan.objects.filter(ticket__in=open_tickets(run), aim=aim)
    return list(kept.select_related("ticket__fabric_color").order_by("ticket__position"))


def _locked_run(pk: int) -> Run:
    run = Run.objects.select_for_update().defer("snapshot", "plan").filter(pk=pk).first()
    if run is None:
        raise LaysRefusedError("The run is not there any more.")
    return run


def _refuse_unseen(seen: str, now: str) -> None:
    if seen and seen != now:
        raise LaysRefusedError(
            "Better lays were found since these were shown. Nothing was changed: look at them, then"
            " choose once more."
        )


def _use(run: Run, kept: Mapping[CutTicket, LayPlan], by: User | None) -> list[CutTicket]:
    before = load_plan(run)
    in_use = {ticket.fabric_color: ticket for ticket in before.cut_tickets}
    wanted = {ticket: lays_of(each) for ticket, each in kept.items()}
    changed = [
        ticket for ticket, lays in wanted.items() if in_use[ticket.fabric_color.code].lays != lays
    ]
    _mark_in_use(kept)
    if not changed:
        return []
    lays = {color: ticket.lays for color, ticket in in_use.items()}
    lays.update({ticket.fabric_color.code: wanted[ticket] for ticket in changed})
    # Only the cloth of what is planned again may move; kept in the snapshot, it stays put later.
    snapshot = with_bolts_again(load_snapshot(run), changed)
    planned = _planned(snapshot, lays)
    plan = _others_as_before(planned.plan, before, {ticket.code for ticket in changed})
    run.snapshot, run.plan = msgspec.to_builtins(snapshot), msgspec.to_builtins(plan)
    run.save(update_fields=["snapshot", "plan"])
    for ticket in changed:
        use = planned.cloth[ticket.code]
        store_lays(ticket, wanted[ticket], methods_of(kept[ticket]), use=use)
    _store_minutes(run, planned)
    after = {ticket.ticket: ticket for ticket in planned.plan.cut_tickets}
    unit = snapshot.workroom.length_unit
    for ticket in changed:
        old, new = in_use[ticket.fabric_color.code], after[ticket.code]
        leave_trace(run, f"{ticket}: {_changed(kept[ticket], old, new, unit)}", by)
    return changed


def _others_as_before(plan: Plan, before: Plan, changed: Collection[str]) -> Plan:
    """The plies of the other tickets may have been laid anew since they were planned."""
    known = {ticket.ticket: ticket for ticket in before.cut_tickets}
    tickets = (each if each.ticket in changed else known[each.ticket] for each in plan.cut_tickets)
    return replace(plan, cut_tickets=tuple(tickets))


def _planned(snapshot: RunSnapshot, lays: Mapping[str, tuple[Lay, ...]]) -> RunPlan:
    from production.planning.planner import plan_run

    try:
        planned = plan_run(snapshot, lays)
    except PlanError as error:
        raise LaysRefusedError(f"{error} Nothing was changed.") from error
    for check in planned.plan.checks:
        if not check.holds:
            raise LaysRefusedError(
                f"These lays would break a check of the plan, {check.check}: {check.detail}."
                " Nothing was changed."
            )
    return planned


def _mark_in_use(kept: Mapping[CutTicket, LayPlan]) -> None:
    LayPlan.objects.filter(ticket__in=kept, is_in_use=True).update(is_in_use=False)
    LayPlan.objects.filter(pk__in=[each.pk for each in kept.values()]).update(is_in_use=True)


def _store_minutes(run: Run, planned: RunPlan) -> None:
    """New cutting minutes for the jackets not cut yet. One that a supplement changed has minutes of
    its own, as has one that the plan does not know."""
    changed_since = set(run.supplements.values_list("plan__jacket", flat=True))
    to_cut = run.jackets.filter(stage=Jacket.Stage.CUT, mend_reason="", cancelled_at=None)
    stale = []
    for jacket in to_cut:
        minutes = planned.jacket_minutes.get(jacket.code)
        if minutes is None or jacket.code in changed_since:
            continue
        stored = minutes_as_stored(minutes)
        if jacket.standard_minutes != stored:
            jacket.standard_minutes = stored
            stale.append(jacket)
    Jacket.objects.bulk_update(stale, ["standard_minutes"], batch_size=500)


def _changed(kept: LayPlan, old: PlannedTicket, new: PlannedTicket, unit: str) -> str:
    less_mm = old.fabric_needed_mm - new.fabric_needed_mm
    how = "less" if less_mm >= 0 else "more"
    return (
        f"lays changed to those with {kept.get_aim_display()}, {len(new.lays)} instead of"
        f" {len(old.lays)}, {cloth_length(abs(less_mm), unit)} {how} cloth,"
        f" {cloth_length(new.to_buy_mm, unit)} to buy instead of"
        f" {cloth_length(old.to_buy_mm, unit)}"
    )


def to_buy_words(run: Run) -> str:
    """The cloth of the run's own tickets that is not on hand."""
    to_buy_mm = sum(ticket.to_buy_mm for ticket in load_plan(run).cut_tickets)
    return cloth_length(to_buy_mm, load_snapshot(run).workroom.length_unit)


def leave_trace(run: Run, words: str, by: User | None) -> None:
    """Every team order of the run tells of it, since a run keeps no list of changes of its own."""
    Amendment.objects.bulk_create(
        Amendment(team_order=order, words=f"cut ticket {words}", by=by)
        for order in TeamOrder.objects.filter(run_order__run=run)
    )
