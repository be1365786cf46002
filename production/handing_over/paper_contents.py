"""What stands on the papers of a hand-over, told from the order as it is."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING

from django.http import Http404
from django.utils import timezone
from django.utils.formats import date_format

from patterns.models import Fabric, Workroom
from production.handing_over.duties import cloth_care
from production.handing_over.hand_over_state import DeliveryRow, Following, RailOut
from production.models import Delivery, Jacket, JacketBlock
from production.planning.labels.care import Care, ClothCare, care_of

if TYPE_CHECKING:
    from production.documents.care_card import CareCard
    from production.documents.packing_list import Follows, PackingList
    from production.documents.parcel_labels import ParcelLabels


def delivery_or_404(rail: RailOut, number: str | int) -> DeliveryRow:
    for row in rail.deliveries:
        if str(row.delivery.number) == str(number):
            return row
    raise Http404(f"Order {rail.team_order.code} has no delivery {number}.")


def packed_jackets(rail: RailOut, shown: DeliveryRow | None) -> tuple[Jacket, ...]:
    """Those of a delivery but for what was taken back as a mistake; without one, those that wait
    to be handed over."""
    if shown is None:
        return rail.ready
    return tuple(row.jacket for row in shown.rows if not row.taken_back_at)


def packing_list_of(rail: RailOut, shown: DeliveryRow | None, room: Workroom) -> PackingList:
    from production.documents.packing_list import Packed, PackingList

    order, packed = rail.team_order, packed_jackets(rail, shown)
    before = _before(rail, shown)
    away = {jacket.pk for jacket in packed} | before
    delivery = shown.delivery if shown else None
    return PackingList(
        order=order.code,
        title=order.title,
        club=order.club.name,
        workroom=room.name,
        address=room.address,
        number=delivery.number if delivery else rail.next_number,
        day=timezone.localdate(delivery.at if delivery else None),
        packed=tuple(
            Packed(
                jacket.jacket_order.member,
                jacket.size,
                jacket.jacket_order.colorway.name,
                jacket.jacket_order.name_on_jacket,
                jacket.code,
            )
            for jacket in packed
        ),
        follows=tuple(_follows(rail, away)),
        before=len(before),
        ordered=rail.ordered,
        received=delivery is not None,
        received_by=delivery.received_by if delivery else "",
        signed=_signed_words(delivery) if delivery else "",
        strokes=delivery.signature if delivery else (),
        note=delivery.note if delivery else "",
    )


def _signed_words(delivery: Delivery) -> str:
    return "" if delivery.signed == Delivery.Signed.NONE else delivery.get_signed_display()


def _before(rail: RailOut, shown: DeliveryRow | None) -> set[int]:
    """The jackets that were handed over before a delivery, or by now."""
    last = shown.delivery if shown else None
    earlier = {
        row.jacket.pk
        for one in rail.deliveries
        for row in one.counting
        if last is None or one.delivery.number < last.number
    }
    alone = {jacket.pk for jacket, event in rail.alone if last is None or event.at < last.at}
    return earlier | alone


def _follows(rail: RailOut, away: set[int]) -> Iterable[Follows]:
    """Every other jacket of the order with where it is."""
    from production.documents.packing_list import Follows

    words = {one.jacket.pk: following_words(one) for one in rail.following}
    for one in rail.deliveries:
        words |= dict.fromkeys(
            (row.jacket.pk for row in one.counting), f"is in delivery {one.delivery.number}"
        )
    for jacket in rail.jackets:
        if jacket.pk in away or jacket.cancelled_at:
            continue
        ready = "is ready" if jacket.stage == Jacket.Stage.HAND_OVER else "is handed over alone"
        yield Follows(jacket.jacket_order.member, jacket.size, words.get(jacket.pk, ready))


def following_words(one: Following) -> str:
    words = "goes back to be mended" if one.mends else one.words
    if one.expected is None:
        return words
    return f"{words}; about {date_format(one.expected, 'j M Y')}"


def labels_of(
    rail: RailOut,
    shown: DeliveryRow | None,
    room: Workroom,
    address: Callable[[str], str],
    parcels: int,
) -> ParcelLabels:
    from production.documents.parcel_labels import BagLabel, ParcelLabels, shared_out

    packed = packed_jackets(rail, shown)
    places = shared_out(len(packed), parcels)
    bags = tuple(
        BagLabel(
            member=jacket.jacket_order.member,
            size=jacket.size,
            size_name=_size_name(jacket),
            colorway=jacket.jacket_order.colorway.name,
            name_on_jacket=jacket.jacket_order.name_on_jacket,
            code=jacket.code,
            address=address(jacket.code),
            parcel=parcel,
        )
        for jacket, parcel in zip(packed, places, strict=True)
    )
    order = rail.team_order
    return ParcelLabels(
        order=order.code,
        title=order.title,
        club=order.club.name,
        sender=maker_words(room),
        number=shown.delivery.number if shown else rail.next_number,
        ordered=rail.ordered,
        parcels=max(places, default=0),
        bags=bags,
    )


def _size_name(jacket: Jacket) -> str:
    size = jacket.jacket_order.size
    return size.name if size.code == jacket.size and size.name != size.code else ""


def maker_words(room: Workroom) -> str:
    return f"{room.name}, {room.address}" if room.address else room.name


def care_cards_of(rail: RailOut, shown: DeliveryRow | None, room: Workroom) -> list[CareCard]:
    """One card for each jacket of the order, or of a delivery; like combinations of fabrics
    together, the most frequent first."""
    from production.documents.care_card import CareCard

    kept = [jacket for jacket in rail.jackets if not jacket.cancelled_at]
    jackets = packed_jackets(rail, shown) if shown else kept
    counts: dict[Care, int] = {}
    for care in _cares(jackets).values():
        counts[care] = counts.get(care, 0) + 1
    batch = f"run {rail.run.code}" if rail.run else ""
    return [
        CareCard(maker_words(room), room.made_in, batch, care, count)
        for care, count in sorted(counts.items(), key=lambda item: -item[1])
    ]


def _cares(jackets: Iterable[Jacket]) -> dict[int, Care]:
    """How each jacket is cared for, by its key."""
    rows = JacketBlock.objects.filter(jacket__in=list(jackets)).order_by("jacket")
    cloths = {fabric.pk: cloth_care(fabric) for fabric in Fabric.objects.order_by("name")}
    used: dict[int, set[int]] = {}
    for jacket, fabric in rows.values_list("jacket_id", "line__ticket__fabric_color__fabric_id"):
        used.setdefault(jacket, set()).add(fabric)
    known: dict[frozenset[int], Care] = {}
    cares = {}
    for jacket, fabrics in used.items():
        key = frozenset(fabrics)
        if key not in known:
            known[key] = care_of(_in_order(cloths, key))
        cares[jacket] = known[key]
    return cares


def _in_order(cloths: dict[int, ClothCare], keys: frozenset[int]) -> Iterable[ClothCare]:
    return (cloth for key, cloth in cloths.items() if key in keys)
