"""Standard times against textbook examples; both textbooks are quoted from memory."""

from __future__ import annotations

from decimal import Decimal

import pytest

from production.planning.labor import (
    basic_time,
    standard_time_ilo,
    standard_time_share_of_day,
)


def test_basic_time_is_observed_time_by_rating() -> None:
    """Observed 4.0 min at 85 % is 3.4 min of normal time: time-study example of Heizer & Render,
    Operations Management (from memory; arithmetic recomputed)."""
    assert basic_time(Decimal("4.0"), Decimal(85)) == Decimal("3.4")


def test_the_same_example_ends_at_its_printed_standard_time() -> None:
    """3.4 min with an allowance of 13 % of the day are printed as 3.9 min (Heizer & Render, from
    memory); one decimal, hence 0.05."""
    normal = basic_time(Decimal("4.0"), Decimal(85))
    standard = standard_time_share_of_day(normal, Decimal("0.13"))
    assert standard == pytest.approx(Decimal("3.9"), abs=Decimal("0.05"))


def test_the_two_methods_differ_for_the_same_allowance() -> None:
    """3.40 min at 13 %: 3.842 when the allowance is a share of the work (ILO, Introduction to Work
    Study, 4th ed., 1992, from memory), 3.908 when it is a share of the day (recomputed, three
    decimals)."""
    normal, allowance = Decimal("3.40"), Decimal("0.13")
    assert standard_time_ilo(normal, allowance) == Decimal("3.842")
    assert standard_time_share_of_day(normal, allowance) == pytest.approx(
        Decimal("3.908"), abs=Decimal("0.0005")
    )


def test_a_brisk_worker_at_100_takes_the_observed_time() -> None:
    """100 on the 0-100 scale is the standard rating itself (ILO 1992, from memory)."""
    assert basic_time(Decimal("2.37"), Decimal(100)) == Decimal("2.37")
