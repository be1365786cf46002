"""What follows from a cut report: over-cut pieces are put by, recut pieces take their places; and
what cannot be taken back any more."""

from __future__ import annotations

from collections import Counter

from production.errors import ProductionError
from production.models import (
    CutTicket,
    Lay,
    LayPly,
    SparePart,
    SpoiledPiece,
    Supplement,
)
from production.planning.cutting.rows import LaidKey
from production.reporting.cut_counts import cut_pieces

NOTHING_CHANGED = "Nothing was changed."


class CutReportError(ProductionError):
    """A report that cannot be true; nothing was changed."""


def put_by(ticket: CutTicket, pieces: Counter[LaidKey]) -> int:
    """Over-cut pieces become spare parts; no jacket has given them back."""
    lines = {(line.block, line.size): line for line in ticket.lines.all()} if pieces else {}
    for (block, size, side), count in pieces.items():
        SparePart.objects.bulk_create(
            SparePart(
                run=ticket.run,
                fabric_color=ticket.fabric_color,
                block=block,
                size=size,
                side=side,
                line=lines[block, size],
            )
            for _ in range(count)
        )
    return pieces.total()


def take_out(ticket: CutTicket, pieces: Counter[LaidKey]) -> None:
    for (block, size, side), count in pieces.items():
        parts = SparePart.objects.filter(
            line__ticket=ticket, block=block, size=size, side=side, taken_by=None
        ).order_by("-pk")
        chosen = list(parts.values_list("pk", flat=True)[:count])
        if len(chosen) < count:
            raise CutReportError(
                f"A spare {block} {size} {side} that this ply yielded was taken by a jacket, so "
                f"the ply stays cut. {NOTHING_CHANGED}"
            )
        SparePart.objects.filter(pk__in=chosen).delete()


def settle_recut(ticket: CutTicket) -> None:
    """The pieces that a recut was made for are replaced as they are cut, in the order in which they
    were reported."""
    if ticket.recut_id is None:
        return
    cut = cut_pieces(ticket.lays.all()).get(ticket.pk, Counter())
    for piece in SpoiledPiece.objects.filter(
        recut=ticket.recut_id, fabric_color=ticket.fabric_color, dropped_at=None
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
    again = SpoiledPiece.objects.true().filter(
        jacket=piece.jacket_id, block=piece.block, side=piece.side, pk__gt=piece.pk
    )
    if again.exists():
        raise CutReportError(
            f"{piece.jacket} got its {piece.block} {piece.side} from this ply and it was spoiled "
            f"again, so the ply stays cut. {NOTHING_CHANGED}"
        )


def refuse_counted_on(lay: Lay, row: LayPly) -> None:
    if row.spoiled_pieces.true().exists():
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
