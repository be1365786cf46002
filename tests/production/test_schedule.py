from __future__ import annotations

import datetime
from decimal import Decimal

import pytest

from production.planning.plan import PlanError
from production.planning.schedule import (
    capacity_schedule,
    chance_on_time,
    nth_working_day,
    working_days,
)
from tests.production.planning_factories import MONDAY, make_workroom

ROOM = make_workroom()  # 2 people x 360 minutes, Monday to Friday


def day(after: int) -> datetime.date:
    return MONDAY + datetime.timedelta(days=after)


@pytest.mark.parametrize(
    ("minutes", "finish"),
    [(1, 0), (720, 0), (721, 1), (3600, 4), (3601, 7), (7200, 11)],
)
def test_work_is_finished_on_the_working_day_it_runs_out(minutes: int, finish: int) -> None:
    assert capacity_schedule(Decimal(minutes), MONDAY, day(60), ROOM).expected_finish == day(finish)


def test_a_start_on_a_weekend_counts_from_monday() -> None:
    assert capacity_schedule(Decimal(1), day(-2), day(60), ROOM).expected_finish == MONDAY


@pytest.mark.parametrize(
    ("minutes", "start"),
    [(1, 4), (720, 4), (721, 3), (3600, 0), (3601, -3)],
)
def test_the_latest_start_counts_back_from_the_end_of_the_deadline_day(
    minutes: int, start: int
) -> None:
    friday = day(4)
    schedule = capacity_schedule(Decimal(minutes), MONDAY, friday, ROOM)
    assert schedule.latest_cutting_start == day(start)


def test_a_deadline_on_a_sunday_means_the_friday_before() -> None:
    schedule = capacity_schedule(Decimal(1), MONDAY, day(6), ROOM)
    assert schedule.latest_cutting_start == day(4)


def test_starting_on_the_latest_day_finishes_on_the_deadline() -> None:
    for minutes in (100, 5000, 12345):
        planned = capacity_schedule(Decimal(minutes), MONDAY, day(18), ROOM)
        again = capacity_schedule(Decimal(minutes), planned.latest_cutting_start, day(18), ROOM)
        assert again.expected_finish == day(18)


def test_the_chance_is_even_when_capacity_equals_the_minutes() -> None:
    assert capacity_schedule(Decimal(3600), MONDAY, day(4), ROOM).chance_on_time == 0.5


def test_one_deviation_of_slack_gives_the_known_chance() -> None:
    # P(Z <= 1) = 0.8413 in any table of the normal distribution.
    assert chance_on_time(Decimal(1000), 1200, Decimal("0.2")) == 0.841


def test_without_spread_the_work_fits_or_does_not() -> None:
    assert chance_on_time(Decimal(1000), 1000, Decimal(0)) == 1.0
    assert chance_on_time(Decimal(1001), 1000, Decimal(0)) == 0.0


def test_a_deadline_that_has_passed_leaves_no_chance() -> None:
    assert capacity_schedule(Decimal(1), MONDAY, day(-1), ROOM).chance_on_time == 0.0


def test_a_deadline_without_a_working_day_before_it_leaves_no_chance() -> None:
    wild = make_workroom(minutes_spread=Decimal(5))
    assert capacity_schedule(Decimal(10), day(5), day(6), wild).chance_on_time == 0.0


def test_nothing_left_is_ready_at_once() -> None:
    schedule = capacity_schedule(Decimal(0), MONDAY, day(4), ROOM)
    assert (schedule.expected_finish, schedule.chance_on_time) == (MONDAY, 1.0)


def test_days_are_counted_with_both_ends() -> None:
    assert working_days(MONDAY, day(4), "12345") == 5
    assert working_days(MONDAY, day(6), "12345") == 5
    assert working_days(day(5), day(6), "12345") == 0
    assert working_days(MONDAY, day(13), "67") == 4
    assert working_days(MONDAY, day(-1), "12345") == 0


def test_leaping_over_weeks_equals_walking_day_by_day() -> None:
    for weekdays in ("12345", "6", "247"):
        walked = [d for d in map(day, range(400)) if str(d.isoweekday()) in weekdays]
        assert [nth_working_day(MONDAY, n, weekdays, 1) for n in range(1, 41)] == walked[:40]


def test_a_workroom_that_never_works_is_refused() -> None:
    for room in (make_workroom(working_weekdays=""), make_workroom(minutes_per_person_day=0)):
        with pytest.raises(PlanError, match="has no working time"):
            capacity_schedule(Decimal(1), MONDAY, day(4), room)


def test_more_work_than_calendars_hold_is_refused() -> None:
    with pytest.raises(PlanError, match="no calendar holds"):
        capacity_schedule(Decimal(10**12), MONDAY, day(4), ROOM)
