"""What forecasts say, for templates."""

from __future__ import annotations

from decimal import Decimal

from django import template

from production.planning import forecast_words

register = template.Library()


@register.filter
def chance(share: Decimal) -> str:
    """A chance in percent: '83 %', 'over 99 %'."""
    return forecast_words.chance_words(float(share))
