"""Learning while sewing: each doubling of the jackets takes the same share of the minutes.

The Crawford or unit model, T_n = T_1 x n^b with b = ln(rate) / ln 2: with a rate of 0.8 the second
jacket takes 80 % of the first, the fourth 64 %. Jackets are counted by design. Wright's model sets
the mean of the first n jackets where this one sets the n-th; the two are not to be mixed (Wright,
Factors Affecting the Cost of Airplanes, J. Aeronautical Sciences 3, 1936; both from memory).
"""

from __future__ import annotations

from decimal import Decimal

from production.planning.plan import PlanError

_LN_2 = Decimal(2).ln()


def unit_factor(number: int, rate: Decimal) -> Decimal:
    """Minutes of the jacket with this number (from 1 on) as a share of those of the first.

    Raises PlanError for a rate that is not above 0 and at most 1, ValueError for a number below 1.
    """
    if not 0 < rate <= 1:
        raise PlanError(
            f"A learning rate of {rate} cannot be: enter a share above 0 and at most 1, as 0.9, or "
            "leave it empty."
        )
    if number < 1:
        raise ValueError("Jackets are counted from 1.")
    return Decimal(number) ** (rate.ln() / _LN_2)


def total_factor(last: int, rate: Decimal, first: int = 1) -> Decimal:
    """Minutes of the jackets from `first` to `last`, both included, over those of jacket 1."""
    return sum((unit_factor(number, rate) for number in range(first, last + 1)), Decimal(0))
