"""Words for changes after the freeze."""

from __future__ import annotations

from decimal import Decimal

from django import template

from production.templatetags.production_units import hours

register = template.Library()


@register.filter
def signed_minutes(minutes: Decimal) -> str:
    """'1 h 20 min more', '9 min less' or 'as before'."""
    if not round(minutes):
        return "as before"
    return f"{hours(abs(minutes))} {'more' if minutes > 0 else 'less'}"
