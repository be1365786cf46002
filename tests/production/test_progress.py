"""The progress line: work done by day, the even pace, the fan; and its picture."""

from __future__ import annotations

import datetime
import xml.etree.ElementTree as ET

import pytest

from production.forecasting.progress_svg import in_words, progress_picture
from production.planning.forecasts.progress import Doing, progress

MONDAY = datetime.date(2027, 3, 1)
MINUTES = {"A": {"cut": 10.0, "sew": 60.0, "finish": 30.0}}
FAN = [(0.1, 0.2, 0.3), (0.4, 0.5, 1.0), (1.0, 1.0, 1.0), (1.0, 1.0, 1.0)]


def day(number):
    return MONDAY + datetime.timedelta(days=number)


def line(*doings, today=3, fan=FAN, **changes):
    given = {"begins": MONDAY, "deadline": day(11), "weekdays": "12345", **changes}
    made = [Doing("A", day(at), kind, stage) for at, kind, stage in doings]
    return progress(MINUTES, made, today=day(today), fan=fan, **given)


def test_work_is_done_at_the_end_of_its_day():
    found = line((0, "done", "cut"), (2, "started", "sew"), (2, "done", "sew"))
    assert found.done == ((day(0), 0.1), (day(1), 0.1), (day(2), 0.7), (day(3), 0.7))
    assert found.total_minutes == 100


def test_a_jacket_that_goes_back_loses_what_it_goes_through_again():
    found = line(
        (0, "done", "cut"),
        (1, "done", "sew"),
        (2, "sent_back", "sew"),
        (3, "done", "sew"),
        (3, "done", "finish"),
    )
    assert [share for _, share in found.done] == pytest.approx([0.1, 0.7, 0.1, 1.0])


def test_the_even_pace_rests_on_days_off():
    """Ten working days in two weeks."""
    pace = dict(line().pace)
    assert pace[day(0)] == pytest.approx(0.1)
    assert pace[day(4)] == pace[day(5)] == pace[day(6)] == pytest.approx(0.5)
    assert pace[day(11)] == 1.0
    assert line(today=1).pace_share == pytest.approx(0.2)
    assert line(today=20).pace_share == 1.0


def test_the_fan_starts_from_what_is_done_and_ends_where_all_is():
    found = line((0, "done", "cut"), (1, "done", "sew"))
    assert [one.day for one in found.fan] == [day(3), day(4), day(5)]
    assert found.fan[0].low == pytest.approx(0.7 + 0.3 * 0.1)
    assert found.fan[-1].low == pytest.approx(1.0)
    assert found.ends == day(11)


def test_what_happened_out_of_the_line_counts_at_its_edge():
    """A phone with a wrong clock, or events from before the run was planned anew."""
    found = line((-9, "done", "cut"), (99, "done", "sew"))
    assert found.done[0] == (day(0), 0.1)
    assert found.done[-1] == (day(3), 0.7)


def test_a_run_without_minutes_or_days_has_a_line_too():
    empty = progress({}, [], begins=MONDAY, today=MONDAY, deadline=MONDAY, weekdays="1", fan=[])
    assert empty.done == ((MONDAY, 1.0),)
    assert "svg" in progress_picture(empty)
    late = line(today=30, deadline=day(2))
    assert late.ends >= day(30)


def test_the_picture_is_well_formed_and_told_in_words():
    found = line((0, "done", "cut"), (1, "done", "sew"))
    drawn = ET.fromstring(progress_picture(found).replace("<svg", '<svg xmlns="x"', 1))
    names = [part.tag.removeprefix("{x}") for part in drawn.iter()]
    assert names[1:3] == ["title", "desc"]
    assert names.count("polyline") == 3
    # Each line has a stroke of its own, for who sees no colors.
    strokes = {
        (p.get("stroke-dasharray"), p.get("stroke-width")) for p in drawn.iter("{x}polyline")
    }
    assert len(strokes) == 3
    assert all(
        0 <= float(x) <= 440 and 0 <= float(y) <= 300
        for part in drawn.iter("{x}polyline")
        for x, y in (point.split(",") for point in part.get("points").split())
    )
    assert in_words(found).startswith("70 % of the work is done by 4 Mar; the even pace to the")
    assert in_words(found).endswith(
        "100 % or more is to be expected at 50 %, and 100 % or more at 90 %."
    )
