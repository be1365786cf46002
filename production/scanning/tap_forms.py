"""A tap as a device's list brings it."""

from __future__ import annotations

import datetime
from typing import Any
from uuid import UUID

from django import forms
from django.utils.dateparse import parse_datetime

from production.scanning.taps import TapAsked


class TapForm(forms.Form):
    """One tap of the list. What does not fit the rules of the floor is refused by `taps.tap`, which
    keeps it; here only a form that cannot be read at all is turned away."""

    key = forms.UUIDField()
    way = forms.CharField(required=False)
    code = forms.CharField(required=False, strip=False)
    action = forms.CharField(required=False)
    stage = forms.CharField(required=False)
    reason = forms.CharField(required=False)
    seen = forms.CharField(required=False)
    undoes = forms.IntegerField(required=False, min_value=1, max_value=2**63 - 1)
    vouch = forms.BooleanField(required=False)
    run = forms.CharField(required=False)
    same_as = forms.UUIDField(required=False)
    after = forms.IntegerField(required=False, min_value=0, max_value=2**63 - 1)

    def asked(self, sent_at: datetime.datetime | None) -> TapAsked:
        device_at = device_moment(self.data.get("device_at"))
        return TapAsked(**self.cleaned_data, device_at=device_at, sent_at=sent_at)


def device_moment(text: Any) -> datetime.datetime | None:
    """A moment that a device told, with its time zone; None for one that cannot be meant."""
    try:
        moment = parse_datetime(text) if isinstance(text, str) else None
    except ValueError:  # the form of a moment, as the 30th of February
        return None
    if moment is None or moment.tzinfo is None or not 1970 <= moment.year < 2200:
        return None
    return moment


def told_key(raw: object) -> UUID | None:
    try:
        return UUID(raw) if isinstance(raw, str) else None
    except ValueError:
        return None
