"""Plies that had no cloth when they were planned, laid onto cloth that has come since."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.db import transaction
from django.db.models import QuerySet

from production.models import LayPly, Run, StockLot
from production.stock.cloth import free_stretches, lots_with_lengths

#: From and to along a lot, in mm.
Stretch = tuple[int, int]


@dataclass(frozen=True, slots=True)
class LaidOn:
    """What was laid where. `apart` names, by ticket, the dye lots that it is spread from now, where
    they are more than one."""

    plies: tuple[LayPly, ...] = ()
    apart: tuple[tuple[str, tuple[str, ...]], ...] = ()


def waiting(run: Run, color: str) -> QuerySet[LayPly]:
    """The plies of a run in one fabric color that are on no bolt, in the order of cutting."""
    return (
        LayPly.objects.filter(
            lay__ticket__run=run, lay__ticket__fabric_color__code=color, lot=None, cut_at=None
        )
        .select_related("lay__ticket")
        .order_by("lay__ticket__position", "lay__position", "number")
    )


@transaction.atomic
def lay_on_lots(run: Run, lots: Sequence[StockLot]) -> LaidOn:
    """Plan the plies of a run that wait for cloth onto these lots of their color, as many as fit,
    each in one stretch beside the flaws that are written down."""
    list(
        StockLot.objects.select_for_update().filter(pk__in=[lot.pk for lot in lots]).order_by("pk")
    )
    laid: list[LayPly] = []
    known = _known(lots)
    for color in dict.fromkeys(lot.fabric_color.code for lot in known):
        own = [lot for lot in known if lot.fabric_color.code == color]
        for ply, lot, start_mm in _places(waiting(run, color), own):
            ply.lot, ply.start_mm = lot, start_mm
            ply.save(update_fields=["lot", "start_mm"])
            laid.append(ply)
    return LaidOn(tuple(laid), tuple(_apart(laid)))


def colors_with_room(run: Run) -> dict[str, int]:
    """How many plies that wait for cloth would fit on one dye lot that lies here, by color."""
    found = {}
    waits = LayPly.objects.filter(lay__ticket__run=run, lot=None, cut_at=None)
    for color in waits.values_list("lay__ticket__fabric_color__code", flat=True).distinct():
        if fitting := len(_best(run, color)[1]):
            found[color] = fitting
    return found


@transaction.atomic
def lay_on_hand(run: Run, color: str) -> LaidOn:
    """The same for the cloth of a color that lies here: that of the one dye lot on which most of
    the plies fit, so that no further lot comes in."""
    return lay_on_lots(run, _best(run, color)[0])


def _best(run: Run, color: str) -> tuple[list[StockLot], list[tuple[LayPly, StockLot, int]]]:
    """The lots of the dye lot with room for most of the plies that wait, and their places."""
    by_dye_lot: dict[str, list[StockLot]] = {}
    for lot in lots_with_lengths(with_cloth_only=True).filter(fabric_color__code=color):
        by_dye_lot.setdefault(lot.dye_lot, []).append(lot)
    plies = list(waiting(run, color))
    rooms = [(lots, _places(plies, _known(lots))) for lots in by_dye_lot.values()]
    return max(rooms, key=lambda room: len(room[1]), default=([], []))


def in_words(laid: LaidOn) -> str:
    """What was laid where: '3 plies of R-0001-T1 are planned on B-105.'"""
    lots = dict.fromkeys(ply.lot.code for ply in laid.plies if ply.lot)
    tickets = dict.fromkeys(ply.lay.ticket.code for ply in laid.plies)
    plies = "1 ply" if len(laid.plies) == 1 else f"{len(laid.plies)} plies"
    verb = "is" if len(laid.plies) == 1 else "are"
    return f"{plies} of {', '.join(tickets)} {verb} planned on {', '.join(lots)}."


def apart_words(laid: LaidOn) -> list[str]:
    return [
        f"{ticket} is spread from dye lots {', '.join(dye_lots)} now: keep the jackets of each "
        "apart, or ask the supplier for one lot."
        for ticket, dye_lots in laid.apart
    ]


def without_flaws(lot: StockLot) -> list[Stretch]:
    """The free stretches of a lot, each ended by the flaws in it."""
    stretches = []
    flaws = sorted((flaw.at_mm, flaw.at_mm + flaw.length_mm) for flaw in lot.flaws.all())
    for start_mm, end_mm in free_stretches(lot):
        for flaw_mm, clear_mm in flaws:
            if start_mm < clear_mm and flaw_mm < end_mm:
                if flaw_mm > start_mm:
                    stretches.append((start_mm, flaw_mm))
                start_mm = clear_mm
        if end_mm > start_mm:
            stretches.append((start_mm, end_mm))
    return stretches


def _known(lots: Iterable[StockLot]) -> list[StockLot]:
    return list(
        lots_with_lengths()
        .filter(pk__in=[lot.pk for lot in lots])
        .select_related("fabric_color")
        .prefetch_related("flaws", "ply_rows")
        .order_by("pk")
    )


def _places(
    plies: Iterable[LayPly], lots: Iterable[StockLot]
) -> list[tuple[LayPly, StockLot, int]]:
    """Which ply begins where on which lot; those that fit nowhere are left out."""
    room = [(lot, without_flaws(lot)) for lot in lots]
    return [(ply, *place) for ply in plies if (place := _first_place(ply, room))]


def _first_place(
    ply: LayPly, room: Iterable[tuple[StockLot, list[Stretch]]]
) -> tuple[StockLot, int] | None:
    """The first stretch that a ply fits on, which is shorter by it then."""
    for lot, stretches in room:
        if ply.lay.usable_width_mm > lot.usable_width_mm:
            continue
        for number, (start_mm, end_mm) in enumerate(stretches):
            if end_mm - start_mm >= ply.takes_mm:
                stretches[number] = (start_mm + ply.takes_mm, end_mm)
                return lot, start_mm
    return None


def _apart(laid: Iterable[LayPly]) -> Iterable[tuple[str, tuple[str, ...]]]:
    for ticket in {ply.lay.ticket_id: ply.lay.ticket for ply in laid}.values():
        rows = LayPly.objects.filter(lay__ticket=ticket, lot__isnull=False).order_by("lot__dye_lot")
        dye_lots = tuple(rows.values_list("lot__dye_lot", flat=True).distinct())
        if len(dye_lots) > 1:
            yield ticket.code, dye_lots
