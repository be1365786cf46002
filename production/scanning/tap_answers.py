"""What a device or a page is told of a tap."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest

from production.models import Jacket, Tap
from production.planning.standing import Standing

LEVELS = {Tap.Outcome.RECORDED: messages.SUCCESS, Tap.Outcome.REPEATED: messages.INFO}


def tell(request: HttpRequest, tap: Tap) -> None:
    """On the next page."""
    messages.add_message(request, LEVELS.get(Tap.Outcome(tap.outcome), messages.ERROR), tap.words)


def answer(tap: Tap) -> dict[str, Any]:
    """For the device that sent it: what came of it, and where the jacket stands now. Of the member
    it keeps nothing."""
    told: dict[str, Any] = {
        "key": str(tap.key),
        "outcome": tap.outcome,
        "words": tap.words,
        "code": tap.code,
        "action": tap.action,
        "stage": tap.stage,
        "event": tap.event_id,
    }
    if not tap.jacket_id:
        return told
    jacket = Jacket.objects.select_related("jacket_order").get(pk=tap.jacket_id)
    now = Standing(jacket.stage, jacket.in_work, jacket.mend_reason)
    return told | {
        "code": jacket.code,
        "size": jacket.size,
        "member": jacket.jacket_order.member,
        "stands": "is cancelled" if jacket.cancelled_at else now.words,
        "address": jacket.get_absolute_url(),
    }
