"""What readings say, worked out by hand; all minutes are invented round ones."""

from __future__ import annotations

from decimal import Decimal

import pytest

from production.planning.minutes.time_study import (
    BY_COUNT,
    BY_FACTOR,
    BY_SPLIT,
    Minutes,
    Observations,
    Timed,
    observations_ilo,
    observations_t,
    outlier_bounds,
    propose,
    study,
)

EACH_TWO = Minutes(Decimal(2))
SEAM = Minutes(Decimal("0.5"), Decimal(1))


def timed(seconds: float, metres: str = "0", count: int = 1, rating: int = 100) -> Timed:
    return Timed(Decimal(str(seconds)), rating, count, Decimal(metres))


def decimals(*values: float) -> list[Decimal]:
    return [Decimal(str(value)) for value in values]


def test_a_slow_worker_is_rated_below_100_and_credited_for_it() -> None:
    assert timed(120, rating=80).basic_minutes == Decimal("1.6")


def test_minutes_each_are_all_basic_minutes_by_all_that_was_done() -> None:
    # 60 s for one, 240 s at 125 for three: 1 + 5 = 6 minutes for 4
    found = propose(EACH_TWO, [timed(60), timed(240, count=3, rating=125)])
    assert (found.minutes, found.method) == (Minutes(Decimal("1.500")), BY_COUNT)


def test_seams_of_like_length_scale_both_parts_of_the_standard() -> None:
    # standard 0.5 + 1 x 2 = 2.5 each, taken 3: factor 1.2
    found = propose(SEAM, [timed(180, "2")] * 6)
    assert (found.minutes, found.method) == (
        Minutes(Decimal("0.600"), Decimal("1.200")),
        BY_FACTOR,
    )


def test_seams_of_different_length_tell_the_piece_from_the_metre() -> None:
    # 0.4 each and 1.5 a metre: 0.4 + 1.5 x 1 = 1.9 min = 114 s, and so on
    readings = [timed(114, "1"), timed(204, "2"), timed(294, "3"), timed(384, "4"), timed(69, ".5")]
    found = propose(SEAM, readings)
    assert (found.minutes, found.method) == (Minutes(Decimal("0.400"), Decimal("1.500")), BY_SPLIT)


def test_four_readings_are_too_few_to_tell_the_piece_from_the_metre() -> None:
    readings = [timed(114, "1"), timed(204, "2"), timed(294, "3"), timed(384, "4")]
    assert propose(SEAM, readings).method == BY_FACTOR


def test_a_part_below_nothing_is_never_proposed() -> None:
    # Longer seams that go quicker than in proportion would leave the metre below 0.
    readings = [timed(300, "1"), timed(240, "2"), timed(200, "3"), timed(160, "4"), timed(100, "5")]
    found = propose(SEAM, readings)
    assert found.method == BY_FACTOR
    assert found.minutes.each > 0 and found.minutes.per_metre > 0


def test_an_operation_without_a_standard_gets_all_its_minutes_by_the_metre() -> None:
    found = propose(Minutes(Decimal(0)), [timed(120, "2"), timed(120, "2")])
    assert found.minutes == Minutes(Decimal("0.000"), Decimal("1.000"))


def test_a_reading_far_from_the_median_is_odd() -> None:
    # Median 10.0, median deviation 0.2, scaled 0.297; but 5 % of 10 is more: 10 ± 1.5.
    values = decimals(9.8, 10.0, 10.2, 10.1, 9.7, 30)
    low, high = outlier_bounds(values) or (0, 0)
    assert [float(low), float(high)] == pytest.approx([8.5425, 11.5575])


def test_widely_spread_readings_are_judged_by_their_own_spread() -> None:
    # Median 10, deviations 4, 2, 0, 2, 4: median 2, scaled 2.9652, times 3
    assert outlier_bounds(decimals(6, 8, 10, 12, 14)) == (
        Decimal("1.1044"),
        Decimal("18.8956"),
    )


def test_readings_that_are_nearly_all_alike_leave_room_for_a_second() -> None:
    low, high = outlier_bounds(decimals(60, 60, 60, 60, 61)) or (0, 0)
    assert low == 51 and high == 69


def test_a_few_readings_show_no_odd_one() -> None:
    assert outlier_bounds(decimals(1, 1, 1, 50)) is None


def test_readings_are_compared_as_shares_of_the_present_standard() -> None:
    found = study(SEAM, [timed(150, "2"), timed(90, "1"), timed(180, "1")])
    assert found.shares == (Decimal(1), Decimal(1), Decimal(2))


def test_an_odd_reading_is_found_among_seams_of_any_length() -> None:
    readings = [timed(150, "2"), timed(90, "1"), timed(210, "3"), timed(95, "1"), timed(600, "2")]
    found = study(SEAM, readings)
    assert [found.is_odd(share) for share in found.shares] == [False] * 4 + [True]


def test_a_reading_that_is_left_out_counts_for_nothing() -> None:
    readings = [timed(120), timed(120), timed(6000)]
    found = study(EACH_TWO, readings, [False, False, True])
    assert found.proposal is not None
    assert found.proposal.minutes == Minutes(Decimal("2.000"))
    assert found.observations.taken == 2
    assert found.shares[2] == Decimal(50)


def test_with_all_left_out_nothing_is_proposed() -> None:
    found = study(EACH_TWO, [timed(120)], [True])
    assert (found.proposal, found.observations) == (None, Observations(0))
    assert found.shares == (Decimal(1),)
    assert study(EACH_TWO, []).proposal is None


def test_readings_of_an_operation_without_minutes_are_compared_with_each_other() -> None:
    found = study(Minutes(Decimal(0)), [timed(60), timed(180)])
    assert found.shares == (Decimal("0.5"), Decimal("1.5"))


def test_more_readings_are_wanted_until_the_formula_is_met() -> None:
    # 7, 6, 7, 7, 6 take 9 in all
    found = study(Minutes(Decimal(1)), [timed(60 * value) for value in (7, 6, 7, 7, 6)])
    assert (found.observations.ilo, found.observations.small_sample) == (9, 22)
    assert found.observations.more == 4


def test_even_readings_that_agree_are_taken_a_few_times() -> None:
    assert study(EACH_TWO, [timed(120), timed(120)]).observations.more == 3
    assert study(EACH_TWO, [timed(120)] * 5).observations.more == 0


def test_no_readings_and_one_reading_give_no_number() -> None:
    with pytest.raises(ValueError, match="no readings"):
        observations_ilo([])
    with pytest.raises(ValueError, match="at least two"):
        observations_t(decimals(3))
    assert observations_ilo(decimals(3)) == 0


def test_beyond_thirty_degrees_of_freedom_t_stays() -> None:
    values = decimals(*([1, 3] * 25))  # mean 2, variance 50/49
    assert float(observations_t(values)) == pytest.approx(2.042**2 * (50 / 49) / 0.1**2)
