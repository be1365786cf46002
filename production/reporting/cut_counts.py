"""What the cut reports of a run add up to: plies, pieces, and lines that are wholly cut."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

import msgspec
from django.db.models import Count, Q, QuerySet

from production.models import CutTicket, Lay, LayPly, Run, TicketLine
from production.planning.changes import Piece
from production.planning.cutting.lays import ply_pieces
from production.planning.cutting.rows import LaidKey
from production.planning.plan import Lay as PlannedLay
from production.planning.plan import Placement
from production.planning.snapshot import FabricSpec

SIDES = ("left", "right", "single")


def length_count(lay: Lay) -> int:
    """How many lengths of cloth are spread and reported; a folded one makes two layers."""
    return lay.plies // 2 if lay.mode == Lay.Mode.FOLDED else lay.plies


def stored_plies(lay: Lay) -> list[LayPly]:
    """The plies of a lay in order; lays from before plies were kept get theirs now."""
    rows = unstored_plies(lay)
    missing = [row for row in rows if row.pk is None]
    if not missing:
        return rows
    LayPly.objects.bulk_create(missing)
    return unstored_plies(lay)


def unstored_plies(lay: Lay, kept: Iterable[LayPly] | None = None) -> list[LayPly]:
    """The plies of a lay in order, as they would be where none are kept; `kept` are those that are,
    if they are at hand."""
    from production.planning.cloth.bolts import ply_takes_mm

    if kept is None:
        kept = lay.ply_rows.select_related("lot", "cut_by", "lay__ticket__fabric_color")
    there = {row.number: row for row in kept}
    numbers = range(1, length_count(lay) + 1)
    if len(there) < len(numbers):
        fabric = msgspec.convert(lay.ticket.fabric_color.fabric, FabricSpec, from_attributes=True)
        takes_mm = ply_takes_mm(planned_lay(lay), fabric)
    return [
        there.get(number) or LayPly(lay=lay, number=number, takes_mm=takes_mm) for number in numbers
    ]


def planned_lay(lay: Lay) -> PlannedLay:
    """A stored lay as the planning knows it, without its figures."""
    return PlannedLay(
        lay=lay.code,
        mode=lay.mode,
        plies=lay.plies,
        usable_width_mm=lay.usable_width_mm,
        length_mm=lay.length_mm,
        efficiency=0.0,
        lower_bound_mm=0.0,
        box_rows_mm=0.0,
        placements=msgspec.convert(lay.placements, tuple[Placement, ...]),
    )


def with_cut_plies(lays: QuerySet[Lay]) -> QuerySet[Lay]:
    """Lays with `cut_plies`, how many of their plies are reported as cut."""
    return lays.annotate(cut_plies=Count("ply_rows", filter=Q(ply_rows__cut_at__isnull=False)))


def cut_plies(lay: Lay) -> int:
    counted: int = vars(lay)["cut_plies"]
    return counted


def cut_pieces(lays: QuerySet[Lay]) -> dict[int, Counter[LaidKey]]:
    """How many pieces of each block, size and side are reported as cut, by the key of the ticket;
    tickets of which nothing is reported are left out."""
    numbers: dict[int, list[int]] = {}
    for lay_key, number in LayPly.objects.filter(lay__in=lays, cut_at__isnull=False).values_list(
        "lay", "number"
    ):
        numbers.setdefault(lay_key, []).append(number)
    found: dict[int, Counter[LaidKey]] = {}
    for lay in lays.filter(pk__in=list(numbers)):
        planned = planned_lay(lay)
        for number in numbers[lay.pk]:
            found.setdefault(lay.ticket_id, Counter()).update(ply_pieces(planned, number))
    return found


def asked_pieces(lines: Iterable[TicketLine]) -> Counter[LaidKey]:
    return Counter(
        {
            (line.block, line.size, side): count
            for line in lines
            for side in SIDES
            if (count := getattr(line, side))
        }
    )


def cut_beyond(ticket: CutTicket) -> Counter[LaidKey]:
    """What is reported as cut beyond what the ticket asks for."""
    cut = cut_pieces(ticket.lays.all()).get(ticket.pk, Counter())
    return cut - asked_pieces(ticket.lines.all()) if cut else cut


def cut_beyond_tickets(run: Run) -> Counter[Piece]:
    """What is reported as cut beyond a run's tickets, by block, size, side and fabric color."""
    beyond: Counter[Piece] = Counter()
    cut = cut_pieces(Lay.objects.filter(ticket__run=run))
    tickets = run.cut_tickets.filter(pk__in=list(cut)).select_related("fabric_color")
    for ticket in tickets.prefetch_related("lines"):
        for (block, size, side), count in (
            cut[ticket.pk] - asked_pieces(ticket.lines.all())
        ).items():
            beyond[block, size, side, ticket.fabric_color.code] += count
    return beyond


#: Ticket, block and size: what a jacket gets from a line of a ticket.
LineKey = tuple[int, str, str]


def wholly_cut(lays: QuerySet[Lay]) -> set[LineKey]:
    """What these lays cut of which every ply of every one of them is reported as cut."""
    cut: set[LineKey] = set()
    uncut: set[LineKey] = set()
    for lay in with_cut_plies(lays):
        keys = {(lay.ticket_id, place["block"], place["size"]) for place in lay.placements}
        (cut if cut_plies(lay) >= length_count(lay) else uncut).update(keys)
    return cut - uncut
