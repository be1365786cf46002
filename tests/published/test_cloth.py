"""Four-point scores and sample sizes against what trade pages and sampling tables print."""

from __future__ import annotations

import pytest

from production.planning.cloth.four_point import (
    MM_PER_INCH,
    MM_PER_YARD,
    FoundFlaw,
    flaw_points,
    points_per_100_square_yards,
    roll_points,
)
from production.planning.inspecting.sampling import sample_of


def flaw(inches: float, *, at_yards: float = 0, is_hole: bool = False) -> FoundFlaw:
    return FoundFlaw(at_yards * MM_PER_YARD, inches * MM_PER_INCH, 1, is_hole)


@pytest.mark.parametrize(
    ("inches", "points"),
    [(0.1, 1), (3, 1), (3.01, 2), (6, 2), (6.01, 3), (9, 3), (9.01, 4), (40, 4)],
)
def test_points_by_length(inches: float, points: int) -> None:
    """ASTM D5430 as quoted at deli-qc.com and cdquestions.com: up to 3 in 1, more than 3 to 6 in 2,
    more than 6 to 9 in 3, more than 9 in 4, and no more than 4 for one defect."""
    assert flaw_points(flaw(inches)) == points


@pytest.mark.parametrize(("inches", "points"), [(0.2, 2), (1, 2), (1.01, 4)])
def test_points_of_holes(inches: float, points: int) -> None:
    """onlineclothingstudy.com: up to 1 in 2, more 4. deli-qc.com disagrees for some houses: any
    hole 4; the smaller figure is used here."""
    assert flaw_points(flaw(inches, is_hole=True)) == points


def test_a_linear_yard_has_at_most_four_points() -> None:
    """deli-qc.com: 4 per linear yard."""
    crowded = [flaw(4, at_yards=0.1 * n) for n in range(5)]  # 10 points in one yard
    assert roll_points(crowded) == 4
    assert roll_points([*crowded, flaw(4, at_yards=1.0)]) == 6


@pytest.mark.parametrize(
    ("yards", "inches", "points", "printed", "score"),
    [
        # onlineclothingstudy.com, printed 15.6
        (120, 46, 24, 15.6, 15.65),
        # scribd.com document 731386482, printed 18.4 (cut off, not rounded)
        (130, 45, 30, 18.4, 18.46),
    ],
)
def test_worked_examples(
    yards: float, inches: float, points: int, printed: float, score: float
) -> None:
    found = points_per_100_square_yards(points, yards * MM_PER_YARD, inches * MM_PER_INCH)
    assert found == pytest.approx(score, abs=0.005)
    assert int(found * 10) / 10 == printed


#: ISO 2859-1:1999 = ANSI/ASQ Z1.4 = MIL-STD-105E Tables I and II-A, from a public-works table made
#: from MIL-STD-105E (nibs.org) and a chart at pdfcoffee.com, arrows followed: smallest and largest
#: lot, then sample and accepted at 1.5, 2.5 and 4.0.
PLANS = [
    (2, 8, (8, 0), (5, 0), (3, 0)),
    (9, 15, (8, 0), (5, 0), (3, 0)),
    (16, 25, (8, 0), (5, 0), (3, 0)),
    (26, 50, (8, 0), (5, 0), (13, 1)),
    (51, 90, (8, 0), (20, 1), (13, 1)),
    (91, 150, (32, 1), (20, 1), (20, 2)),
    (151, 280, (32, 1), (32, 2), (32, 3)),
    (281, 500, (50, 2), (50, 3), (50, 5)),
    (501, 1200, (80, 3), (80, 5), (80, 7)),
]


@pytest.mark.parametrize(
    ("lot", "limit", "pieces", "accepted"),
    [
        (lot, limit, *plan)
        for smallest, largest, *plans in PLANS
        for limit, plan in zip(("1.5", "2.5", "4.0"), plans, strict=True)
        for lot in (smallest, largest)
    ],
)
def test_sample_sizes(lot: int, limit: str, pieces: int, accepted: int) -> None:
    """An arrow leads to a plan with its own sample size; a lot no larger is checked whole."""
    sample = sample_of(lot, limit)
    assert (sample.accepted, sample.rejected) == (accepted, accepted + 1)
    assert sample.pieces == min(pieces, lot)
    assert sample.is_all == (lot <= pieces)


def test_the_classic_trap() -> None:
    """30 pieces at 4.0: the table shows an arrow at letter D with 8 pieces, which leads to 13."""
    assert sample_of(30, "4.0").pieces == 13
