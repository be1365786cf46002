"""Amounts in templates."""

from __future__ import annotations

from decimal import Decimal

from django import template

from orders import money

register = template.Library()


@register.filter
def amount(value: Decimal, currency: str) -> str:
    return money.amount_words(value, currency)


@register.filter
def unit_price(value: Decimal, currency: str) -> str:
    return money.unit_price_words(value, currency)


@register.filter
def figures(value: Decimal, currency: str) -> str:
    """The amount without its currency, for columns that name it once."""
    return str(money.rounded(value, currency))
