"""Where a device sends its list of taps."""

from __future__ import annotations

import datetime
import json
from typing import Any
from uuid import UUID

from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.models import User
from django.http import HttpRequest, JsonResponse
from django.urls import reverse
from django.views.decorators.http import require_POST

from production.models import Tap
from production.scanning import taps
from production.scanning.tap_answers import answer, tell
from production.scanning.tap_forms import TapForm, device_moment, told_key

MOST_TAPS = 200
STEP = ("action", "stage")


@login_not_required  # who is not logged in is told so in a way that the script understands
@require_POST
def send_taps(request: HttpRequest) -> JsonResponse:
    """Takes {user, sent_at, taps: [...], tell} and answers each tap in order. A device that holds
    another person's taps keeps them (409), and one whose session ran out, too (401)."""
    by = request.user
    if not isinstance(by, User):
        log_in = f"{reverse('login')}?next={reverse('production:scan')}"
        return JsonResponse({"words": "Log in to send them.", "log_in": log_in}, status=401)
    try:
        sent = json.loads(request.body)
    except (ValueError, RecursionError):
        return _unread("This is no list of taps.")
    listed = sent.get("taps") if isinstance(sent, dict) else None
    if not isinstance(listed, list) or not all(isinstance(each, dict) for each in listed):
        return _unread("This is no list of taps.")
    if len(listed) > MOST_TAPS:
        return _unread(f"These are {len(listed)} taps; send at most {MOST_TAPS} at once.")
    if sent.get("user") != by.pk:
        return JsonResponse({"words": "These taps are of another person."}, status=409)
    sent_at = device_moment(sent.get("sent_at"))
    taken = [_taken(each, sent_at, by) for each in listed]
    if sent.get("tell"):
        for tap in taken:
            if isinstance(tap, Tap):
                tell(request, tap)
    told = [answer(each) if isinstance(each, Tap) else each for each in taken]
    return JsonResponse({"taps": told})


def _unread(words: str) -> JsonResponse:
    return JsonResponse({"words": words}, status=400)


def _taken(
    raw: dict[str, Any], sent_at: datetime.datetime | None, by: User
) -> Tap | dict[str, Any]:
    form = TapForm(raw)
    if form.is_valid():
        return taps.tap(form.asked(sent_at), by)
    words = "; ".join(f"{field}: {errors[0]}" for field, errors in form.errors.items())
    key = told_key(raw.get("key"))
    if key is None:
        return {"key": raw.get("key"), "outcome": "refused", "words": f"Not read: {words}"}
    return taps.refuse(_as_far_as_read(raw, key), by, f"This tap cannot be read. {words}")


def _as_far_as_read(raw: dict[str, Any], key: UUID) -> taps.TapAsked:
    way, code, action, stage = (str(raw.get(name, "")) for name in ("way", "code", *STEP))
    return taps.TapAsked(key, way, code, action, stage)
