"""Plies that are not cut yet are laid onto the cloth once more, as it is now.

Useful after a bolt came in, was counted, was used up elsewhere or got a flaw. The lays stay as they
are; what is cut stays where it is cut.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import msgspec
from django.db import transaction
from django.db.models import Prefetch

from production.cutting import lay_plans
from production.models import CutTicket, Lay, LayPly
from production.planning.cutting.lays import FACE_TO_FACE
from production.planning.explode import Shapes, shapes_by_key
from production.planning.lengths import cloth_length
from production.planning.snapshot import FabricSpec, RunSnapshot
from production.reporting.cut_counts import planned_lay, stored_plies, unstored_plies
from production.reporting.cut_reports import lock_run
from production.services import load_snapshot
from production.stock import cloth
from production.stock.cloth import NOTHING_CHANGED, ClothError
from production.stock.cloth_queries import pieces_of_jackets, plan_of

if TYPE_CHECKING:
    from django.contrib.auth.models import User

    from production.planning.cloth.bolts import ClothUse

#: A ply by its lay and number.
Key = tuple[str, int]


@dataclass(frozen=True, slots=True)
class LaidAnew:
    """How many plies of a ticket lie elsewhere now, how many stayed because they are spread, and
    what is to be bought."""

    ticket: CutTicket
    moved: int
    spread: int
    to_buy_mm: int


def plies_to_lay(ticket: CutTicket) -> list[LayPly]:
    """The plies that can be laid anew, stored or not."""
    lays = ticket.lays.prefetch_related(Prefetch("ply_rows", LayPly.objects.select_related("lot")))
    plies = [ply for lay in lays for ply in unstored_plies(lay, lay.ply_rows.all())]
    spread = spread_already(plies)
    return [ply for ply in plies if _key(ply) not in spread]


def spread_already(plies: Sequence[LayPly]) -> dict[Key, LayPly]:
    """The plies that stay where they are: cut, cut off their bolt with a later one, or lying face
    to face with one that is cut."""
    cut_to_mm: dict[int, int] = {}
    lots = {ply.lot_id for ply in plies if ply.lot_id}
    for lot, start_mm, takes_mm in LayPly.objects.filter(
        lot__in=lots, cut_at__isnull=False
    ).values_list("lot", "start_mm", "takes_mm"):
        if lot and start_mm is not None:
            cut_to_mm[lot] = max(cut_to_mm.get(lot, 0), start_mm + takes_mm)
    cut = {_key(ply) for ply in plies if ply.cut_at}
    return {
        _key(ply): ply
        for ply in plies
        if ply.lot_id
        and (
            ply.cut_at
            or (ply.start_mm or 0) < cut_to_mm.get(ply.lot_id, 0)
            or (ply.lay.mode == FACE_TO_FACE and _partner(ply) in cut)
        )
    }


def _key(ply: LayPly) -> Key:
    return ply.lay.code, ply.number


def _partner(ply: LayPly) -> Key:
    return ply.lay.code, ply.number + (1 if ply.number % 2 else -1)


@transaction.atomic
def lay_anew(ticket: CutTicket, by: User | None) -> LaidAnew:
    """Lay the plies of a ticket that are not cut yet onto the bolts and remnants as they are now.

    Every team order of the run keeps a trace where that changes anything. Raises ClothError when
    all plies are cut, or when somebody else takes the cloth meanwhile; nothing is changed then.
    """
    from production.planning.cloth.bolts import lay_onto_bolts

    lock_run(ticket.run_id)
    plies = [ply for lay in ticket.lays.order_by("position") for ply in stored_plies(lay)]
    spread = spread_already(plies)
    free = [ply for ply in plies if _key(ply) not in spread]
    if not free:
        raise ClothError(f"All plies of {ticket} are cut. {NOTHING_CHANGED}")
    snapshot, fabric, shapes = _planned_from(ticket)
    color = ticket.fabric_color.code
    places = {_key(ply): (ply.lot_id, ply.start_mm) for ply in free}
    cloth.take_off(free)
    use = lay_onto_bolts(
        [planned_lay(lay) for lay in ticket.lays.order_by("position")],
        shapes,
        [bolt for bolt in cloth.bolts_on_hand() if bolt.fabric_color == color],
        fabric,
        pieces_of_jackets(ticket, plan_of(ticket)),
        {key: ply.lot.dye_lot for key, ply in spread.items() if ply.lot},
        unit=snapshot.workroom.length_unit,
    )
    cloth.put_on(free, use)
    _keep_in_plan(ticket, use)
    moved = sum((ply.lot_id, ply.start_mm) != places[_key(ply)] for ply in free)
    if moved:
        unit = snapshot.workroom.length_unit
        words = (
            f"{ticket}: {moved} {'ply' if moved == 1 else 'plies'} laid anew onto the cloth, "
            f"{cloth_length(use.to_buy_mm, unit)} to buy"
        )
        lay_plans.leave_trace(ticket.run, words, by)
    return LaidAnew(ticket, moved, len(spread), use.to_buy_mm)


def _planned_from(ticket: CutTicket) -> tuple[RunSnapshot, FabricSpec, Shapes]:
    """What the ticket was planned from, which for a supplement or a recut is of its own."""
    extra = ticket.supplement or ticket.recut
    snapshot = msgspec.convert(extra.snapshot, RunSnapshot) if extra else load_snapshot(ticket.run)
    fabric = next(
        fabric for fabric in snapshot.fabrics if fabric.code == ticket.fabric_color.fabric.code
    )
    return snapshot, fabric, shapes_by_key(snapshot.shapes)


def _keep_in_plan(ticket: CutTicket, use: ClothUse) -> None:
    """The plan that the ticket stands in says what is to be bought now; costs count all cloth,
    whether bought or not."""
    holder = ticket.supplement or ticket.recut or ticket.run
    plan = holder.plan if holder == ticket.run else (holder.plan or {})["cut"]
    for planned in plan["cut_tickets"]:
        if planned["ticket"] == ticket.code:
            planned["from_stock_mm"], planned["to_buy_mm"] = use.from_stock_mm, use.to_buy_mm
            planned["cloth_notes"] = list(use.reasons)
    holder.save(update_fields=["plan"])


# Flaws under plies that are planned


def plies_over_flaws(ticket: CutTicket) -> list[LayPly]:
    """The plies not cut yet that have a flaw in a block: one was written down since, or a bolt was
    chosen by hand."""
    from production.planning.cloth.flaws import barred_starts

    uncut = list(
        LayPly.objects.filter(lay__ticket=ticket, cut_at=None, lot__flaws__isnull=False)
        .select_related("lay", "lot")
        .distinct()
        .order_by("lay__position", "number")
    )
    near = [ply for ply in uncut if _flaws_of(ply)]
    if not near:
        return []
    _, fabric, shapes = _planned_from(ticket)
    lays = {lay.pk: planned_lay(lay) for lay in Lay.objects.filter(ticket=ticket)}
    return [
        ply
        for ply in near
        if ply.lot
        and ply.start_mm is not None
        and any(
            low_mm < ply.start_mm < high_mm
            for low_mm, high_mm in barred_starts(
                lays[ply.lay_id],
                shapes,
                cloth.as_bolt(ply.lot, ply.start_mm, ply.start_mm + ply.takes_mm),
                fabric,
                face_down=ply.lay.mode == FACE_TO_FACE and ply.number % 2 == 0,
            )
        )
    ]


def _flaws_of(ply: LayPly) -> bool:
    assert ply.lot and ply.start_mm is not None
    end_mm = ply.start_mm + ply.takes_mm
    return any(
        flaw.at_mm < end_mm and flaw.at_mm + flaw.length_mm > ply.start_mm
        for flaw in ply.lot.flaws.all()
    )


def tickets_to_lay(plies: Iterable[LayPly]) -> list[CutTicket]:
    """The tickets of plies that are planned on a bolt and not cut."""
    found: Mapping[int, CutTicket] = {
        ply.lay.ticket_id: ply.lay.ticket for ply in plies if ply.cut_at is None
    }
    return list(found.values())
