"""Workrooms made up for the tests of the forecast; all numbers are invented."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from typing import Any

from production.planning.timetable.floor import DAY, Floor, FloorJacket, Hand, Step

#: A Monday.
BEGINS = datetime.date(2026, 11, 30)
ALL = ("cut", "sew", "finish")
COLORS = ("spruce", "marigold", "oat")


def days(count: int, *spells: tuple[int, int]) -> tuple[tuple[int, int], ...]:
    """The same spells, in hours, on the first `count` working days (Monday to Friday)."""
    spells = spells or ((9, 12), (13, 17))
    at = [day for day in range(2 * count + 7) if day % 7 < 5][:count]
    return tuple((d * DAY + a * 60, d * DAY + b * 60) for d in at for a, b in spells)


def hand(key: str, count: int = 60, **changes: Any) -> Hand:
    given: dict[str, Any] = {
        "name": key.title(),
        "stages": ALL,
        "skills": (),
        "spells": days(count),
    }
    return Hand(key, **given | changes)


def jacket(code: str, *steps: Step | int, due: int | None = None, **changes: Any) -> FloorJacket:
    """Whole numbers stand for minutes of sewing without a machine; `due` is in days: the end of
    the day of that number."""
    made = tuple(Step("sew", step) if isinstance(step, int) else step for step in steps)
    given: dict[str, Any] = {"run": "R-0001", "team_order": "T-0001", "size": "A-M"}
    at = None if due is None else (due + 1) * DAY
    return FloorJacket(code, due=at, steps=made, **given | changes)


def floor(jackets: Sequence[FloorJacket], hands: Sequence[Hand], **changes: Any) -> Floor:
    given: dict[str, Any] = {"begins": BEGINS, "now": 9 * 60, "machines": {}}
    return Floor(jackets=tuple(jackets), hands=tuple(hands), **given | changes)


def team_floor(count: int, people: int, due: int) -> Floor:
    """`count` jackets J000, J001, … of four steps, with one serger and two lockstitch machines."""
    jackets = [
        jacket(
            f"J{number:03d}",
            Step("cut", 8 + number % 3),
            Step("sew", 25 + number % 4, "serger", threads=(COLORS[number % 3],)),
            Step("sew", 30 + number % 5, "lockstitch", threads=(COLORS[number % 2],)),
            Step("finish", 6),
            due=due,
        )
        for number in range(count)
    ]
    hands = [hand(f"p{number}") for number in range(people)]
    return floor(jackets, hands, machines={"serger": 1, "lockstitch": 2})
