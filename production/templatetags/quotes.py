"""What a quote's page says about its numbers."""

from __future__ import annotations

from decimal import Decimal

from django import template

from orders.money import rounded, unit_price_words
from production.planning.costs import SHARE
from production.quoting.quote_sheet import Source, percent
from production.templatetags.production_units import hours

register = template.Library()


@register.filter
def signed(amount: Decimal, currency: str) -> str:
    """'+1.20', '−0.80' or '0.00'."""
    sign = "+" if amount > 0 else "−" if amount < 0 else ""
    return f"{sign}{rounded(abs(amount), currency)}"


@register.filter
def saved(share: Decimal) -> str:
    """'4.2 % less' or '1 % more'."""
    words = percent(abs(share).quantize(Decimal("0.001")))
    return f"{words} {'less' if share > 0 else 'more'}"


@register.filter
def source_words(source: Source, currency: str) -> str:
    """The source of a line with its price: 'Fleece, oat at 11.8 EUR a metre'."""
    price = unit_price_words(source.price, currency)
    match source.unit:
        case "min":
            return f"{source.name} at {price} an hour"
        case "m":
            return f"{source.name} at {price} a metre"
    if source.unit == SHARE:
        return f"{percent(source.price)} of {source.name}"
    return f"{source.name} at {price} a {source.unit}"


@register.filter
def taken(quantity: Decimal, unit: str) -> str:
    """How much of a source: '12.94 m', '3 h 05 min', '4 spools', 'of 154.05'."""
    match unit:
        case "min":
            return hours(quantity)
        case "m":
            return f"{quantity.quantize(Decimal('0.01'))} m"
    if unit == SHARE:
        return f"of {quantity}"
    return f"{quantity.normalize():f} {unit}{'' if quantity == 1 else 's'}"
