"""Differences between ways of cutting, in words."""

from __future__ import annotations

from decimal import Decimal

from django import template
from django.utils.html import format_html
from django.utils.safestring import SafeString

from production.planning.lengths import cloth_length
from production.templatetags.production_units import hours

register = template.Library()


@register.filter
def less_cloth(less_mm: int, unit: str) -> SafeString:
    """'1.20 m less', '0.40 m more', or nothing."""
    return _difference(less_mm, cloth_length(abs(less_mm), unit))


@register.filter
def less_minutes(less: Decimal) -> SafeString:
    whole = round(less)
    return _difference(whole, hours(abs(whole)))


@register.filter
def less_money(less: Decimal) -> SafeString:
    return _difference(less, str(abs(less)))


def _difference(less: Decimal | int, words: str) -> SafeString:
    if not less:
        return SafeString("")
    kind, how = ("better", "less") if less > 0 else ("worse", "more")
    return format_html(' <span class="difference {}">{} {}</span>', kind, words, how)


@register.filter
def signed_cloth(length_mm: int, unit: str) -> str:
    """A length that may be negative: '1.20 m', '-0.40 m'."""
    return f"{'-' if length_mm < 0 else ''}{cloth_length(abs(length_mm), unit)}"
