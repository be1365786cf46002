"""Lengths in the words of the workroom: metres and millimetres, or yards and inches in eighths."""

from __future__ import annotations

import math
from decimal import ROUND_CEILING, Decimal
from fractions import Fraction

MM_PER_INCH = Decimal("25.4")  # exact: international yard and pound agreement of 1959
MM_PER_YARD = Fraction(9144, 10)  # exact: the international yard of 1959 is 0.9144 m
IMPERIAL = "imperial"
METRIC = "metric"


def cloth_length(length_mm: float | Decimal, unit: str) -> str:
    """A length of cloth as '3.42 m' or '3 3/4 yd', never less than the cloth that is needed."""
    # By way of its shortest decimal, so that 9144.0 stays 10 yd and 3420.0 stays 3.42 m.
    length = Decimal(str(length_mm))
    if unit == IMPERIAL:
        return _in_eighths(math.ceil(Fraction(length) * 8 / MM_PER_YARD), "yd")
    metres = (length / 1000).quantize(Decimal("0.01"), rounding=ROUND_CEILING)
    return f"{metres} m"


def thread_length(metres: Decimal, unit: str) -> str:
    """A length of thread in whole metres or yards."""
    if unit == IMPERIAL:
        return f"{math.ceil(Fraction(metres) * 1000 / MM_PER_YARD)} yd"
    return f"{math.ceil(metres)} m"


def table_length(length_mm: float, unit: str, *, up: bool = True) -> str:
    """A length to measure out on the table: metres with two decimals, or inches in eighths,
    rounded up, or down for a width that must not be overrun."""
    exact = Decimal(str(round(length_mm, 6)))  # 3420.0000000001 is a float's way to say 3.42 m
    toward = math.ceil if up else math.floor
    if unit == IMPERIAL:
        return _in_eighths(toward(exact * 8 / MM_PER_INCH), "in")
    return f"{Decimal(toward(exact / 10)) / 100:.2f} m"


def exact_length(length_mm: float, unit: str) -> str:
    """A length as it is, to the millimetre or the tenth of an inch, where small moves are seen."""
    if unit == IMPERIAL:
        return f"{length_mm / float(MM_PER_INCH):.1f} in"
    return f"{length_mm / 1000:.3f} m"


def small_length(length_mm: float, unit: str) -> str:
    """A length on a block or a zipper: whole millimetres, or the nearest eighth of an inch."""
    if unit == IMPERIAL:
        return _in_eighths(round(Decimal(str(length_mm)) * 8 / MM_PER_INCH), "in")
    return f"{round(length_mm)} mm"


def _in_eighths(eighths: int, name: str) -> str:
    whole, part = divmod(eighths, 8)
    words = [str(whole)] if whole or not part else []
    return " ".join([*words, *([str(Fraction(part, 8))] if part else []), name])
