"""Jackets of one team order handed over together, to whom and signed how."""

from __future__ import annotations

import datetime
from collections.abc import Iterable
from uuid import UUID

from django.contrib.auth.models import User
from django.db import transaction
from django.db.models import Max
from django.utils import timezone

from orders.models import TeamOrder
from orders.services import amend
from production.errors import MovedOnError, StepRefusedError
from production.handing_over.signature import Strokes, checked_strokes
from production.models import DeliveredJacket, Delivery, Jacket
from production.planning.standing import Standing
from production.tracking import Action, name_of, one_line, record, told

NAME_LENGTH = 80


def hand_over(
    team_order: TeamOrder,
    jackets: Iterable[Jacket],
    *,
    received_by: str,
    signed: str,
    signature: Strokes,
    note: str,
    by: User | None,
    form_key: UUID | None,
    at: datetime.datetime | None = None,
) -> Delivery:
    """Hand over jackets of one order that wait for it: all of them, or none.

    The same `form_key` again with the same jackets gives the delivery that it made. Raises
    MovedOnError for a jacket that no longer waits, SignatureError for a signature that is none,
    StepRefusedError for the rest.
    """
    keys = {jacket.pk for jacket in jackets}
    strokes = checked_strokes(signature)
    _refuse_half_signed(signed, strokes)
    received_by, note = _name(received_by), one_line(note)
    with transaction.atomic():
        # Jackets before their order, as in all work on them, so that nobody waits in a ring.
        chosen = _locked_jackets(team_order, keys)
        order = TeamOrder.objects.select_for_update(of=("self",)).get(pk=team_order.pk)
        if earlier := _made_by(order, form_key, keys):
            return earlier
        _refuse_unready(chosen)
        at = at or timezone.now()
        delivery = Delivery.objects.create(
            team_order=order,
            number=_next_number(order),
            received_by=received_by,
            signed=signed,
            signature=strokes,
            note=note,
            form_key=form_key,
            at=at,
            by=by,
        )
        for jacket in chosen:
            event = record(jacket.code, Action.DONE, Jacket.Stage.HAND_OVER, by, at=at)
            DeliveredJacket.objects.create(delivery=delivery, jacket=jacket, event=event)
        amend(order, by, delivery_words(delivery, len(chosen), _left(order)))
    return delivery


def delivery_words(delivery: Delivery, jackets: int, left: int) -> str:
    """What the order remembers; without the name of who received them, which is erased one day."""
    counted = f"{jackets} jacket{'' if jackets == 1 else 's'}"
    follow = f"; {left} to follow" if left else ""
    return (
        f"delivery {delivery.number}: {counted} handed over, "
        f"{_signed_words(delivery.signed)}{follow}"
    )


def _signed_words(signed: str) -> str:
    words = Delivery.Signed(signed).label
    return words if signed == Delivery.Signed.NONE else f"signed {words}"


def _refuse_half_signed(signed: str, strokes: Strokes) -> None:
    if signed not in Delivery.Signed.values:
        raise StepRefusedError(f"'{signed}' is no way of signing: on the screen, on paper or none.")
    if signed == Delivery.Signed.SCREEN and not strokes:
        raise StepRefusedError(
            "Nothing is drawn in the signing field. Sign there, or choose 'on paper' or 'not "
            "signed'. Nothing was handed over."
        )
    if signed != Delivery.Signed.SCREEN and strokes:
        raise StepRefusedError(
            "There is a signature on the screen, but another way of signing is chosen. Choose 'on "
            "the screen', or clear it. Nothing was handed over."
        )


def _name(received_by: str) -> str:
    name = one_line(received_by)
    if len(name) > NAME_LENGTH:
        raise StepRefusedError(
            f"The name of who receives has {len(name)} letters; keep it to {NAME_LENGTH}."
        )
    return name


def _locked_jackets(team_order: TeamOrder, keys: set[int]) -> list[Jacket]:
    if not keys:
        raise StepRefusedError("No jacket is chosen: tick those that are handed over.")
    jackets = Jacket.objects.select_for_update(of=("self",)).order_by("pk")
    chosen = list(jackets.filter(pk__in=keys, jacket_order__team_order=team_order))
    if len(chosen) < len(keys):
        strange = len(keys) - len(chosen)
        raise StepRefusedError(
            f"{strange} of the jackets chosen {'is' if strange == 1 else 'are'} not in order "
            f"{team_order.code}; a delivery holds jackets of one order. Nothing was handed over."
        )
    return chosen


def _made_by(order: TeamOrder, form_key: UUID | None, keys: set[int]) -> Delivery | None:
    if form_key is None:
        return None
    earlier = Delivery.objects.filter(form_key=form_key).first()
    if earlier and earlier.team_order_id != order.pk:
        raise StepRefusedError(
            "This form was already sent for another order; open the page of the hand-over anew. "
            "Nothing was handed over."
        )
    if earlier and set(earlier.jackets.values_list("jacket", flat=True)) != keys:
        raise StepRefusedError(
            f"This form was already sent with other jackets, as delivery {earlier.number}; open the"
            " page of the hand-over anew. Nothing more was handed over."
        )
    return earlier


def _refuse_unready(jackets: list[Jacket]) -> None:
    unready = [one for one in jackets if one.cancelled_at or one.stage != Jacket.Stage.HAND_OVER]
    if not unready:
        return
    words = "; ".join(_why_not(jacket) for jacket in unready)
    raise MovedOnError(
        f"{words}. Nothing was handed over: look at who is ready now, and hand over once more."
    )


def _why_not(jacket: Jacket) -> str:
    named = f"{jacket.code} ({jacket.jacket_order.member})"
    if jacket.cancelled_at:
        return f"{named} was cancelled"
    now = Standing(jacket.stage, jacket.in_work, jacket.mend_reason)
    last = jacket.events.select_related("by", "undoes").order_by("pk").last()
    since = f" since {name_of(last)} recorded '{told(last)}'" if last else ""
    return f"{named} {now.words}{since}"


def _next_number(order: TeamOrder) -> int:
    return (order.deliveries.aggregate(last=Max("number"))["last"] or 0) + 1


def _left(order: TeamOrder) -> int:
    jackets = Jacket.objects.filter(jacket_order__team_order=order, cancelled_at=None)
    return jackets.exclude(stage=Jacket.Stage.HANDED_OVER).count()
