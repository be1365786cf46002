"""What forecasts say, for templates."""

from __future__ import annotations

import datetime
from decimal import Decimal

from django import template

from production.planning.forecasts import forecast_words

register = template.Library()


@register.filter
def day_told(day: datetime.date) -> str:
    """A day of a forecast that was kept: 'Mon 7 Dec', or that none could be told."""
    return forecast_words.day_words(day)


@register.filter
def chance(share: Decimal) -> str:
    """A chance in percent: '83 %', 'over 99 %'."""
    return forecast_words.chance_words(float(share))
