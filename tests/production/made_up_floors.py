"""Workrooms made up for the tests of the schedule; all numbers are invented."""

from __future__ import annotations

import datetime
import random
from collections.abc import Sequence
from typing import Any

from production.planning.timetable.floor import DAY, Floor, FloorJacket, Hand, Step

#: A Monday.
BEGINS = datetime.date(2026, 11, 30)
ALL = ("cut", "sew", "finish")
COLORS = ("spruce", "marigold", "oat")


def hours(count: int, *spells: tuple[float, float], first: int = 0) -> tuple[tuple[int, int], ...]:
    """The same spells, in hours, on `count` days from Monday to Friday from day `first` on."""
    spells = spells or ((9, 12), (13, 17))
    days = [day for day in range(first, first + 2 * count + 7) if day % 7 < 5][:count]
    return tuple(
        (day * DAY + round(start * 60), day * DAY + round(end * 60))
        for day in days
        for start, end in spells
    )


def hand(key: str, count: int = 60, **changes: Any) -> Hand:
    given: dict[str, Any] = {
        "name": key.title(),
        "stages": ALL,
        "skills": (),
        "spells": hours(count),
    }
    return Hand(key, **given | changes)


def jacket(code: str, *steps: Step | int, due: int | None = None, **changes: Any) -> FloorJacket:
    """Whole numbers stand for minutes of sewing without a machine; `due` is the number of a day, by
    whose end it must be ready."""
    made = tuple(Step("sew", step) if isinstance(step, int) else step for step in steps)
    at = None if due is None else (due + 1) * DAY
    given: dict[str, Any] = {"run": "R-0001", "team_order": "T-0001", "size": "A-M", "due": at}
    return FloorJacket(code, steps=made, **given | changes)


def floor(jackets: Sequence[FloorJacket], hands: Sequence[Hand], **changes: Any) -> Floor:
    given: dict[str, Any] = {"begins": BEGINS, "now": 9 * 60, "machines": {}}
    return Floor(jackets=tuple(jackets), hands=tuple(hands), **given | changes)


def team_floor(
    count: int, people: int, dues: Sequence[int | None], *, seed: int = 1, **changes: Any
) -> Floor:
    """`count` jackets of five steps in three colors and three lengths, in runs with the deadlines
    `dues`; a serger and two lockstitch machines, one of each more for every four people; one
    person in three sews no zippers."""
    chance = random.Random(seed)
    jackets = []
    for number in range(count):
        run = number * len(dues) // count
        color, longer = chance.choice(COLORS), chance.choice((0, 3, 6))
        steps = (
            Step("cut", 8 + longer),
            Step("sew", 25 + longer, "serger", (), (color,), "serging"),
            Step("sew", 20 + longer, "lockstitch", ("zippers",), (color,), "zipper"),
            Step("sew", 12 + longer, "lockstitch", (), (chance.choice(COLORS),), "edge"),
            Step("finish", 6),
        )
        jackets.append(jacket(f"J{number:03d}", *steps, due=dues[run], run=f"R-{run + 1:04d}"))
    hands = [
        hand(f"p{number}", skills=() if number % 3 == 2 else ("zippers",))
        for number in range(people)
    ]
    machines = {"serger": 1 + people // 4, "lockstitch": 2 + people // 4}
    return floor(jackets, hands, **{"machines": machines} | changes)
