"""What the report pages read: lays and their plies, pieces that are missing, kinds of tickets."""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from django.db.models import Prefetch, QuerySet
from django.urls import reverse

from production.models import (
    CutTicket,
    Jacket,
    Lay,
    LayPly,
    Recut,
    Run,
    SpoiledPiece,
    StockMovement,
)
from production.planning.cutting.lays import ply_pieces
from production.planning.cutting.rows import LaidKey
from production.planning.snapshot import BoltSpec
from production.reporting.cut_counts import (
    LineKey,
    cut_plies,
    length_count,
    planned_lay,
    unstored_plies,
    with_cut_plies,
)
from production.reporting.cut_reports import Step, person, reports_of
from production.reporting.missing import sides_of_line
from production.stages.table import block_names, ready_jackets
from production.stock import cloth

if TYPE_CHECKING:
    from production.planning.inspecting.sampling import Sample

REPORTS_SHOWN = 8


# Tickets and lays


@dataclass(frozen=True, slots=True)
class LayProgress:
    lay: Lay
    cut: int
    of: int

    @property
    def is_whole(self) -> bool:
        return self.cut >= self.of


def progress_of(lays: QuerySet[Lay]) -> list[LayProgress]:
    counted = with_cut_plies(lays).defer("placements")
    return [LayProgress(lay, cut_plies(lay), length_count(lay)) for lay in counted]


def ticket_kind(ticket: CutTicket) -> str:
    """Whether a ticket is the first of its color, a supplement or a recut, and what it adds to."""
    first = CutTicket.objects.filter(
        run=ticket.run_id, fabric_color=ticket.fabric_color_id, supplement=None, recut=None
    ).first()
    adds = f"adds to ticket {first}" if first else "a color that the run has no ticket for"
    if ticket.supplement:
        return f"Supplement {ticket.supplement.number}, {adds}"
    if ticket.recut:
        plan = ticket.recut.plan
        codes = dict.fromkeys(
            piece["adds_to"]
            for piece in plan["pieces"]
            if piece["fabric_color"] == ticket.fabric_color.code
        )
        tickets = "tickets" if len(codes) > 1 else "ticket"
        return f"Recut {ticket.recut.number}, adds to {tickets} {', '.join(codes)}"
    return "First ticket of this color"


@dataclass(frozen=True, slots=True)
class LayReport:
    """A lay with its plies; `pieces` are what it cuts, each with its count and a name."""

    lay: Lay
    plies: tuple[LayPly, ...]
    pieces: tuple[tuple[LaidKey, int, str], ...]
    bolts: tuple[BoltSpec, ...]
    reports: tuple[Step, ...]
    sample: Sample | None

    @property
    def of(self) -> int:
        return length_count(self.lay)

    @property
    def cut(self) -> list[LayPly]:
        return [ply for ply in self.plies if ply.cut_at]

    @property
    def left(self) -> list[LayPly]:
        return [ply for ply in self.plies if not ply.cut_at]

    @property
    def next(self) -> LayPly | None:
        return self.left[0] if self.left else None

    @property
    def asks_for_a_bolt(self) -> bool:
        return any(ply.lot_id is None for ply in self.left)

    @property
    def count(self) -> int:
        return sum(count for _, count, _ in self.pieces)


def lay_report(lay: Lay) -> LayReport:
    plies = unstored_plies(lay)
    planned = planned_lay(lay)
    counts: dict[LaidKey, int] = {}
    for number in range(1, length_count(lay) + 1):
        for key, count in ply_pieces(planned, number).items():
            counts[key] = counts.get(key, 0) + count
    names = block_names(block for block, _, _ in counts)
    takes_mm = max(ply.takes_mm for ply in plies)
    return LayReport(
        lay,
        tuple(plies),
        tuple((key, count, names.get(key[0], key[0])) for key, count in sorted(counts.items())),
        tuple(cloth.bolts_with_room(lay.ticket.fabric_color.code, takes_mm)),
        tuple(reports_of(StockMovement.objects.filter(ply__lay=lay))),
        sample_of(sum(counts.values())),
    )


def sample_of(pieces: int) -> Sample | None:
    """What to check of so many cut pieces; None for more than the table knows."""
    from production.planning.inspecting import sampling

    return sampling.sample_of(pieces) if 0 < pieces <= sampling.SIZES[-1][0] else None


def waiting_for_piece(lay: Lay, key: LaidKey) -> list[Jacket]:
    """The jackets that may get a piece of a lay: those with the block on its ticket, or those that
    its recut is made for."""
    block, size, side = key
    jackets = Jacket.objects.filter(cancelled_at=None).exclude(stage=Jacket.Stage.HANDED_OVER)
    missing = SpoiledPiece.objects.filter(block=block, size=size, side=side, dropped_at=None)
    if recut := lay.ticket.recut_id:
        found = jackets.filter(pk__in=missing.filter(recut=recut).values("jacket"))
    else:
        found = jackets.filter(
            blocks__line__ticket=lay.ticket_id, blocks__block=block, blocks__line__size=size
        ).exclude(pk__in=missing.waiting().values("jacket"))
    return list(found.select_related("jacket_order").order_by("pk"))


def pieces_of_jacket(jacket: Jacket) -> list[tuple[str, str]]:
    """The pieces of a jacket that can be reported: (block|side, words)."""
    waiting = {(piece.block, piece.side) for piece in jacket.spoiled_pieces.waiting()}
    rows = list(jacket.blocks.select_related("line"))
    names = block_names(row.block for row in rows)
    return [
        (f"{row.block}|{side}", f"{names.get(row.block, row.block)}{hand(side)} ({row.block})")
        for row in rows
        for side in sides_of_line(row.line)
        if (row.block, side) not in waiting
    ]


def hand(side: str) -> str:
    return "" if side == "single" else f" {side}"


# Missing pieces


@dataclass(frozen=True, slots=True)
class MissingRow:
    """A piece that was reported, and how it stands."""

    piece: SpoiledPiece
    named: str
    ticket: CutTicket | None
    by: str

    @property
    def is_waiting(self) -> bool:
        piece = self.piece
        return not (piece.is_replaced or piece.dropped_at or piece.taken_back_at)

    @property
    def can_be_taken_back(self) -> bool:
        return self.is_waiting and self.piece.recut_id is None

    @property
    def waits_for(self) -> str:
        return f"{self.named} ({self.ticket.code if self.ticket else 'no recut ticket yet'})"

    @property
    def standing(self) -> str:
        if self.piece.taken_back_at:
            return "reported by mistake"
        if self.piece.dropped_at:
            return "no longer needed"
        if self.piece.spare:
            return f"a spare part {self.piece.spare.origin} took its place"
        if self.is_waiting:
            return f"waits for {self.ticket}" if self.ticket else "waits for a recut ticket"
        return f"cut once more by {self.ticket}"


def missing_rows(pieces: QuerySet[SpoiledPiece]) -> list[MissingRow]:
    """Latest first."""
    rows = list(
        pieces.select_related(
            *("jacket__jacket_order", "by", "taken_back_by", "fabric_color"),
            *("spare__from_jacket", "spare__line__ticket"),
        )
        .prefetch_related(Prefetch("recut", Recut.objects.defer("snapshot", "plan")))
        .prefetch_related("recut__cut_tickets")
        .order_by("-pk")
    )
    names = block_names(row.block for row in rows)
    return [
        MissingRow(
            row,
            f"{names.get(row.block, row.block)}{hand(row.side)}",
            _recut_ticket(row),
            person(row.by),
        )
        for row in rows
    ]


def _recut_ticket(piece: SpoiledPiece) -> CutTicket | None:
    if piece.recut is None:
        return None
    return next(
        ticket
        for ticket in piece.recut.cut_tickets.all()
        if ticket.fabric_color_id == piece.fabric_color_id
    )


@dataclass(frozen=True, slots=True)
class Told:
    """Something about a jacket's pieces, for its history."""

    at: datetime.datetime
    by: str
    words: str


def story_of(missing: Iterable[MissingRow], blocks: Iterable[LineKey]) -> list[Told]:
    """What was reported of a jacket's pieces: those missing, and how far the lays are cut that cut
    its blocks."""
    told, wanted = [], set(blocks)
    for row in missing:
        words = f"{row.named} short or spoiled: {row.piece.reason}; {row.standing}"
        told.append(Told(row.piece.at, row.by, words))
        if at := row.piece.taken_back_at:
            words = f"{row.named} is not short or spoiled after all"
            told.append(Told(at, person(row.piece.taken_back_by), words))
        if row.piece.recut and row.ticket:
            wanted.add((row.ticket.pk, row.piece.block, row.piece.size))
    return told + [_lay_told(lay) for lay in _lays_begun(wanted)]


def _lays_begun(wanted: set[LineKey]) -> list[Lay]:
    """The lays that cut some of it and of which plies are cut; their `ply_rows` are these
    plies alone, the latest one last."""
    plies = LayPly.objects.exclude(cut_at=None)
    lays = Lay.objects.filter(
        pk__in=plies.filter(lay__ticket__in={ticket for ticket, _, _ in wanted}).values("lay")
    ).prefetch_related(
        Prefetch("ply_rows", plies.select_related("cut_by").order_by("cut_at", "number"))
    )
    return [
        lay
        for lay in lays
        if wanted & {(lay.ticket_id, place["block"], place["size"]) for place in lay.placements}
    ]


def _lay_told(lay: Lay) -> Told:
    *_, last = cut = list(lay.ply_rows.all())
    assert last.cut_at
    words = f"{len(cut)} of {length_count(lay)} plies of lay {lay.code} cut"
    return Told(last.cut_at, person(last.cut_by), words)


# The run


@dataclass(frozen=True, slots=True)
class RunCutting:
    """How far the cutting of a run is by its reports."""

    cut: int
    of: int
    ready: Sequence[Jacket]
    waiting: Sequence[MissingRow]
    without_ticket: int
    recuts: Sequence[Recut]
    reports: Sequence[Step]


def run_cutting(run: Run) -> RunCutting:
    lays = progress_of(Lay.objects.filter(ticket__run=run))
    cut = sum(row.cut for row in lays)
    waiting = missing_rows(SpoiledPiece.objects.waiting().filter(jacket__run=run))
    movements = StockMovement.objects.filter(ply__lay__ticket__run=run)
    return RunCutting(
        cut=cut,
        of=sum(row.of for row in lays),
        ready=ready_jackets(run) if cut else (),
        waiting=waiting,
        without_ticket=sum(row.ticket is None for row in waiting),
        recuts=list(recuts_of(run)),
        reports=reports_of(movements, newest=REPORTS_SHOWN),
    )


def recuts_of(run: Run) -> QuerySet[Recut]:
    """Without the two large columns."""
    tickets = CutTicket.objects.select_related("fabric_color__fabric")
    return (
        run.recuts.defer("snapshot", "plan")
        .select_related("by")
        .prefetch_related(Prefetch("cut_tickets", tickets))
        .order_by("number")
    )


def ticket_report_url(run: str, ticket: str) -> str:
    return reverse("production:ticket_report", args=[run, ticket])
