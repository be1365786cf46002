"""Lengths in the words of the workroom: metres, or yards in eighths; always rounded up."""

from __future__ import annotations

import math
from decimal import ROUND_CEILING, Decimal
from fractions import Fraction

MM_PER_YARD = Fraction(9144, 10)  # exact: the international yard of 1959 is 0.9144 m
IMPERIAL = "imperial"


def cloth_length(length_mm: float | Decimal, unit: str) -> str:
    """A length of cloth as '3.42 m' or '3 3/4 yd', never less than the cloth that is needed."""
    # By way of its shortest decimal, so that 9144.0 stays 10 yd and 3420.0 stays 3.42 m.
    length = Decimal(str(length_mm))
    if unit == IMPERIAL:
        return f"{_eighths(Fraction(length) / MM_PER_YARD)} yd"
    metres = (length / 1000).quantize(Decimal("0.01"), rounding=ROUND_CEILING)
    return f"{metres} m"


def thread_length(metres: Decimal, unit: str) -> str:
    """A length of thread in whole metres or yards."""
    if unit == IMPERIAL:
        return f"{math.ceil(Fraction(metres) * 1000 / MM_PER_YARD)} yd"
    return f"{math.ceil(metres)} m"


def _eighths(yards: Fraction) -> str:
    whole, eighths = divmod(math.ceil(yards * 8), 8)
    if not eighths:
        return str(whole)
    part = Fraction(eighths, 8)
    return f"{whole} {part}" if whole else str(part)
