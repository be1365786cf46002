"""Hours of a day as text: what is read, told back and refused."""

from __future__ import annotations

import datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from production.planning.timetable.hour_text import HoursError, hours_text, minutes_of, read_hours

TIMES = st.builds(datetime.time, st.integers(0, 23), st.integers(0, 59))


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("9-12:30, 13-16", "9-12:30, 13-16"),
        (" 13 - 16 ;09.00\u201312.30 ", "9-12:30, 13-16"),
        ("9am to 12pm and 1 pm-4:15 pm", "9-12, 13-16:15"),
        ("12am-1", "0-1"),
        ("9-12,12-14", "9-12, 12-14"),
        ("0-23:59", "0-23:59"),
        ("", ""),
        (" , ", ""),
    ],
)
def test_hours_are_read_in_order(text, told):
    assert hours_text(read_hours(text)) == told


def test_minutes_of_a_day():
    assert minutes_of(read_hours("9-12:30, 13-16")) == 390


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("9-12, 11-13", "9-12 and 11-13 overlap."),
        ("9-16, 10-11", "9-16 and 10-11 overlap."),
        ("9-12, 9-12", "9-12 and 9-12 overlap."),
        ("9-5", "9-5 ends before it starts. Did you mean 9-17?"),
        ("22-6", "22-6 ends before it starts. Work past midnight"),
        ("9-9:00", "9-9 lasts no time."),
        ("18-24:00", "a day ends at 23:59 here"),
        ("25-26", "names a time that no day has"),
        ("9-12:60", "names a time that no day has"),
        ("13pm-14", "am and pm go with hours from 1 to 12"),
        ("all day", "\u201call day\u201d is no stretch of hours. Write hours as 9-12:30"),
        ("9-12 13-16", "is no stretch of hours"),
        ("9", "is no stretch of hours"),
        ("-9-12", "is no stretch of hours"),
    ],
)
def test_what_is_no_hours_is_refused_in_words(text, words):
    with pytest.raises(HoursError) as refusal:
        read_hours(text)
    assert words in str(refusal.value)


@given(st.lists(TIMES, max_size=10, unique=True))
def test_what_is_told_is_read_back(times):
    ordered = sorted(times)
    spells = tuple(zip(ordered[::2], ordered[1::2], strict=False))
    assert read_hours(hours_text(spells)) == spells


@given(st.text(max_size=30))
def test_any_text_is_read_or_refused_in_words(text):
    try:
        spells = read_hours(text)
    except HoursError as refusal:
        assert str(refusal)
    else:
        assert all(start < end for start, end in spells)
