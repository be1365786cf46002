"""What the paper of cut tickets says about their cloth: where each ply is spread from."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from production.changing.change_state import withdrawn_from
from production.models import Flaw, Lay, Run
from production.planning.cloth.cloth_notes import in_spans
from production.planning.lengths import cloth_length, small_length
from production.services import load_snapshot
from production.stock.cloth_queries import Spread, TicketSpread, run_cloth

if TYPE_CHECKING:
    from production.documents.ticket_view import ClothRow, PaperCloth, TicketExtras

#: A flaw so near before or behind a ply is told as well. An invented starting value.
NEAR_MM = 100
MIXED = "No single dye lot makes up"


def ticket_extras(run: Run) -> TicketExtras:
    """What the tickets of a run, its supplements and recuts say beyond the plan."""
    from production.documents.ticket_view import TicketExtras

    unit = load_snapshot(run).workroom.length_unit
    notes = Lay.objects.filter(ticket__run=run).exclude(method_note="")
    return TicketExtras(
        lay_notes=dict(notes.values_list("code", "method_note")),
        cloth=_paper_cloth(run, unit),
        withdrawn=_withdrawn(run),
    )


def _withdrawn(run: Run) -> dict[str, tuple[str, ...]]:
    """By the code of a ticket the blocks that supplements withdrew from it, in words."""
    found: dict[str, tuple[str, ...]] = {}
    for ticket in run.cut_tickets.values_list("code", flat=True):
        found[ticket] = tuple(
            f"{words} (supplement {number})" for number, words in withdrawn_from(run, ticket)
        )
    return found


def _paper_cloth(run: Run, unit: str) -> dict[str, PaperCloth]:
    """By the codes of all tickets of a run, its supplements and recuts, as it is planned or cut
    now."""
    from production.documents.ticket_view import PaperCloth

    cloths = run_cloth(run)
    flaws = _flaws(cloths)
    return {
        cloth.ticket.code: PaperCloth(
            rows=tuple(_row(spread, flaws, unit) for spread in cloth.spreads),
            apart=tuple(_apart(cloth)),
            notes=cloth.notes,
        )
        for cloth in cloths
    }


def _flaws(cloths: Iterable[TicketSpread]) -> dict[int, list[Flaw]]:
    lots = {spread.lot.pk for cloth in cloths for spread in cloth.spreads if spread.lot}
    found: dict[int, list[Flaw]] = {}
    for flaw in Flaw.objects.filter(lot__in=lots).order_by("at_mm", "across_mm"):
        found.setdefault(flaw.lot_id, []).append(flaw)
    return found


def _row(spread: Spread, flaws: dict[int, list[Flaw]], unit: str) -> ClothRow:
    from production.documents.ticket_view import ClothRow

    takes = cloth_length(spread.takes_mm, unit)
    if spread.lot is None or spread.start_mm is None:
        return ClothRow(spread.lay, spread.plies, "to be bought", "", takes)
    kind = "remnant" if spread.lot.is_remnant else "bolt"
    cut = ", cut already" if spread.is_cut else ""
    first_mm, last_mm = spread.start_mm - NEAR_MM, spread.start_mm + spread.takes_mm + NEAR_MM
    near = [
        flaw
        for flaw in flaws.get(spread.lot.pk, [])
        if flaw.at_mm + flaw.length_mm > first_mm and flaw.at_mm < last_mm
    ]
    return ClothRow(
        lay=spread.lay,
        plies=spread.plies,
        cloth=f"{kind} {spread.lot.code}, dye lot {spread.lot.dye_lot}{cut}",
        start=cloth_length(spread.start_mm, unit),
        takes=takes,
        flaws="; ".join(_flaw_words(flaw, unit) for flaw in near),
    )


def _flaw_words(flaw: Flaw, unit: str) -> str:
    what = flaw.words or ("hole" if flaw.is_hole else "flaw")
    across = small_length(flaw.across_mm, unit)
    return f"{what} at {cloth_length(flaw.at_mm, unit)}, {across} from the lower selvedge"


def _apart(cloth: TicketSpread) -> Iterable[str]:
    if cloth.dye_lots:
        yield f"{len(cloth.dye_lots)} dye lots: keep their pieces apart."
        for lot in cloth.dye_lots:
            name = lot.name if lot.is_to_buy else f"dye lot {lot.name}"
            yield f"{name}: {in_spans(lot.jackets)}" if lot.jackets else name
    if cloth.mixed:
        yield f"{MIXED}: {in_spans(cloth.mixed)}. Compare the shades by daylight before sewing."
