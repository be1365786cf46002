"""Hand-overs, pins, cut reports, missing pieces and changes as lines of the history."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from django.db.models import Count, Exists, F, OuterRef

from production.history.lines import Kind, Line, name, of_jacket
from production.history.sources import Rows, Source
from production.history.tell_floor import OF_JACKET, with_jackets
from production.models import Delivery, Pin, SpoiledPiece, StockMovement, Supplement
from production.planning.standing import WORK
from production.reporting.reports_state import MissingRow, missing_rows

MOVED = StockMovement.Kind


def _deliveries(keys: Iterable[int]) -> Mapping[int, Line]:
    """Without the name of who received them, which is erased one day."""
    rows = (
        Delivery.objects.filter(pk__in=list(keys))
        .select_related("by", "team_order__run_order__run")
        .defer("team_order__run_order__run__snapshot", "team_order__run_order__run__plan")
        .annotate(count=Count("jackets"))
    )
    found = {}
    for row in rows:
        count = vars(row)["count"]
        signed = row.get_signed_display()
        words = (
            f"{row.team_order.code}, delivery {row.number}: {count} "
            f"jacket{'' if count == 1 else 's'} handed over, "
            f"{signed if row.signed == Delivery.Signed.NONE else f'signed {signed}'}"
        )
        run = row.team_order.run_order.run.code
        found[row.pk] = Line(row.at, name(row.by), Kind.DELIVERIES, words, run=run)
    return found


def _pins(keys: Iterable[int]) -> Mapping[int, Line]:
    return {
        row.pk: of_jacket(row.jacket, row.at, row.by, Kind.PINS, f"held by hand: {_pin_words(row)}")
        for row in _pin_rows(keys)
    }


def _lifted(keys: Iterable[int]) -> Mapping[int, Line]:
    return {
        row.pk: of_jacket(
            row.jacket,
            row.lifted_at,
            row.lifted_by,
            Kind.PINS,
            f"no longer held by hand: {_pin_words(row)}",
        )
        for row in _pin_rows(keys)
        if row.lifted_at
    }


def _pin_rows(keys: Iterable[int]) -> Rows:
    return with_jackets(Pin.objects.filter(pk__in=list(keys))).select_related("lifted_by", "person")


def _pin_words(pin: Pin) -> str:
    who = f" by {pin.person}" if pin.person else ""
    day = f" on {pin.day:%d %b %Y}" if pin.day else ""
    why = f" ({pin.words})" if pin.words else ""
    return f"{WORK[pin.stage]}{who}{day}{why}"


def _cuts(keys: Iterable[int]) -> Mapping[int, Line]:
    later = StockMovement.objects.filter(
        kind=MOVED.UNDONE, ply=OuterRef("ply"), lot=OuterRef("lot"), pk__gt=OuterRef("pk")
    )
    rows = (
        StockMovement.objects.filter(pk__in=list(keys))
        .select_related("by", "lot", "ply__lay__ticket__run")
        .defer(
            "ply__lay__placements", "ply__lay__ticket__run__snapshot", "ply__lay__ticket__run__plan"
        )
        .annotate(taken_back=Exists(later))
    )
    return {
        row.pk: Line(
            row.at,
            name(row.by),
            Kind.CUTS,
            _cut_words(row),
            undone=row.kind == MOVED.CUT and vars(row)["taken_back"],
            run=row.ply.lay.ticket.run.code if row.ply else "",
        )
        for row in rows
    }


def _cut_words(row: StockMovement) -> str:
    ply = f"{row.ply.lay.code}, ply {row.ply.number}" if row.ply else "a ply of a lay that is gone"
    done = "cut from" if row.kind == MOVED.CUT else "taken back, not cut from"
    return f"{ply}: {done} {row.lot.code} ({row.lot.dye_lot})"


def _reports(rows: Rows) -> Rows:
    return rows.filter(kind__in=[MOVED.CUT, MOVED.UNDONE])


def _pieces(keys: Iterable[int]) -> Mapping[int, Line]:
    return {
        row.piece.pk: Line(
            row.piece.at,
            row.by,
            Kind.PIECES,
            f"{row.named} short or spoiled: {row.piece.reason}; {row.standing}",
            undone=row.piece.taken_back_at is not None,
            jacket=row.piece.jacket.code,
            run=vars(row.piece)["run_code"],
        )
        for row in _missing(keys)
    }


def _pieces_back(keys: Iterable[int]) -> Mapping[int, Line]:
    return {
        row.piece.pk: Line(
            row.piece.taken_back_at,
            name(row.piece.taken_back_by),
            Kind.PIECES,
            f"{row.named} is not short or spoiled after all",
            jacket=row.piece.jacket.code,
            run=vars(row.piece)["run_code"],
        )
        for row in _missing(keys)
        if row.piece.taken_back_at
    }


def _missing(keys: Iterable[int]) -> list[MissingRow]:
    pieces = SpoiledPiece.objects.filter(pk__in=list(keys))
    return missing_rows(pieces.annotate(run_code=F("jacket__run__code")))


def _was_taken_back(rows: Rows) -> Rows:
    return rows.filter(taken_back_at__isnull=False)


def _was_lifted(rows: Rows) -> Rows:
    return rows.filter(lifted_at__isnull=False)


def _changes(keys: Iterable[int]) -> Mapping[int, Line]:
    rows = (
        Supplement.objects.filter(pk__in=list(keys))
        .select_related("by", "run")
        .defer("snapshot", "plan", "run__snapshot", "run__plan")
    )
    return {
        row.pk: Line(
            row.at,
            name(row.by),
            Kind.CHANGES,
            f"supplement {row.number}: {row.words}",
            run=row.run.code,
        )
        for row in rows
    }


DELIVERIES = Source(
    *("delivery", Kind.DELIVERIES, Delivery, "at", "by"),
    *("team_order__run_order__run", "jackets__jacket", _deliveries),
)
PINS = Source("pin", Kind.PINS, Pin, "at", "by", *OF_JACKET, _pins)
LIFTED = Source(
    *("unpin", Kind.PINS, Pin, "lifted_at", "lifted_by"), *OF_JACKET, _lifted, _was_lifted
)
CUTS = Source(
    *("cut", Kind.CUTS, StockMovement, "at", "by"),
    *("ply__lay__ticket__run", "", _cuts, _reports),
)
PIECES = Source("piece", Kind.PIECES, SpoiledPiece, "at", "by", *OF_JACKET, _pieces)
PIECES_BACK = Source(
    *("piece_back", Kind.PIECES, SpoiledPiece, "taken_back_at", "taken_back_by"),
    *(*OF_JACKET, _pieces_back, _was_taken_back),
)
CHANGES = Source("change", Kind.CHANGES, Supplement, "at", "by", "run", "", _changes)
