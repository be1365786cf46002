"""A lay as the maker sets it by hand: read for the table, checked, nested anew, taken into use."""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import msgspec
from django.db import transaction
from django.http import Http404

from production import services
from production.cutting import extra_lays, lay_plans
from production.errors import ProductionError
from production.models import Jacket, JacketBlock, Lay, LayPlan, Recut, Run
from production.planning.cutting.hand_moves import Position, Rest, nest_the_rest, set_by_hand
from production.planning.plan import CutTicket as PlannedTicket
from production.planning.plan import Lay as PlannedLay
from production.planning.plan import Plan, PlanError
from production.planning.snapshot import FabricColorSpec, FabricSpec, RunSnapshot

if TYPE_CHECKING:
    from django.contrib.auth.models import User

    from production.planning.cutting.cutting import LayChoice
    from production.planning.cutting.full_lay import FullLay
    from production.planning.explode import Shapes

#: How long the maker waits for the rest of a lay to be nested again (invented).
NEST_SECONDS = 8.0


@dataclass(frozen=True, slots=True)
class LaidOut:
    """A lay with all that its page and its full-size drawings show."""

    stored: Lay
    run: Run
    snapshot: RunSnapshot
    ticket: PlannedTicket
    lay: PlannedLay
    fabric: FabricSpec
    color: FabricColorSpec
    shapes: Shapes

    @property
    def seen(self) -> str:
        """Tells this state of the lay from any other one."""
        state = msgspec.json.encode((self.lay.plies, self.lay.mode, self.lay.placements))
        return hashlib.sha256(state).hexdigest()[:16]

    @property
    def why_fixed(self) -> str:
        """Why the lay stays as it is; empty while its blocks can be moved."""
        ticket = self.stored.ticket
        return extra_lays.why_locked(ticket) if self.is_extra else lay_plans.why_locked(ticket)

    @property
    def is_extra(self) -> bool:
        """Whether the lay is one of a supplement or a recut, which have a plan of their own."""
        return bool(self.stored.ticket.supplement_id or self.stored.ticket.recut_id)


def laid_out(run_code: str, lay_code: str) -> LaidOut:
    """Raises Http404 for a lay that the run does not have."""
    stored = (
        Lay.objects.select_related("ticket__run", "ticket__supplement", "ticket__recut")
        .defer("ticket__run__snapshot", "ticket__run__plan")
        .filter(code=lay_code, ticket__run__code=run_code)
        .first()
    )
    if stored is None:
        raise Http404(f"No lay {lay_code} in run {run_code}")
    plan, snapshot = _plan_of(stored)
    return _laid_out(stored, plan, snapshot)


def _plan_of(stored: Lay) -> tuple[Plan, RunSnapshot]:
    from production.changing.change_state import cut_of
    from production.reporting.recuts import load_recut

    ticket = stored.ticket
    if ticket.supplement:
        return cut_of(ticket.supplement)
    if ticket.recut:
        snapshot, plan = load_recut(ticket.recut)
        return plan.cut, snapshot
    return services.load_plan(ticket.run), services.load_snapshot(ticket.run)


def _laid_out(stored: Lay, plan: Plan, snapshot: RunSnapshot) -> LaidOut:
    from production.planning.explode import shapes_by_key

    ticket = next(each for each in plan.cut_tickets if each.ticket == stored.ticket.code)
    return LaidOut(
        stored=stored,
        run=stored.ticket.run,
        snapshot=snapshot,
        ticket=ticket,
        lay=next(each for each in ticket.lays if each.lay == stored.code),
        fabric=next(spec for spec in snapshot.fabrics if spec.code == ticket.fabric),
        color=next(spec for spec in snapshot.fabric_colors if spec.code == ticket.fabric_color),
        shapes=shapes_by_key(snapshot.shapes),
    )


def full_lay_of(laid: LaidOut) -> FullLay:
    from production.planning.cutting.full_lay import full_lay

    return full_lay(laid.lay, laid.shapes, laid.fabric, laid.color.name)


def lays_of_run(run: Run) -> list[str]:
    """The codes of the lays of the run's own tickets, as they are cut."""
    lays = Lay.objects.filter(ticket__run=run, ticket__supplement=None, ticket__recut=None)
    return list(lays.order_by("ticket__position", "position").values_list("code", flat=True))


def jackets_by_block(laid: LaidOut) -> dict[tuple[str, str], list[tuple[str, str]]]:
    """Code and address of the jackets that a ticket's block in a size is for; on a recut, of those
    that wait for it."""
    if laid.stored.ticket.recut:
        return _waiting_by_block(laid, laid.stored.ticket.recut)
    found: dict[tuple[str, str], list[tuple[str, str]]] = {}
    rows = (
        JacketBlock.objects.filter(line__ticket=laid.stored.ticket_id)
        .select_related("jacket", "line")
        .order_by("jacket__code")
    )
    for row in rows:
        jacket = (row.jacket.code, row.jacket.get_absolute_url())
        found.setdefault((row.line.block, row.line.size), []).append(jacket)
    return found


def _waiting_by_block(laid: LaidOut, recut: Recut) -> dict[tuple[str, str], list[tuple[str, str]]]:
    from production.reporting.recuts import load_recut

    _, plan = load_recut(recut)
    pieces = [piece for piece in plan.pieces if piece.fabric_color == laid.color.code]
    jackets = {
        jacket.code: jacket
        for jacket in Jacket.objects.filter(code__in=[piece.jacket for piece in pieces])
    }
    found: dict[tuple[str, str], dict[tuple[str, str], None]] = {}
    for piece in sorted(pieces, key=lambda piece: piece.jacket):
        jacket = (piece.jacket, jackets[piece.jacket].get_absolute_url())
        # A left and a right of one block wait for one jacket.
        found.setdefault((piece.block, piece.size), {})[jacket] = None
    return {key: list(some) for key, some in found.items()}


def nest_again(
    laid: LaidOut, positions: Sequence[Position], pins: Collection[int], seen: str
) -> Rest:
    """What the lay would be with the blocks that are not pinned nested again; nothing is stored.

    Raises ProductionError when the lay changed meanwhile, the blocks find no room, or nothing
    better was found than the lay as it lies on the page.
    """
    _check_seen(laid, seen)
    room = laid.snapshot.workroom
    try:
        moved = set_by_hand(laid.lay, positions, laid.shapes)
        rest = nest_the_rest(moved, pins, laid.shapes, laid.fabric, room, NEST_SECONDS)
    except PlanError as error:
        raise ProductionError(f"{error} Nothing was changed.") from error
    if _faults(laid, rest.lay):
        raise ProductionError(
            "The blocks found no room around those that are pinned: unpin some, or move them "
            "apart. Nothing was changed."
        )
    if rest.lay.length_mm >= moved.length_mm and not _faults(laid, moved):
        raise ProductionError(
            "Nothing shorter was found than the lay as it lies. Unpin some blocks and try again."
        )
    return rest


@transaction.atomic
def save_by_hand(
    run_code: str, lay_code: str, positions: Sequence[Position], seen: str, by: User
) -> PlannedLay:
    """Takes the lay into use with its blocks at these positions, as the ticket's lays set by hand.

    Raises ProductionError, and changes nothing, when the ticket is being cut, the lay changed
    meanwhile, or it cannot be cut as it lies.
    """
    Run.objects.select_for_update().get(code=run_code)
    laid = laid_out(run_code, lay_code)
    if fixed := laid.why_fixed:
        raise ProductionError(f"{fixed} Nothing was changed.")
    _check_seen(laid, seen)
    lay = _checked(laid, positions)
    lays = tuple(lay if each.lay == lay.lay else each for each in laid.ticket.lays)
    ticket = laid.stored.ticket
    if laid.is_extra:
        unit = laid.snapshot.workroom.length_unit
        extra_lays.use_lays(ticket, lays, _methods(laid), by, unit=unit)
    else:
        lay_plans.keep_choice(ticket, _choice(laid, lays))
        lay_plans.use_lay_plan(ticket, LayPlan.Aim.BY_HAND, by)
    return lay


def _check_seen(laid: LaidOut, seen: str) -> None:
    if seen != laid.seen:
        raise ProductionError(
            f"Lay {laid.lay.lay} was changed by someone else since this page was opened. Your "
            "moves were not saved: look at the lay as it is now, and move its blocks again."
        )


def _checked(laid: LaidOut, positions: Sequence[Position]) -> PlannedLay:
    try:
        lay = set_by_hand(laid.lay, positions, laid.shapes)
    except PlanError as error:
        raise ProductionError(f"{error} Nothing was changed.") from error
    if faults := _faults(laid, lay):
        more = f" and {len(faults) - 3} more" if len(faults) > 3 else ""
        raise ProductionError(
            f"The lay cannot be cut like this: {'; '.join(faults[:3])}{more}. Nothing was saved; "
            "your moves are still on the page."
        )
    return lay


def _faults(laid: LaidOut, lay: PlannedLay) -> list[str]:
    from production.planning.cutting.lays import validate_lay

    room = laid.snapshot.workroom
    return validate_lay(lay, laid.shapes, laid.fabric, room.block_gap_mm, room)


def _choice(laid: LaidOut, lays: tuple[PlannedLay, ...]) -> LayChoice:
    from production.planning.cutting.cutting import LayChoice

    sums = lay_plans.sums_of(laid.ticket, lays, laid.snapshot)
    return LayChoice(
        aim=LayPlan.Aim.BY_HAND.value,
        lays=lays,
        fabric_mm=sums.fabric_mm,
        cutting_minutes=sums.cutting_minutes,
        cost=sums.cost,
        methods=_methods(laid),
    )


def _methods(laid: LaidOut) -> Mapping[str, tuple[str, str]]:
    """How each lay of the ticket came to be; this one is set by hand now."""
    known = {
        row.code: (row.method, row.method_note)
        for row in Lay.objects.filter(ticket=laid.stored.ticket_id)
    }
    return {**known, laid.lay.lay: (Lay.Method.BY_HAND.value, "")}
