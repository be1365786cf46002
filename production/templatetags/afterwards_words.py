"""Planned against actual, in words."""

from __future__ import annotations

from decimal import Decimal

from django import template

from orders.money import amount_words
from production.planning.actuals.afterwards import StageMinutes
from production.templatetags.production_units import percent

register = template.Library()


@register.filter
def to_tenths(share: Decimal) -> str:
    """'18.2 %'."""
    return percent(round(share, 3))


@register.filter
def more_or_less(difference: Decimal, currency: str) -> str:
    """'12.40 EUR more', '3.10 EUR less'."""
    how = "less" if difference < 0 else "more"
    return f"{amount_words(abs(difference), currency)} {how}"


@register.filter
def timed(stage: StageMinutes) -> str:
    """'9 jackets timed, 2 left out since they took more than a day'."""
    if not stage.jackets and not stage.left_out:
        return ""
    words = f"{stage.jackets} jacket{'' if stage.jackets == 1 else 's'} timed"
    if stage.left_out:
        words += f", {stage.left_out} more did not begin and end within one day"
    return words
