"""The schedule made in a process of its own, and what is told where that process fails."""

from __future__ import annotations

import sys

import pytest

from production.planning.timetable import floor_apart
from production.planning.timetable.floor import FloorError
from production.planning.timetable.floor_apart import ENDED, HUNG, NOT_STARTED, schedule_apart
from production.planning.timetable.floor_check import faults

from .made_up_floors import floor, hand, jacket, team_floor

NINE = 9 * 60


def test_the_schedule_comes_back_whole_from_its_process(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(floor_apart, "schedule", None)  # so nothing is searched for here
    made_up = team_floor(16, 2, (0,))
    made = schedule_apart(made_up, 1.5)
    assert faults(made_up, made) == []
    assert made.bound is not None and made.bound <= made.value
    assert made.late and all(late.why for late in made.late)
    assert not any("short search" in note for note in made.notes)


def test_nobody_with_hours_is_told_as_it_would_be_here() -> None:
    with pytest.raises(FloorError, match="Nobody has working hours"):
        schedule_apart(floor([jacket("A", 10)], [hand("ada", spells=((0, NINE),))]), 1.0)


@pytest.mark.parametrize(
    ("program", "words"),
    [
        ("raise SystemExit(1)", ENDED),
        ("print('{}x')", ENDED),
        ("import time; time.sleep(60)", HUNG),
    ],
)
def test_where_the_process_fails_a_short_search_is_made_and_told(
    monkeypatch: pytest.MonkeyPatch, program: str, words: str
) -> None:
    monkeypatch.setattr(floor_apart, "COMMAND", (sys.executable, "-c", program))
    monkeypatch.setattr(floor_apart, "SPARE_SECONDS", -1.5)
    made = schedule_apart(floor([jacket("A", 10)], [hand("ada")]), 1.0)
    assert [slot.start for slot in made.slots] == [NINE]
    assert any(words in note for note in made.notes)


def test_a_process_that_cannot_be_started_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(floor_apart, "COMMAND", ("/no/such/python",))
    made = schedule_apart(floor([jacket("A", 10)], [hand("ada")]), 1.0)
    assert any(NOT_STARTED in note for note in made.notes)
