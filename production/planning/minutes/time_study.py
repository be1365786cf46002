"""Standards from a stopwatch: basic time, how many readings are enough, which are odd, and the
standard that they propose.

Readings of an operation are made alike as shares of its present standard: 1.00 is a reading that
took, at its rating, exactly what the standard says for the work done in it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_HALF_UP, Decimal
from statistics import median

STANDARD_RATING = Decimal(100)

#: Scales a median deviation to a standard deviation of normally spread values (from memory).
_MAD_TO_DEVIATION = Decimal("1.4826")
_OUTLIER_DEVIATIONS = 3
#: Readings to the second are often exactly alike; below this share of the median no spread counts.
_LEAST_DEVIATION = Decimal("0.05")
#: Fewer readings do not show what is usual. Invented.
FEWEST_TO_COMPARE = 5
#: Minutes for the piece and for the metre are told apart when the longest seam of the readings is
#: so many times the shortest. Invented.
_METRES_VARY = Decimal("1.5")

#: Student's t that is exceeded on either side in 5 % of cases, by degrees of freedom from 1 to 30
#: (standard table, from memory; a test integrates the distribution).
# fmt: off
T_95 = tuple(
    Decimal(thousandths) / 1000
    for thousandths in (
        12706, 4303, 3182, 2776, 2571, 2447, 2365, 2306, 2262, 2228,
        2201, 2179, 2160, 2145, 2131, 2120, 2110, 2101, 2093, 2086,
        2080, 2074, 2069, 2064, 2060, 2056, 2052, 2048, 2045, 2042,
    )
)
# fmt: on
ACCURACY = Decimal("0.05")
_THOUSANDTH = Decimal("0.001")


def basic_time(
    observed_minutes: Decimal, rating: Decimal, standard_rating: Decimal = STANDARD_RATING
) -> Decimal:
    """Observed time x rating / standard rating, the rating on the 0-100 scale (ILO, Introduction
    to Work Study, 4th ed., 1992; from memory)."""
    return observed_minutes * rating / standard_rating


def standard_time_ilo(basic_minutes: Decimal, allowance: Decimal) -> Decimal:
    """Basic time x (1 + relaxation allowance): the allowance is a share of the work (ILO 1992, from
    memory). This is the method that plans use."""
    return basic_minutes * (1 + allowance)


def standard_time_share_of_day(normal_minutes: Decimal, allowance: Decimal) -> Decimal:
    """Normal time / (1 - allowance): the allowance is a share of the working day (Heizer & Render,
    Operations Management, from memory). Not the same as the ILO method."""
    return normal_minutes / (1 - allowance)


def observations_ilo(values: Sequence[Decimal]) -> Decimal:
    """Readings for ±5 % at 95.45 % confidence, (40 sqrt(n Σx² - (Σx)²) / Σx)², unrounded (ILO 1992,
    time study; from memory). Values are above 0; ValueError for none."""
    total = sum(values, Decimal(0))
    if total <= 0:
        raise ValueError("There are no readings to count from.")
    squares = sum((value * value for value in values), Decimal(0))
    return 1600 * max(len(values) * squares - total * total, Decimal(0)) / (total * total)


def observations_t(values: Sequence[Decimal], accuracy: Decimal = ACCURACY) -> Decimal:
    """Readings for ±5 % at 95 % confidence from a small sample, (t s / (k mean))², unrounded
    (Niebel & Freivalds, Methods, Standards, and Work Design). Beyond 30 degrees of freedom t stays
    that of 30, on the safe side. ValueError for fewer than two values."""
    count = len(values)
    if count < 2:
        raise ValueError("One reading shows no spread; take at least two.")
    mean = sum(values, Decimal(0)) / count
    variance = sum(((value - mean) ** 2 for value in values), Decimal(0)) / (count - 1)
    t = T_95[min(count - 1, len(T_95)) - 1]
    return t * t * variance / (accuracy * mean) ** 2


def outlier_bounds(values: Sequence[Decimal]) -> tuple[Decimal, Decimal] | None:
    """Lowest and highest value that is not odd: median ± 3 scaled median absolute deviations (the
    Hampel rule; common practice, from memory), the deviation taken as 5 % of the median at least.
    None for fewer than FEWEST_TO_COMPARE values."""
    if len(values) < FEWEST_TO_COMPARE:
        return None
    middle = Decimal(median(values))
    deviation = _MAD_TO_DEVIATION * Decimal(median(abs(value - middle) for value in values))
    reach = _OUTLIER_DEVIATIONS * max(deviation, _LEAST_DEVIATION * middle)
    return middle - reach, middle + reach


@dataclass(frozen=True, slots=True)
class Timed:
    """One reading: seconds of work without breaks, rating on the 0-100 scale, and what was done in
    it: how many times, and metres of seam in all."""

    seconds: Decimal
    rating: int
    count: int
    metres: Decimal = Decimal(0)

    @property
    def basic_minutes(self) -> Decimal:
        return basic_time(self.seconds / 60, Decimal(self.rating))


@dataclass(frozen=True, slots=True)
class Minutes:
    """A standard: minutes each time and per metre of seam, without allowance."""

    each: Decimal
    per_metre: Decimal = Decimal(0)

    def of(self, reading: Timed) -> Decimal:
        return self.each * reading.count + self.per_metre * reading.metres


@dataclass(frozen=True, slots=True)
class Observations:
    """How many readings ±5 % takes: by the ILO formula and by the small-sample one; `more` by the
    ILO formula, or up to the first few that show any spread at all."""

    taken: int
    ilo: int | None = None
    small_sample: int | None = None

    @property
    def more(self) -> int:
        return max(max(FEWEST_TO_COMPARE, self.ilo or 0) - self.taken, 0)


#: How a proposal was found.
BY_COUNT, BY_FACTOR, BY_SPLIT = "count", "factor", "split"


@dataclass(frozen=True, slots=True)
class Proposal:
    minutes: Minutes
    method: str


@dataclass(frozen=True, slots=True)
class Study:
    """What the readings say: the share of the present standard that each took, between which
    shares readings are usual, how many are needed, and the standard that they propose; None where
    there is nothing to tell from. `shares` follow the readings one for one."""

    shares: tuple[Decimal, ...]
    bounds: tuple[Decimal, Decimal] | None
    observations: Observations
    proposal: Proposal | None

    def is_odd(self, share: Decimal) -> bool:
        return self.bounds is not None and not self.bounds[0] <= share <= self.bounds[1]


def study(present: Minutes, readings: Sequence[Timed], left_out: Sequence[bool] = ()) -> Study:
    """Evaluates readings; those that are left out get their share, and count for nothing else. An
    operation that has no standard yet is compared by what its readings propose for it."""
    kept = [
        reading for at, reading in enumerate(readings) if not (at < len(left_out) and left_out[at])
    ]
    proposal = propose(present, kept) if kept else None
    base = _comparable(present, proposal, readings)
    shares = tuple(reading.basic_minutes / base.of(reading) for reading in readings)
    counted = [reading.basic_minutes / base.of(reading) for reading in kept]
    return Study(shares, outlier_bounds(counted), _observations(counted), proposal)


def _comparable(present: Minutes, proposal: Proposal | None, readings: Sequence[Timed]) -> Minutes:
    """The first standard that gives minutes to every reading; plain counts where none does."""
    for minutes in (present, proposal.minutes if proposal else present):
        if all(minutes.of(reading) for reading in readings):
            return minutes
    return Minutes(Decimal(1))


def _observations(shares: Sequence[Decimal]) -> Observations:
    if len(shares) < 2:
        return Observations(len(shares))
    return Observations(
        len(shares), _whole(observations_ilo(shares)), _whole(observations_t(shares))
    )


def _whole(count: Decimal) -> int:
    return int(count.to_integral_value(ROUND_CEILING))


def propose(present: Minutes, readings: Sequence[Timed]) -> Proposal:
    """The standard that readings propose, to 0.001 min.

    Without metres it is the basic minutes by the times it was done. With metres, least squares tell
    the minutes of a piece from those of a metre, if there are FEWEST_TO_COMPARE readings over
    seams of different lengths and neither comes out below 0. Else both parts of the present
    standard are scaled by one factor, the sum of basic minutes over the sum of standard minutes;
    a standard of nothing has no parts, and all goes to the metre.
    """
    basic = sum((reading.basic_minutes for reading in readings), Decimal(0))
    metres = sum((reading.metres for reading in readings), Decimal(0))
    if not metres:
        count = sum(reading.count for reading in readings)
        return Proposal(_rounded(basic / count, Decimal(0)), BY_COUNT)
    if split := _split(readings):
        return Proposal(_rounded(*split), BY_SPLIT)
    standard = sum((present.of(reading) for reading in readings), Decimal(0))
    if not standard:
        return Proposal(_rounded(Decimal(0), basic / metres), BY_FACTOR)
    factor = basic / standard
    return Proposal(_rounded(present.each * factor, present.per_metre * factor), BY_FACTOR)


def _split(readings: Sequence[Timed]) -> tuple[Decimal, Decimal] | None:
    """Minutes each and per metre by least squares of basic = each x count + per metre x metres."""
    lengths = [reading.metres / reading.count for reading in readings]
    if len(readings) < FEWEST_TO_COMPARE or max(lengths) < _METRES_VARY * min(lengths):
        return None
    cc = sum((Decimal(r.count * r.count) for r in readings), Decimal(0))
    mm = sum((r.metres * r.metres for r in readings), Decimal(0))
    cm = sum((r.count * r.metres for r in readings), Decimal(0))
    cb = sum((r.count * r.basic_minutes for r in readings), Decimal(0))
    mb = sum((r.metres * r.basic_minutes for r in readings), Decimal(0))
    determinant = cc * mm - cm * cm
    each, per_metre = (cb * mm - mb * cm) / determinant, (mb * cc - cb * cm) / determinant
    return (each, per_metre) if each >= 0 and per_metre >= 0 else None


def _rounded(each: Decimal, per_metre: Decimal) -> Minutes:
    return Minutes(
        each.quantize(_THOUSANDTH, ROUND_HALF_UP), per_metre.quantize(_THOUSANDTH, ROUND_HALF_UP)
    )
