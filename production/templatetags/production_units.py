"""Lengths and words of the workroom for templates."""

from __future__ import annotations

import datetime
from decimal import Decimal

from django import template
from django.utils import timezone
from django.utils.formats import date_format

from production.planning import lengths, standing

register = template.Library()

DONE_BUTTONS = {
    "cut": "Cutting is done",
    "sew": "Sewing is done",
    "finish": "Finishing is done",
    "hand_over": "Handed over",
}
PLACES = {
    "cut": "cutting table",
    "sew": "machine",
    "finish": "finishing",
    "hand_over": "rail out",
    "handed_over": "handed over",
}


@register.filter
def cloth_length(length_mm: float, unit: str) -> str:
    return lengths.cloth_length(length_mm, unit)


@register.filter
def thread_length(metres: Decimal, unit: str) -> str:
    return lengths.thread_length(metres, unit)


@register.filter
def small_length(length_mm: float, unit: str) -> str:
    return lengths.small_length(length_mm, unit)


@register.filter
def percent(share: Decimal) -> str:
    """A share of 1 in percent: '15 %', '12.5 %'."""
    return f"{float(100 * share):g} %"


@register.filter
def work(stage: str) -> str:
    return standing.WORK[stage]


@register.filter
def hours(minutes: Decimal | float) -> str:
    """Minutes as hours and minutes: '7 h 05 min', '7 h', '5 min'."""
    whole, rest = divmod(round(minutes), 60)
    if not whole:
        return f"{rest} min"
    return f"{whole} h {rest:02d} min" if rest else f"{whole} h"


@register.filter
def moment(at: datetime.datetime) -> str:
    """The time of day; with the date when it was not today."""
    local = timezone.localtime(at)
    if local.date() == timezone.localdate():
        return f"{local:%H:%M}"
    return f"{date_format(local, 'j M')} {local:%H:%M}"


@register.filter
def done_button(stage: str) -> str:
    return DONE_BUTTONS[stage]


@register.filter
def place(stage: str) -> str:
    return PLACES[stage]
