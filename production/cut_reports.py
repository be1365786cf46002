"""What was really cut: lays reported ply by ply, with the cloth that each ply took."""

from __future__ import annotations

import datetime
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import msgspec
from django.db import transaction
from django.db.models import Count, Q, QuerySet
from django.utils import timezone

from production import cloth, tracking
from production.errors import MovedOnError, ProductionError, StepRefusedError
from production.models import (
    CutTicket,
    Jacket,
    JacketBlock,
    Lay,
    LayPly,
    Run,
    SparePart,
    SpoiledPiece,
    StockLot,
    StockMovement,
    Supplement,
    TicketLine,
)
from production.planning.lays import layer_pieces, spread_count
from production.planning.plan import Lay as PlannedLay
from production.planning.plan import Placement
from production.planning.rows import LaidKey
from production.planning.snapshot import FabricSpec

if TYPE_CHECKING:
    from django.contrib.auth.models import User

SIDES = ("left", "right", "single")
NOTHING_CHANGED = "Nothing was changed."


class CutReportError(ProductionError):
    """A report that cannot be true; nothing was changed."""


@dataclass(frozen=True, slots=True)
class Reported:
    """What one tap reported: which plies of which lay, and how many pieces beyond the ticket's were
    put with the spare parts."""

    lay: Lay
    numbers: tuple[int, ...]
    spares: int = 0

    @property
    def words(self) -> str:
        plies = "ply" if len(self.numbers) == 1 else "plies"
        told = f"{self.lay.code}: {plies} {_listed(self.numbers)} cut."
        if self.spares:
            told += f" {self.spares} cut beyond the ticket: put with the spare parts."
        return told


def lock_run(run: int) -> None:
    """Reports, recuts and changes of one run follow one another. Its plan is not loaded."""
    list(Run.objects.select_for_update().filter(pk=run).values_list("pk"))


def find_lay(code: str) -> Lay:
    try:
        return Lay.objects.select_related("ticket__fabric_color__fabric", "ticket__run").get(
            code=code.strip()
        )
    except Lay.DoesNotExist as error:
        raise CutReportError(f"No lay has the code '{code}'. {NOTHING_CHANGED}") from error


@transaction.atomic
def report_cut(
    lay_code: str,
    numbers: Sequence[int] | None,
    by: User | None,
    *,
    lot: str = "",
    new_dye_lot: str = "",
) -> Reported:
    """Plies of a lay are cut: those numbered, or all that are not yet. They took the cloth that is
    planned, or that of the bolt `lot`; a bolt that is on no list yet comes in by its dye lot.

    Raises CutReportError for plies that the lay does not have or without cloth to take from, and
    MovedOnError for one that is cut already.
    """
    lay = find_lay(lay_code)
    lock_run(lay.ticket.run_id)
    rows = {row.number: row for row in stored_plies(lay)}
    chosen = _chosen(lay, rows, numbers)
    before = cut_beyond(lay.ticket)
    bolt = _bolt(lay, chosen, lot, new_dye_lot, by)
    now = timezone.now()
    for row in chosen:
        cloth.take_for(row, by, bolt)
        row.cut_at, row.cut_by = now, by
        row.save(update_fields=["cut_at", "cut_by"])
    _settle_recut(lay.ticket)
    spares = _put_by(lay.ticket, cut_beyond(lay.ticket) - before)
    return Reported(lay, tuple(row.number for row in chosen), spares)


@transaction.atomic
def take_back(lay_code: str, number: int, by: User | None) -> Reported:
    """A ply that was reported by mistake is not cut after all; its cloth goes back to the bolt by a
    movement of its own. Raises CutReportError while something counts on its pieces."""
    lay = find_lay(lay_code)
    lock_run(lay.ticket.run_id)
    row = {row.number: row for row in stored_plies(lay)}.get(number)
    if row is None:
        raise CutReportError(_no_ply(lay, number))
    if row.cut_at is None:
        raise MovedOnError(f"{lay.code}: ply {number} is not reported as cut. {NOTHING_CHANGED}")
    _refuse_counted_on(lay, row)
    before = cut_beyond(lay.ticket)
    cloth.give_back(row, by)
    row.cut_at = row.cut_by = None
    row.save(update_fields=["cut_at", "cut_by"])
    _settle_recut(lay.ticket)
    _take_out(lay.ticket, before - cut_beyond(lay.ticket))
    return Reported(lay, (number,))


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


def unstored_plies(lay: Lay) -> list[LayPly]:
    """The plies of a lay in order, as they would be where none are kept."""
    from production.planning.bolts import ply_takes_mm

    rows = list(lay.ply_rows.select_related("lot", "cut_by", "lay__ticket__fabric_color"))
    there = {row.number: row for row in rows}
    numbers = range(1, length_count(lay) + 1)
    if len(there) < len(numbers):
        fabric = msgspec.convert(lay.ticket.fabric_color.fabric, FabricSpec, from_attributes=True)
        takes_mm = ply_takes_mm(planned_lay(lay), fabric)
    return [
        there.get(number) or LayPly(lay=lay, number=number, takes_mm=takes_mm) for number in numbers
    ]


def _chosen(lay: Lay, rows: dict[int, LayPly], numbers: Sequence[int] | None) -> list[LayPly]:
    if numbers is None:
        left = [row for row in rows.values() if row.cut_at is None]
        if not left:
            raise MovedOnError(
                f"{lay.code}: all plies are reported as cut already. {NOTHING_CHANGED}"
            )
        return left
    for number in numbers:
        if number not in rows:
            raise CutReportError(_no_ply(lay, number))
        if at := rows[number].cut_at:
            who = person(rows[number].cut_by)
            raise MovedOnError(
                f"{lay.code}: ply {number} was already reported as cut by {who} "
                f"{tracking.moment(at)}. {NOTHING_CHANGED}"
            )
    return [rows[number] for number in dict.fromkeys(numbers)]


def _no_ply(lay: Lay, number: int) -> str:
    return (
        f"{lay.code} has no ply {number}: its plies are numbered 1 to {length_count(lay)}. "
        f"{NOTHING_CHANGED}"
    )


def _bolt(
    lay: Lay, plies: Sequence[LayPly], code: str, new_dye_lot: str, by: User | None
) -> StockLot | None:
    """The bolt that was named, where the plies did not come from the planned one."""
    color = lay.ticket.fabric_color
    if new_dye_lot:
        return cloth.receive(
            code=_free_code(color.code),
            fabric_color=color,
            dye_lot=new_dye_lot,
            length_mm=sum(row.takes_mm for row in plies),
            received_on=timezone.localdate(),
            by=by,
        )
    if code:
        lot = StockLot.objects.filter(code=code).first()
        if lot is None:
            raise CutReportError(f"No bolt has the code '{code}'. {NOTHING_CHANGED}")
        return lot
    if any(row.lot_id is None for row in plies):
        raise CutReportError(
            f"{lay.code}: say which bolt of {color.name} it was cut from. {NOTHING_CHANGED}"
        )
    return None


def _free_code(color: str) -> str:
    taken = set(StockLot.objects.values_list("code", flat=True))
    number = 1
    while (code := f"{color[:14]}-{number}") in taken:
        number += 1
    return code


def person(user: User | None) -> str:
    return (user.get_full_name() or user.get_username()) if user else "a command"


def _listed(numbers: Sequence[int]) -> str:
    if len(numbers) > 2 and numbers[-1] - numbers[0] == len(numbers) - 1:
        return f"{numbers[0]} to {numbers[-1]}"
    return ", ".join(str(number) for number in numbers)


# What the reports add up to


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


def ply_pieces(lay: PlannedLay, number: int) -> Counter[LaidKey]:
    """What one length of cloth yields: one layer, or both layers of a folded one."""
    layers = lay.plies // spread_count(lay)
    first = (number - 1) * layers + 1
    pieces: Counter[LaidKey] = Counter()
    for layer in range(first, first + layers):
        pieces.update(layer_pieces(lay, layer))
    return pieces


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


def cut_beyond_tickets(run: Run) -> Counter[tuple[str, str, str, str]]:
    """What is reported as cut beyond a run's tickets, by block, size, side and fabric color."""
    beyond: Counter[tuple[str, str, str, str]] = Counter()
    cut = cut_pieces(Lay.objects.filter(ticket__run=run))
    tickets = run.cut_tickets.filter(pk__in=list(cut)).select_related("fabric_color")
    for ticket in tickets.prefetch_related("lines"):
        for (block, size, side), count in (
            cut[ticket.pk] - asked_pieces(ticket.lines.all())
        ).items():
            beyond[block, size, side, ticket.fabric_color.code] += count
    return beyond


def _put_by(ticket: CutTicket, pieces: Counter[LaidKey]) -> int:
    """Over-cut pieces become spare parts. Each hangs on a jacket that has such a block."""
    for (block, size, side), count in pieces.items():
        SparePart.objects.bulk_create(
            SparePart(
                run=ticket.run,
                fabric_color=ticket.fabric_color,
                block=block,
                size=size,
                side=side,
                from_jacket=_namesake(ticket, block, size),
            )
            for _ in range(count)
        )
    return pieces.total()


def _namesake(ticket: CutTicket, block: str, size: str) -> Jacket:
    standing = JacketBlock.objects.filter(
        line__ticket=ticket, block=block, line__size=size
    ).select_related("jacket")
    if row := standing.first():
        return row.jacket
    return Jacket.objects.filter(run=ticket.run).order_by("pk")[0]


def _take_out(ticket: CutTicket, pieces: Counter[LaidKey]) -> None:
    for (block, size, side), count in pieces.items():
        parts = SparePart.objects.filter(
            run=ticket.run,
            fabric_color=ticket.fabric_color,
            block=block,
            size=size,
            side=side,
            taken_by=None,
        ).order_by("-pk")
        chosen = list(parts.values_list("pk", flat=True)[:count])
        if len(chosen) < count:
            raise CutReportError(
                f"A spare {block} {size} {side} that this ply yielded was taken by a jacket, so "
                f"the ply stays cut. {NOTHING_CHANGED}"
            )
        SparePart.objects.filter(pk__in=chosen).delete()


def _settle_recut(ticket: CutTicket) -> None:
    """The pieces that a recut was made for are replaced as they are cut, in the order in which they
    were reported."""
    if ticket.recut_id is None:
        return
    cut = cut_pieces(ticket.lays.all()).get(ticket.pk, Counter())
    for piece in SpoiledPiece.objects.filter(
        recut=ticket.recut_id, fabric_color=ticket.fabric_color
    ).order_by("pk"):
        key = (piece.block, piece.size, str(piece.side))
        is_replaced = cut[key] > 0
        cut[key] -= 1
        if piece.is_replaced and not is_replaced:
            _refuse_used(piece)
        if piece.is_replaced != is_replaced:
            piece.is_replaced = is_replaced
            piece.save(update_fields=["is_replaced"])


def _refuse_used(piece: SpoiledPiece) -> None:
    again = SpoiledPiece.objects.filter(
        jacket=piece.jacket_id, block=piece.block, side=piece.side, pk__gt=piece.pk
    )
    if again.exists():
        raise CutReportError(
            f"{piece.jacket} got its {piece.block} {piece.side} from this ply and it was spoiled "
            f"again, so the ply stays cut. {NOTHING_CHANGED}"
        )


def _refuse_counted_on(lay: Lay, row: LayPly) -> None:
    if row.spoiled_pieces.exists():
        raise CutReportError(
            f"{lay.code}: a piece of ply {row.number} is reported as short or spoiled, so the ply "
            f"stays cut. {NOTHING_CHANGED}"
        )
    later = Supplement.objects.filter(run=lay.ticket.run_id, at__gt=row.cut_at)
    for supplement in later.order_by("number"):
        given = (supplement.plan or {}).get("difference", {}).get("to_spare", [])
        if any(block["ticket"] == lay.ticket.code for block in given):
            raise CutReportError(
                f"{lay.code}: supplement {supplement.number} was made after that and put pieces of "
                f"this ticket with the spare parts, so the ply stays cut. {NOTHING_CHANGED}"
            )


# What pages show


@dataclass(frozen=True, slots=True)
class Step:
    """A report, or one taken back, as told on a page."""

    at: datetime.datetime
    by: str
    words: str


def reports_of(movements: QuerySet[StockMovement]) -> list[Step]:
    """The reports that these movements of cloth stand for, latest first."""
    rows = (
        movements.filter(ply__isnull=False, kind__in=["cut", "undone"])
        .select_related("ply__lay", "lot", "by")
        .order_by("-pk")
    )
    return [Step(row.at, person(row.by), _told(row)) for row in rows]


def _told(row: StockMovement) -> str:
    assert row.ply
    done = "cut from" if row.kind == StockMovement.Kind.CUT else "taken back, not cut from"
    return f"{row.ply.lay.code}, ply {row.ply.number}: {done} {row.lot.code} ({row.lot.dye_lot})"


def ready_jackets(run: Run) -> list[Jacket]:
    """The jackets that wait to be cut of which every ply of every lay is reported as cut, and of
    which nothing is missing."""
    open_lines: set[tuple[int, str, str]] = set()
    with_reports: set[tuple[int, str, str]] = set()
    for lay in with_cut_plies(Lay.objects.filter(ticket__run=run)):
        keys = {(lay.ticket_id, place["block"], place["size"]) for place in lay.placements}
        (with_reports if cut_plies(lay) >= length_count(lay) else open_lines).update(keys)
    whole = with_reports - open_lines
    waiting = Jacket.objects.filter(run=run, stage=Jacket.Stage.CUT, cancelled_at=None).exclude(
        pk__in=SpoiledPiece.objects.filter(is_replaced=False).values("jacket")
    )
    uncut = {
        jacket
        for jacket, ticket, block, size in JacketBlock.objects.filter(
            jacket__in=waiting
        ).values_list("jacket", "line__ticket", "block", "line__size")
        if (ticket, block, size) not in whole
    }
    with_blocks = waiting.filter(blocks__isnull=False).distinct().order_by("pk")
    return [jacket for jacket in with_blocks if jacket.pk not in uncut]


@transaction.atomic
def mark_cut(run: Run, by: User | None) -> tuple[list[str], list[str]]:
    """Cutting is done for every jacket that is ready for it: the codes of those moved on, and of
    those that somebody was quicker with."""
    lock_run(run.pk)
    moved, late = [], []
    for jacket in ready_jackets(run):
        try:
            tracking.record(jacket.code, tracking.Action.DONE, Jacket.Stage.CUT, by)
        except StepRefusedError:
            late.append(jacket.code)
        else:
            moved.append(jacket.code)
    return moved, late
