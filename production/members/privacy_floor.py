"""Names in what the floor keeps of an order's jackets: taps, checks, pins; and of whoever received
them, the name and the signature."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from django.db.models import Q, QuerySet

from orders.models import TeamOrder
from production.members.pseudonyms import Pseudonyms
from production.models import Delivery, Inspection, InspectionFault, Pin, Tap

SIGNATURE_ERASED = "signature erased"


def receivers_left(team_order: TeamOrder) -> bool:
    """Whether a delivery still says who received it."""
    said = ~Q(received_by="") | Q(signed=Delivery.Signed.SCREEN)
    return team_order.deliveries.filter(said).exists()


def clear_floor(order: TeamOrder, names: Pseudonyms, *, whole: bool) -> None:
    """`whole` erases every receiver with the signatures and notes; else those alone who go."""
    for rows, column in _texts(order):
        for pk, words in rows.exclude(**{column: ""}).values_list("pk", column):
            cleared = names.cleared(words, own=False)
            if cleared != words:
                rows.filter(pk=pk).update(**{column: cleared})
    for delivery in order.deliveries.all():
        _clear_delivery(delivery, names, whole=whole)


def _texts(order: TeamOrder) -> Iterator[tuple[QuerySet[Any], str]]:
    """Words that people typed beside the jackets of an order, as (rows, column)."""
    own = {"jacket__jacket_order__team_order": order}
    yield Tap.objects.filter(**own), "words"
    yield Inspection.objects.filter(**own), "note"
    faults = {f"inspection__{path}": value for path, value in own.items()}
    yield InspectionFault.objects.filter(**faults), "words"
    yield Pin.objects.filter(**own), "words"


def _clear_delivery(delivery: Delivery, names: Pseudonyms, *, whole: bool) -> None:
    goes = whole or names.goes(delivery.received_by)
    is_drawn = delivery.signed == Delivery.Signed.SCREEN
    note = "" if whole else names.cleared(delivery.note, own=False)
    values: dict[str, Any] = {
        "received_by": "" if whole else names.cleared(delivery.received_by, own=False)
    }
    if goes and is_drawn:
        # Signed on the screen goes with its strokes; the fact stays in the note.
        values |= {"signed": Delivery.Signed.NONE, "signature": []}
    if goes and (is_drawn or SIGNATURE_ERASED in delivery.note):
        told = [part for part in note.split("; ") if part and part != SIGNATURE_ERASED]
        note = "; ".join([*told, SIGNATURE_ERASED])[-200:]
    Delivery.objects.filter(pk=delivery.pk).update(note=note, **values)
