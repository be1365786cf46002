"""Pieces that came out short or were spoiled: who waits for them, and what was no such piece."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from django.db import transaction
from django.utils import timezone

from production import tracking
from production.errors import MovedOnError, ProductionError
from production.models import Jacket, LayPly, SparePart, SpoiledPiece, TicketLine
from production.planning.cutting.lays import ply_pieces
from production.reporting.cut_counts import SIDES, length_count, planned_lay, stored_plies
from production.reporting.cut_reports import find_lay, lock_run, person
from production.reporting.cut_settling import NOTHING_CHANGED

if TYPE_CHECKING:
    from django.contrib.auth.models import User


class RecutError(ProductionError):
    """A piece that cannot be reported or cut once more as told; nothing was changed."""


@dataclass(frozen=True, slots=True)
class Missing:
    """The report of one piece: the block and side of a jacket, and the lay and ply that it was cut
    in, where that is known."""

    jacket: str
    block: str
    side: str
    reason: str
    lay: str = ""
    ply: int | None = None


@transaction.atomic
def report_missing(missing: Missing, by: User | None) -> SpoiledPiece:
    """A piece is short or spoiled. A spare part of its kind takes its place at once where there is
    one; else the jacket waits for a recut.

    Raises UnknownJacketError, StepRefusedError for a reason that is no line of text, and RecutError
    for a piece that the jacket or the lay does not have, or that is reported already.
    """
    jacket = _jacket_in_work(missing.jacket)
    reason = tracking.one_line(missing.reason)
    if not reason:
        raise RecutError(f"Say why the piece is short or spoiled. {NOTHING_CHANGED}")
    line = _line_of(jacket, missing.block)
    if missing.side not in sides_of_line(line):
        raise RecutError(
            f"{jacket}: block {line.block} has no {missing.side or 'unnamed'} side; it is "
            f"{' and '.join(sides_of_line(line))}. {NOTHING_CHANGED}"
        )
    _refuse_waiting(jacket, line.block, missing.side)
    piece = SpoiledPiece(
        jacket=jacket,
        block=line.block,
        size=line.size,
        side=missing.side,
        fabric_color=line.ticket.fabric_color,
        ply=_ply(missing, jacket, line),
        reason=reason,
        by=by,
    )
    replace_by_spare(piece)
    piece.save()
    return piece


@transaction.atomic
def take_back_missing(piece: SpoiledPiece, by: User | None) -> SpoiledPiece:
    """The report was a mistake, the piece is there and good: the jacket waits for it no more. The
    report stays, with who took it back and when.

    Raises MovedOnError for one that is taken back already, and RecutError once something was done
    about it: a spare part taken, a recut made, or the jacket changed.
    """
    lock_run(piece.jacket.run_id)
    stored = SpoiledPiece.objects.select_related("jacket", "spare", "recut").get(pk=piece.pk)
    named = f"{stored.jacket}: {stored.block} {stored.side}"
    if stored.taken_back_at:
        raise MovedOnError(
            f"{named} was already taken back by {person(stored.taken_back_by)} "
            f"{tracking.moment(stored.taken_back_at)}. {NOTHING_CHANGED}"
        )
    if why := _settled(stored):
        raise RecutError(f"{named} stays reported as short or spoiled: {why}. {NOTHING_CHANGED}")
    stored.taken_back_at, stored.taken_back_by = timezone.now(), by
    stored.save(update_fields=["taken_back_at", "taken_back_by"])
    return stored


def _settled(piece: SpoiledPiece) -> str:
    """What was done about a piece since it was reported; empty when nothing was."""
    if piece.dropped_at:
        return "the jacket was changed since and needs it no longer"
    if piece.spare:
        return "a spare part took its place"
    if piece.recut:
        return f"recut {piece.recut.number} was made for it"
    return ""


def _jacket_in_work(code: str) -> Jacket:
    run = Jacket.objects.filter(code=code.strip()).values_list("run", flat=True).first()
    if run:
        lock_run(run)
    jacket = tracking.locked_jacket(code)
    if jacket.cancelled_at:
        raise RecutError(
            f"{jacket} was cancelled {tracking.moment(jacket.cancelled_at)}; nothing is cut for it "
            f"any more. {NOTHING_CHANGED}"
        )
    if jacket.stage == Jacket.Stage.HANDED_OVER:
        raise RecutError(
            f"{jacket} is handed over: send it back to mend before a piece of it is cut once more. "
            f"{NOTHING_CHANGED}"
        )
    return jacket


def _line_of(jacket: Jacket, block: str) -> TicketLine:
    blocks = jacket.blocks.select_related("line__ticket__fabric_color")
    if row := blocks.filter(block=block).first():
        return row.line
    has = ", ".join(blocks.values_list("block", flat=True))
    raise RecutError(f"{jacket} has no block '{block}'; it has {has}. {NOTHING_CHANGED}")


def sides_of_line(line: TicketLine) -> list[str]:
    return [side for side in SIDES if getattr(line, side)]


def _refuse_waiting(jacket: Jacket, block: str, side: str) -> None:
    row = jacket.spoiled_pieces.waiting().filter(block=block, side=side).first()
    if row:
        raise RecutError(
            f"{jacket}: {block} {side} was already reported by {person(row.by)} "
            f"{tracking.moment(row.at)} and is waited for. {NOTHING_CHANGED}"
        )


def _ply(missing: Missing, jacket: Jacket, line: TicketLine) -> LayPly | None:
    """The ply that the piece comes from; only one that can have yielded it."""
    if not missing.lay:
        return None
    lay = find_lay(missing.lay)
    if lay.ticket.run_id != jacket.run_id:
        raise RecutError(
            f"{jacket} belongs to run {jacket.run}, and lay {lay} is cut for run {lay.ticket.run}. "
            f"{NOTHING_CHANGED}"
        )
    key = (line.block, line.size, missing.side)
    planned, count = planned_lay(lay), length_count(lay)
    yields = [number for number in range(1, count + 1) if ply_pieces(planned, number)[key]]
    if not yields or line.ticket.fabric_color_id != lay.ticket.fabric_color_id:
        raise RecutError(f"Lay {lay} cuts no {' '.join(key)} for {jacket}. {NOTHING_CHANGED}")
    if missing.ply is None:
        return None
    if missing.ply not in yields:
        raise RecutError(
            f"Lay {lay} cuts {' '.join(key)} in ply {', '.join(map(str, yields))}, not in ply "
            f"{missing.ply}. {NOTHING_CHANGED}"
        )
    return stored_plies(lay)[missing.ply - 1]


def replace_by_spare(piece: SpoiledPiece) -> bool:
    """The oldest spare part of the same kind, if there is one, takes the place of the piece."""
    spare = (
        SparePart.objects.filter(
            run=piece.jacket.run_id,
            fabric_color=piece.fabric_color,
            block=piece.block,
            size=piece.size,
            side=piece.side,
            taken_by=None,
        )
        .order_by("pk")
        .first()
    )
    if spare is None:
        return False
    spare.taken_by = piece.jacket
    spare.save(update_fields=["taken_by"])
    piece.spare, piece.is_replaced = spare, True
    return True
