"""The four-point record of a bolt: points for its flaws, and their number per 100 square yards.

Points by ASTM D5430 as quoted by trade pages. These disagree in two things: some houses give any
hole 4 points, here a hole up to 1 inch has 2; and beside the usual limit of 40 points per 100
square yards, 28 for one roll and 20 on the average of a shipment are in use. The standard itself
sets no limit: it is a matter of agreement.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from production.planning import lengths

MM_PER_INCH, MM_PER_YARD = float(lengths.MM_PER_INCH), float(lengths.MM_PER_YARD)
#: Longest extent in inches, and the points up to it; more has MOST_POINTS.
POINTS_BY_INCHES = ((3.0, 1), (6.0, 2), (9.0, 3))
SMALL_HOLE_INCHES, SMALL_HOLE_POINTS = 1.0, 2
#: At most so many for one flaw, and for all flaws that begin in one linear yard.
MOST_POINTS = 4
#: Points per 100 square yards that are usually accepted, by agreement.
USUALLY_ACCEPTED = 40.0


@dataclass(frozen=True, slots=True)
class FoundFlaw:
    """A flaw as it is written down: where it begins along the bolt, and how far it reaches."""

    at_mm: float
    length_mm: float
    width_mm: float
    is_hole: bool = False


def flaw_points(flaw: FoundFlaw) -> int:
    """Points of one flaw, by its longest extent."""
    inches = max(flaw.length_mm, flaw.width_mm) / MM_PER_INCH
    if flaw.is_hole:
        return SMALL_HOLE_POINTS if inches <= SMALL_HOLE_INCHES else MOST_POINTS
    return next((points for most, points in POINTS_BY_INCHES if inches <= most), MOST_POINTS)


def roll_points(flaws: Iterable[FoundFlaw]) -> int:
    """Points of a whole bolt, no linear yard counting more than four."""
    by_yard: dict[int, int] = defaultdict(int)
    for flaw in flaws:
        by_yard[int(flaw.at_mm // MM_PER_YARD)] += flaw_points(flaw)
    return sum(min(points, MOST_POINTS) for points in by_yard.values())


def points_per_100_square_yards(points: int, length_mm: float, width_mm: float) -> float:
    """points x 3600 / (length in yards x width in inches); ValueError for a bolt without a size."""
    if length_mm <= 0 or width_mm <= 0:
        raise ValueError("Points are counted on cloth that has a length and a width.")
    return points * 3600 / ((length_mm / MM_PER_YARD) * (width_mm / MM_PER_INCH))
