"""Quantities of a shopping list in the words of the workroom."""

from __future__ import annotations

from decimal import Decimal

from production.planning.lengths import cloth_length, thread_length
from production.planning.supplies.shopping import (
    CLOTH,
    EIGHTH_YARD_MM,
    METRE,
    TENTH_METRE_MM,
    THREAD_METRE,
    Sold,
)

NAMES = {"spool": ("spool", "spools"), "cone": ("cone", "cones"), "piece": ("piece", "pieces")}


def quantity_words(quantity: Decimal, unit: str, length_unit: str) -> str:
    """'18.40 m', '3 spools', '1 piece'; lengths in the unit of the workroom, never less."""
    if unit == CLOTH:
        return cloth_length(quantity, length_unit)
    if unit == METRE:
        return cloth_length(quantity * 1000, length_unit)
    if unit == THREAD_METRE:
        return thread_length(quantity, length_unit)
    one, many = NAMES[unit]
    return f"{quantity.normalize():f} {one if quantity == 1 else many}"


def holding_words(quantity: Decimal, sold: Sold, length_unit: str) -> str:
    """The thread on so many spools or cones; empty for other things."""
    if sold.holds_m is None or not quantity:
        return ""
    return thread_length(quantity * sold.holds_m, length_unit)


def sold_words(sold: Sold, length_unit: str) -> str:
    """The measure that a thing is sold in: 'spools of 1000 m', 'in steps of 0.10 m'."""
    if sold.holds_m is not None:
        return f"{NAMES[sold.unit][1]} of {thread_length(Decimal(sold.holds_m), length_unit)}"
    step = quantity_words(sold.step, sold.unit, length_unit)
    if sold.step == 1 and sold.unit in NAMES:
        return "by the piece"
    if sold.unit == CLOTH and sold.step not in (TENTH_METRE_MM, EIGHTH_YARD_MM):
        return f"whole bolts of {step}"
    return f"in steps of {step}"
