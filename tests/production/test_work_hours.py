"""The hours of a person: week, holidays, extra hours."""

from __future__ import annotations

import datetime

from production.planning.timetable.floor import DAY
from production.planning.timetable.work_hours import (
    ExtraSpell,
    WeekSpell,
    from_now,
    minutes_between,
    spells_of,
)

MONDAY = datetime.date(2027, 2, 1)
WEDNESDAY = MONDAY + datetime.timedelta(days=2)
NINE, NOON, ONE, FIVE = 540, 720, 780, 1020


def test_a_week_goes_on_week_by_week_from_whatever_day_the_picture_begins_on():
    week = [WeekSpell(1, NINE, NOON), WeekSpell(3, ONE, FIVE)]
    assert spells_of(week, [], [], MONDAY, 8) == (
        (NINE, NOON),
        (2 * DAY + ONE, 2 * DAY + FIVE),
        (7 * DAY + NINE, 7 * DAY + NOON),
    )
    assert spells_of(week, [], [], WEDNESDAY, 6) == (
        (ONE, FIVE),
        (5 * DAY + NINE, 5 * DAY + NOON),
    )


def test_overlapping_spells_are_one_and_touching_ones_too():
    week = [WeekSpell(1, ONE, FIVE), WeekSpell(1, NINE, ONE), WeekSpell(1, NOON, ONE)]
    assert spells_of(week, [], [], MONDAY, 1) == ((NINE, FIVE),)


def test_nobody_works_on_a_day_off_but_for_extra_hours():
    week = [WeekSpell(day, NINE, NOON) for day in (1, 2, 3)]
    off = [(MONDAY, MONDAY + datetime.timedelta(days=1))]
    extra = [
        ExtraSpell(MONDAY, ONE, FIVE),
        ExtraSpell(WEDNESDAY, NOON, FIVE),
        ExtraSpell(MONDAY - datetime.timedelta(days=1), NINE, FIVE),
    ]
    assert spells_of(week, off, extra, MONDAY, 7) == (
        (ONE, FIVE),
        (2 * DAY + NINE, 2 * DAY + FIVE),
    )


def test_what_is_over_today_is_cut_off():
    spells = ((NINE, NOON), (ONE, FIVE))
    assert from_now(spells, 600) == ((600, NOON), (ONE, FIVE))
    assert from_now(spells, NOON) == ((ONE, FIVE),)
    assert from_now(spells, FIVE) == ()


def test_minutes_worked_leave_out_the_break():
    assert minutes_between([(NINE, NOON), (ONE, FIVE)], 700, 800) == 40
