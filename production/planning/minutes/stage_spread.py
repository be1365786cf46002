"""How sure the measured minutes of a stage are: their spread, and a range for the median."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from math import comb

from production.planning.minutes.stage_times import weighted_median

#: How sure the range of the median is to be.
CONFIDENCE = 0.95


@dataclass(frozen=True, slots=True)
class MedianRange:
    """The median lies from `low` to `high` with the probability `confidence`."""

    low: Decimal
    high: Decimal
    confidence: float

    @property
    def percent(self) -> int:
        return round(100 * self.confidence)


@dataclass(frozen=True, slots=True)
class Spread:
    """Actual over standard minutes of `count` jackets: the median, each jacket weighing as much as
    its standard minutes; half of the jackets lie from `lower` to `upper` quarter."""

    count: int
    ratio: Decimal
    lower: Decimal
    upper: Decimal
    median_range: MedianRange


def spread(pairs: Iterable[tuple[Decimal, Decimal]]) -> Spread | None:
    """Of (ratio, standard minutes) of jackets; None of none."""
    listed = sorted(pairs)
    if not listed:
        return None
    ratios = [ratio for ratio, _ in listed]
    return Spread(
        len(ratios),
        weighted_median(listed),
        _quantile(ratios, 1),
        _quantile(ratios, 3),
        median_range(ratios),
    )


def _quantile(ordered: Sequence[Decimal], quarters: int) -> Decimal:
    """Between its neighbors in proportion, as spreadsheets do."""
    place = Decimal(quarters * (len(ordered) - 1)) / 4
    low = int(place)
    high = min(low + 1, len(ordered) - 1)
    return ordered[low] + (place - low) * (ordered[high] - ordered[low])


def median_range(values: Iterable[Decimal], confidence: float = CONFIDENCE) -> MedianRange:
    """Two of the values in order, as close together as the confidence allows, whatever the
    distribution: between the r-th from below and the r-th from above the median lies with
    1 - 2 P(B < r), B being binomial with n and 1/2 (the sign test's interval). Fewer than six
    values do not reach 95 %; what their smallest and largest reach is told. ValueError for none.
    """
    ordered = sorted(values)
    if not ordered:
        raise ValueError("There is no value to tell the range of.")
    count = len(ordered)
    rank = max(
        (rank for rank in range(1, count // 2 + 1) if _covers(count, rank) >= confidence), default=1
    )
    return MedianRange(ordered[rank - 1], ordered[-rank], _covers(count, rank))


def _covers(count: int, rank: int) -> float:
    """The probability that the median lies between the values of that rank; 0 for one value."""
    outside = 2 * sum(comb(count, below) for below in range(rank))
    return max(float(1 - Fraction(outside, 2**count)), 0.0)
