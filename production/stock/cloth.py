"""Cloth in the workroom: what comes, what goes, and what nothing is planned on yet.

How much of a lot is left is the sum of its movements, which are only ever added. Positions along it
count from the end that it is cut from: cutting moves the front on, a count or a remnant taken off
moves the far end.
"""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Mapping
from dataclasses import replace
from itertools import count
from typing import TYPE_CHECKING

from django.db import transaction
from django.db.models import Prefetch, Q, QuerySet, Sum
from django.db.models.functions import Coalesce
from django.utils import timezone

from patterns.models import FabricColor
from patterns.services import workroom
from production.errors import ProductionError
from production.models import (
    CutTicket,
    Flaw,
    Lay,
    LayPly,
    PurchaseLine,
    StockLot,
    StockMovement,
)
from production.planning.cloth.bolts import SMALLEST_REMNANT_MM
from production.planning.lengths import cloth_length
from production.planning.snapshot import BoltSpec, FlawSpec, RunSnapshot

if TYPE_CHECKING:
    from django.contrib.auth.models import User

    from production.planning.cloth.bolts import ClothUse

Kind = StockMovement.Kind
NOTHING_CHANGED = "Nothing was changed."
#: A stretch of a lot, from and to.
Stretch = tuple[int, int]


class ClothError(ProductionError):
    """Cloth that cannot be used as told; nothing was changed. `field` names what is wrong."""

    def __init__(self, words: str, field: str | None = None) -> None:
        super().__init__(words)
        self.field = field


# What is there


def lots_with_lengths(*, with_cloth_only: bool = False) -> QuerySet[StockLot]:
    """Lots with `left_mm`, what is left by the book, and `end_mm`, the position of the far end."""
    lots = StockLot.objects.annotate(
        left_mm=Coalesce(Sum("movements__mm"), 0),
        end_mm=Coalesce(
            Sum("movements__mm", filter=~Q(movements__kind__in=[Kind.CUT, Kind.UNDONE])), 0
        ),
    )
    return lots.filter(left_mm__gt=0) if with_cloth_only else lots


def bolts_on_hand(leaving_out: Iterable[CutTicket] = ()) -> Iterable[BoltSpec]:
    """The stretches of all lots that no ply is planned on; a lot may have several. Plies of the
    tickets `leaving_out` do not count, so that these can be planned again."""
    plies = LayPly.objects.exclude(lay__ticket__in=[ticket.pk for ticket in leaving_out])
    lots = (
        lots_with_lengths(with_cloth_only=True)
        .select_related("fabric_color")
        .prefetch_related("flaws", Prefetch("ply_rows", plies))
        .order_by("fabric_color__code", "dye_lot", "code")
    )
    for lot in lots:
        for start_mm, end_mm in free_stretches(lot):
            yield as_bolt(lot, start_mm, end_mm)


def as_bolt(lot: StockLot, start_mm: int, end_mm: int) -> BoltSpec:
    """A stretch of a lot as the planning knows it, with the flaws that reach into it."""
    return BoltSpec(
        code=lot.code,
        fabric_color=lot.fabric_color.code,
        dye_lot=lot.dye_lot,
        usable_width_mm=lot.usable_width_mm,
        start_mm=start_mm,
        end_mm=end_mm,
        is_remnant=lot.is_remnant,
        flaws=tuple(
            FlawSpec(flaw.at_mm, flaw.across_mm, flaw.length_mm, flaw.width_mm)
            for flaw in lot.flaws.all()
            if flaw.at_mm < end_mm and flaw.at_mm + flaw.length_mm > start_mm
        ),
    )


def with_bolts_again(snapshot: RunSnapshot, tickets: Iterable[CutTicket]) -> RunSnapshot:
    """The snapshot with the cloth of today for these tickets, which are planned again. Those of
    other colors keep the cloth that they were planned from."""
    again = list(tickets)
    colors = {ticket.fabric_color.code for ticket in again}
    kept = (bolt for bolt in snapshot.bolts if bolt.fabric_color not in colors)
    today = (bolt for bolt in bolts_on_hand(leaving_out=again) if bolt.fabric_color in colors)
    return replace(snapshot, bolts=(*kept, *today))


def free_stretches(lot: StockLot) -> list[Stretch]:
    """Where nothing is cut or planned, from the front on; `lot` comes from `lots_with_lengths`.

    What lies before the last ply that was cut is a loose bit and counts no more.
    """
    plies = sorted(_taken(lot), key=lambda ply: ply[0])
    cut_to_mm = max((end_mm for _, end_mm, is_cut in plies if is_cut), default=0)
    free: list[Stretch] = []
    from_mm = cut_to_mm
    for start_mm, end_mm, _ in (*plies, (vars(lot)["end_mm"], 0, False)):
        if start_mm > from_mm:
            free.append((from_mm, start_mm))
        from_mm = max(from_mm, end_mm)
    return free


def _taken(lot: StockLot) -> list[tuple[int, int, bool]]:
    return [
        (ply.start_mm, ply.start_mm + ply.takes_mm, ply.cut_at is not None)
        for ply in lot.ply_rows.all()
        if ply.start_mm is not None
    ]


def planned_mm(lot: StockLot) -> int:
    """How much of a lot is planned on and not cut yet."""
    return sum(ply.takes_mm for ply in lot.ply_rows.all() if ply.cut_at is None)


def bolts_with_room(color: str, takes_mm: int) -> list[BoltSpec]:
    """The stretches of a fabric color on which so much lies that nothing is planned on."""
    return [
        bolt
        for bolt in bolts_on_hand()
        if bolt.fabric_color == color and bolt.end_mm - bolt.start_mm >= takes_mm
    ]


def locked_lot(pk: int) -> StockLot:
    """A lot that nobody else can take from until this transaction ends."""
    StockLot.objects.select_for_update().get(pk=pk)
    return lots_with_lengths().select_related("fabric_color").get(pk=pk)


def in_words(mm: int) -> str:
    return cloth_length(mm, workroom().length_unit)


# What comes


@transaction.atomic
def receive(
    *,
    code: str,
    fabric_color: FabricColor,
    dye_lot: str,
    length_mm: int,
    received_on: datetime.date,
    by: User | None,
    usable_width_mm: int | None = None,
    is_remnant: bool = False,
    note: str = "",
    purchase_line: PurchaseLine | None = None,
) -> StockLot:
    """A bolt or remnant comes into the workroom, as wide as its fabric unless told otherwise.

    Raises ClothError for a code that another lot has, and for cloth without a length or width.
    """
    width_mm = fabric_color.fabric.usable_width_mm if usable_width_mm is None else usable_width_mm
    refuse_no_size(length_mm, width_mm)
    refuse_known(code)
    lot = StockLot.objects.create(
        code=code,
        fabric_color=fabric_color,
        dye_lot=dye_lot,
        usable_width_mm=width_mm,
        is_remnant=is_remnant,
        received_on=received_on,
        note=note,
    )
    move(lot, Kind.RECEIVED, length_mm, by, purchase_line=purchase_line)
    return lot


def refuse_no_size(length_mm: int, width_mm: int) -> None:
    if length_mm <= 0:
        raise ClothError("Cloth has a length above zero: measure it.", "length_mm")
    if width_mm <= 0:
        raise ClothError("Cloth has a usable width above zero: measure it.", "usable_width_mm")


def refuse_known(code: str) -> None:
    known = StockLot.objects.filter(code=code).select_related("fabric_color").first()
    if known:
        raise ClothError(
            f"{code} is a lot of {known.fabric_color.name} already: give this one another code.",
            "code",
        )


def move(
    lot: StockLot,
    kind: StockMovement.Kind,
    mm: int,
    by: User | None,
    *,
    reason: str = "",
    ply: LayPly | None = None,
    purchase_line: PurchaseLine | None = None,
) -> StockMovement:
    return StockMovement.objects.create(
        lot=lot, kind=kind, mm=mm, by=by, reason=reason, ply=ply, purchase_line=purchase_line
    )


# What is planned on


def plan_plies(lays: Mapping[str, Lay], use: ClothUse) -> None:
    """Store the plies of these lays with the stretches that they take.

    Raises ClothError when somebody else has planned on one of the stretches meanwhile, or when the
    lot has become shorter.
    """
    lots = _free_for(use)
    LayPly.objects.bulk_create(
        (
            LayPly(
                lay=lays[spread.lay],
                number=spread.number,
                lot=lots[spread.bolt] if spread.bolt else None,
                start_mm=spread.start_mm,
                takes_mm=spread.takes_mm,
            )
            for spread in use.spreads
            if spread.lay in lays
        ),
        batch_size=2000,
    )


def take_off(plies: Iterable[LayPly]) -> None:
    """These plies, none of them cut, are planned on no cloth any more."""
    listed = list(plies)
    for ply in listed:
        ply.lot = ply.start_mm = None
    LayPly.objects.bulk_update(listed, ["lot", "start_mm"])


def put_on(plies: Iterable[LayPly], use: ClothUse) -> None:
    """Plan plies that are stored onto the stretches of `use`. Raises as `plan_plies` does."""
    lots = _free_for(use)
    spreads = {(spread.lay, spread.number): spread for spread in use.spreads}
    listed = list(plies)
    for ply in listed:
        spread = spreads[ply.lay.code, ply.number]
        ply.lot = lots[spread.bolt] if spread.bolt else None
        ply.start_mm, ply.takes_mm = spread.start_mm, spread.takes_mm
    LayPly.objects.bulk_update(listed, ["lot", "start_mm", "takes_mm"])


def _free_for(use: ClothUse) -> dict[str, StockLot]:
    """The lots that plies are to lie on, locked, by code; ClothError where one is not free."""
    codes = {spread.bolt for spread in use.spreads if spread.bolt}
    list(StockLot.objects.select_for_update().filter(code__in=codes).order_by("pk"))
    lots = {
        lot.code: lot
        for lot in lots_with_lengths().filter(code__in=codes).prefetch_related("ply_rows")
    }
    free = {code: free_stretches(lot) for code, lot in lots.items()}
    for spread in use.spreads:
        if spread.bolt and spread.start_mm is not None:
            start_mm, end_mm = spread.start_mm, spread.start_mm + spread.takes_mm
            if not any(low <= start_mm and end_mm <= high for low, high in free[spread.bolt]):
                raise ClothError(
                    f"Bolt {spread.bolt} was cut from, counted or planned on meanwhile, and ply "
                    f"{spread.number} of {spread.lay} does not fit any more. {NOTHING_CHANGED} "
                    "Plan once more."
                )
    return lots


# What goes


@transaction.atomic
def take_for(ply: LayPly, by: User | None, lot: StockLot | None = None) -> StockMovement:
    """A ply is cut: its cloth leaves the bolt that is planned, or `lot`, from the next place on it
    that is free. A bit that was skipped before it goes along: as waste, or as a remnant where it
    is long enough to keep.

    Raises ClothError where that bolt is of another color or too short.
    """
    if lot and lot.pk != ply.lot_id:
        _lay_on(ply, lot)
    assert ply.lot_id and ply.start_mm is not None
    bolt = locked_lot(ply.lot_id)
    left_mm: int = vars(bolt)["left_mm"]
    if left_mm < ply.takes_mm:
        raise ClothError(
            f"By the books {bolt} has {in_words(left_mm)} left, and ply {ply.number} of {ply.lay} "
            f"takes {in_words(ply.takes_mm)}: count the bolt, or say which other one it was cut "
            f"from. {NOTHING_CHANGED}"
        )
    before_mm = max((end_mm for _, end_mm, _ in _taken(bolt) if end_mm <= ply.start_mm), default=0)
    waste_mm = min(ply.start_mm - before_mm, left_mm - ply.takes_mm)
    taken = move(bolt, Kind.CUT, -ply.takes_mm - waste_mm, by, ply=ply)
    if waste_mm >= SMALLEST_REMNANT_MM:
        _keep_skipped(bolt, (before_mm, before_mm + waste_mm), ply, by)
    return taken


def _keep_skipped(bolt: StockLot, skipped: Stretch, ply: LayPly, by: User | None) -> None:
    """What was skipped before a ply is a remnant of its own now, with its flaws."""
    from_mm, to_mm = skipped
    remnant = StockLot.objects.create(
        code=_remnant_code(bolt.code),
        fabric_color=bolt.fabric_color,
        dye_lot=bolt.dye_lot,
        usable_width_mm=bolt.usable_width_mm,
        is_remnant=True,
        cut_from=bolt,
        received_on=timezone.localdate(),
    )
    reason = f"skipped on {bolt} before ply {ply.number} of {ply.lay}"
    move(remnant, Kind.RECEIVED, to_mm - from_mm, by, reason=reason, ply=ply)
    for flaw in bolt.flaws.all():
        first_mm, last_mm = max(flaw.at_mm, from_mm), min(flaw.at_mm + flaw.length_mm, to_mm)
        if first_mm < last_mm:
            Flaw.objects.create(
                lot=remnant,
                at_mm=first_mm - from_mm,
                across_mm=flaw.across_mm,
                length_mm=last_mm - first_mm,
                width_mm=flaw.width_mm,
                is_hole=flaw.is_hole,
                words=flaw.words,
            )


def _remnant_code(bolt: str) -> str:
    taken = set(StockLot.objects.values_list("code", flat=True))
    return next(code for number in count(1) if (code := f"{bolt[:15]}-{number}") not in taken)


@transaction.atomic
def give_back(ply: LayPly, by: User | None) -> StockMovement:
    """The report that a ply was cut is taken back by a movement of its own."""
    cut = ply.movements.filter(kind=Kind.CUT).latest("pk")
    kept = ply.movements.filter(kind=Kind.RECEIVED, pk__gt=cut.pk).select_related("lot").first()
    if kept:
        _take_in(kept, by)
    return move(cut.lot, Kind.UNDONE, -cut.mm, by, ply=ply)


def _take_in(kept: StockMovement, by: User | None) -> None:
    """A remnant that was skipped is on its bolt after all."""
    remnant = locked_lot(kept.lot_id)
    if vars(remnant)["left_mm"] != kept.mm or remnant.ply_rows.exists():
        raise ClothError(
            f"Remnant {remnant} was left over before this ply, and is cut or planned on since: the "
            f"ply stays cut. {NOTHING_CHANGED}"
        )
    move(remnant, Kind.COUNTED, -kept.mm, by, reason="its ply is not cut after all")


def _lay_on(ply: LayPly, lot: StockLot) -> None:
    color = ply.lay.ticket.fabric_color
    if lot.fabric_color_id != color.pk:
        raise ClothError(
            f"{lot} is {lot.fabric_color.name}, and {ply.lay} is cut from {color.name}. "
            f"{NOTHING_CHANGED}"
        )
    locked_lot(lot.pk)
    room = [bolt for bolt in bolts_with_room(color.code, ply.takes_mm) if bolt.code == lot.code]
    if not room:
        raise ClothError(
            f"{lot} has no {in_words(ply.takes_mm)} free for ply {ply.number} of {ply.lay}: choose "
            f"another bolt of this color. {NOTHING_CHANGED}"
        )
    ply.lot, ply.start_mm = lot, room[0].start_mm
    ply.save(update_fields=["lot", "start_mm"])
