"""Days and minutes left, and lengths in the workroom's own unit."""

from __future__ import annotations

import datetime
from decimal import Decimal

import pytest

from production.planning.lengths import cloth_length, thread_length
from production.planning.outlook import outlook
from production.templatetags.production_units import hours
from tests.production.planning_factories import MONDAY, make_workroom

FRIDAY = MONDAY + datetime.timedelta(days=4)


def test_capacity_counts_today_and_the_deadline():
    # Monday to Friday: five days of two people with 360 minutes.
    seen = outlook(Decimal(1000), MONDAY, FRIDAY, make_workroom())
    assert (seen.days_left, seen.working_days_left, seen.capacity_minutes) == (4, 5, 3600)
    assert seen.expected_finish == MONDAY + datetime.timedelta(days=1)
    assert not seen.is_tight


def test_more_work_than_time_is_tight():
    seen = outlook(Decimal(3601), MONDAY, FRIDAY, make_workroom())
    assert seen.is_tight
    assert not seen.is_late


def test_work_left_after_the_deadline_is_late():
    seen = outlook(Decimal(1), FRIDAY, MONDAY, make_workroom())
    assert seen.is_late
    assert seen.chance_words == "under 1 %"


def test_nothing_left_has_no_finish_to_come():
    seen = outlook(Decimal(0), FRIDAY, MONDAY, make_workroom())
    assert (seen.expected_finish, seen.chance_words, seen.is_late) == (None, "", False)


def test_a_forecast_is_never_certain():
    assert outlook(Decimal(1), MONDAY, FRIDAY, make_workroom()).chance_words == "over 99 %"


@pytest.mark.parametrize(
    ("length_mm", "words"),
    [(3420, "3.42 m"), (3420.1, "3.43 m"), (3420.0, "3.42 m"), (0, "0.00 m")],
)
def test_metres_are_rounded_up_to_the_centimetre(length_mm, words):
    assert cloth_length(length_mm, "metric") == words


@pytest.mark.parametrize(
    ("length_mm", "words"),
    # The international yard is 914.4 mm (exact, since 1959), so ten are 9144 mm.
    [(9144, "10 yd"), (9145, "10 1/8 yd"), (457.2, "1/2 yd"), (457.3, "5/8 yd"), (0, "0 yd")],
)
def test_yards_are_rounded_up_to_the_eighth(length_mm, words):
    assert cloth_length(length_mm, "imperial") == words


def test_thread_is_told_in_whole_metres_or_yards():
    assert thread_length(Decimal("82.1"), "metric") == "83 m"
    assert thread_length(Decimal("91.44"), "imperial") == "100 yd"


def test_minutes_as_hours():
    assert [hours(minutes) for minutes in (5, 60, Decimal("65.2"))] == [
        "5 min",
        "1 h",
        "1 h 05 min",
    ]
