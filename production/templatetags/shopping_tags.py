"""Quantities of what is bought, for templates."""

from __future__ import annotations

from decimal import Decimal

from django import template
from django.urls import reverse

from production.planning.supplies import shopping_words
from production.planning.supplies.shopping import Sold

register = template.Library()


@register.simple_tag
def quantity(value: Decimal, of: str, length_unit: str) -> str:
    """Empty for nothing, so that a table shows what there is."""
    return shopping_words.quantity_words(value, of, length_unit) if value else ""


@register.simple_tag
def quantity_or_none(value: Decimal, of: str, length_unit: str) -> str:
    return shopping_words.quantity_words(value, of, length_unit) if value else "none"


@register.simple_tag
def holding(value: Decimal, sold: Sold, length_unit: str) -> str:
    return shopping_words.holding_words(value, sold, length_unit)


@register.simple_tag
def sold_in(sold: Sold, length_unit: str) -> str:
    return shopping_words.sold_words(sold, length_unit)


@register.simple_tag
def signed(value: Decimal, of: str, length_unit: str) -> str:
    """'+3 spools', '−1 piece'."""
    sign = "+" if value > 0 else "−"
    return f"{sign}{shopping_words.quantity_words(abs(value), of, length_unit)}"


@register.filter
def ware_url(key: str) -> str:
    return reverse("production:ware", args=[key])
