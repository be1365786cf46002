"""Cloth in the workroom: what comes, what goes, and what nothing is planned on yet."""

from __future__ import annotations

import datetime
from collections.abc import Iterable
from typing import TYPE_CHECKING

from django.db import transaction
from django.db.models import Max, Q, Sum
from django.db.models.functions import Coalesce

from patterns.models import FabricColor
from production.models import StockLot, StockMovement
from production.planning.snapshot import BoltSpec, FlawSpec

if TYPE_CHECKING:
    from django.contrib.auth.models import User


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
) -> StockLot:
    """A bolt or remnant comes into the workroom, as wide as its fabric unless told otherwise."""
    lot = StockLot.objects.create(
        code=code,
        fabric_color=fabric_color,
        dye_lot=dye_lot,
        usable_width_mm=usable_width_mm or fabric_color.fabric.usable_width_mm,
        is_remnant=is_remnant,
        received_on=received_on,
    )
    StockMovement.objects.create(lot=lot, kind=StockMovement.Kind.RECEIVED, mm=length_mm, by=by)
    return lot


def bolts_on_hand() -> Iterable[BoltSpec]:
    """What is left of each lot behind the last ply that is planned on it."""
    lots = (
        StockLot.objects.select_related("fabric_color")
        .prefetch_related("flaws")
        .annotate(
            left_mm=Sum("movements__mm"),
            gone_mm=Coalesce(
                Sum("movements__mm", filter=Q(movements__kind__in=["cut", "undone", "remnant"])), 0
            ),
        )
        .order_by("fabric_color__code", "dye_lot", "code")
    )
    planned_to = dict(
        StockLot.objects.annotate(to=Max("ply_rows__start_mm")).values_list("pk", "to")
    )
    for lot in lots:
        reserved = lot.ply_rows.filter(start_mm=planned_to[lot.pk]).first()
        start_mm = -lot.gone_mm
        if reserved and reserved.start_mm is not None:
            start_mm = reserved.start_mm + reserved.takes_mm
        end_mm = lot.left_mm - lot.gone_mm
        if end_mm > start_mm:
            yield BoltSpec(
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
                ),
            )
