"""Looking after the cloth: counting anew, setting remnants aside, writing flaws down."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from django.db import transaction

from production.models import Flaw, LayPly, StockLot
from production.stock.cloth import (
    ClothError,
    Kind,
    free_stretches,
    in_words,
    locked_lot,
    move,
    refuse_known,
    refuse_no_size,
)

if TYPE_CHECKING:
    from django.contrib.auth.models import User


@dataclass(frozen=True, slots=True)
class Counted:
    """A count with what it changes; `without_cloth` are the plies that were planned on what is not
    there, and are to be bought now."""

    lot: StockLot
    more_mm: int
    without_cloth: tuple[LayPly, ...] = ()


@transaction.atomic
def count_anew(lot: StockLot, *, left_mm: int, reason: str, by: User | None) -> Counted:
    """What is really left of a lot, put right by one movement that says why.

    Raises ClothError for less than nothing and without a reason.
    """
    if left_mm < 0:
        raise ClothError("A bolt has nothing left or more, never less.", "left_mm")
    if not reason.strip():
        raise ClothError("Say why the count differs from the book.", "reason")
    bolt = locked_lot(lot.pk)
    more_mm = left_mm - vars(bolt)["left_mm"]
    if not more_mm:
        return Counted(bolt, 0)
    move(bolt, Kind.COUNTED, more_mm, by, reason=reason.strip())
    end_mm = vars(bolt)["end_mm"] + more_mm
    rows = bolt.ply_rows.filter(cut_at=None).select_related("lay").order_by("start_mm")
    lost = tuple(ply for ply in rows if (ply.start_mm or 0) + ply.takes_mm > end_mm)
    for ply in lost:
        ply.lot = ply.start_mm = None
    LayPly.objects.bulk_update(lost, ["lot", "start_mm"])
    return Counted(bolt, more_mm, lost)


@transaction.atomic
def set_aside(
    lot: StockLot, *, code: str, length_mm: int, by: User | None, usable_width_mm: int | None = None
) -> StockLot:
    """The last `length_mm` of a lot become a remnant with a code of its own; its flaws go along.

    Raises ClothError where more is asked for than lies behind the last planned ply, and for a code
    that is taken.
    """
    bolt = locked_lot(lot.pk)
    end_mm: int = vars(bolt)["end_mm"]
    width_mm = bolt.usable_width_mm if usable_width_mm is None else usable_width_mm
    refuse_no_size(length_mm, width_mm)
    if width_mm > bolt.usable_width_mm:
        raise ClothError("A remnant is no wider than its bolt.", "usable_width_mm")
    free = free_stretches(bolt)
    free_mm = free[-1][1] - free[-1][0] if free and free[-1][1] == end_mm else 0
    if length_mm > free_mm:
        raise ClothError(
            f"Behind the last planned ply {bolt} has {in_words(free_mm)} free.", "length_mm"
        )
    refuse_known(code)
    remnant = StockLot.objects.create(
        code=code,
        fabric_color=bolt.fabric_color,
        dye_lot=bolt.dye_lot,
        usable_width_mm=width_mm,
        is_remnant=True,
        cut_from=bolt,
        received_on=bolt.received_on,
    )
    move(bolt, Kind.REMNANT, -length_mm, by, reason=f"set aside as {code}")
    move(remnant, Kind.RECEIVED, length_mm, by, reason=f"cut from {bolt}")
    _flaws_go_along(bolt, remnant, end_mm - length_mm)
    return remnant


def _flaws_go_along(bolt: StockLot, remnant: StockLot, from_mm: int) -> None:
    """Flaws behind the cut are those of the remnant; one that it goes through is on both."""
    for flaw in bolt.flaws.all():
        reaches_mm = flaw.at_mm + flaw.length_mm
        if reaches_mm <= from_mm:
            continue
        if flaw.across_mm < remnant.usable_width_mm:
            starts_mm = max(flaw.at_mm, from_mm)
            Flaw.objects.create(
                lot=remnant,
                at_mm=starts_mm - from_mm,
                across_mm=flaw.across_mm,
                length_mm=reaches_mm - starts_mm,
                width_mm=min(flaw.width_mm, remnant.usable_width_mm - flaw.across_mm),
                is_hole=flaw.is_hole,
                words=flaw.words,
            )
        if flaw.at_mm >= from_mm:
            flaw.delete()
        else:
            flaw.length_mm = from_mm - flaw.at_mm
            flaw.save(update_fields=["length_mm"])


@transaction.atomic
def add_flaw(
    lot: StockLot,
    *,
    at_mm: int,
    across_mm: int,
    length_mm: int,
    width_mm: int,
    is_hole: bool = False,
    words: str = "",
) -> tuple[LayPly, ...]:
    """Write down a flaw; the plies planned over it are given back, to be looked at.

    Raises ClothError for a flaw without a size, beyond the end of the bolt or beside it.
    """
    bolt = locked_lot(lot.pk)
    if length_mm <= 0:
        raise ClothError("A flaw has a length above zero.", "length_mm")
    if width_mm <= 0:
        raise ClothError("A flaw has a width above zero.", "width_mm")
    end_mm: int = vars(bolt)["end_mm"]
    if at_mm < 0 or at_mm + length_mm > end_mm:
        raise ClothError(
            f"{bolt} ends at {in_words(end_mm)}: the flaw would lie beyond its end.", "at_mm"
        )
    if across_mm < 0 or across_mm + width_mm > bolt.usable_width_mm:
        raise ClothError(
            f"{bolt} is {bolt.usable_width_mm} mm wide: the flaw would lie beside it.", "across_mm"
        )
    Flaw.objects.create(
        lot=bolt,
        at_mm=at_mm,
        across_mm=across_mm,
        length_mm=length_mm,
        width_mm=width_mm,
        is_hole=is_hole,
        words=words,
    )
    over = bolt.ply_rows.filter(cut_at=None, start_mm__lt=at_mm + length_mm).select_related("lay")
    return tuple(
        ply
        for ply in over.order_by("start_mm")
        if ply.start_mm is not None and ply.start_mm + ply.takes_mm > at_mm
    )


@transaction.atomic
def remove_flaw(flaw: Flaw) -> None:
    """Strike off a flaw that was written down by mistake."""
    flaw.delete()
