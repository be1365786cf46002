"""What happened on the floor, as lines of a history."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from enum import StrEnum

from django.contrib.auth.models import User

from production.models import Jacket


class Kind(StrEnum):
    """What a history can be narrowed to."""

    STEPS = "steps"
    TAPS = "taps"
    TICKS = "ticks"
    CHECKS = "checks"
    DELIVERIES = "deliveries"
    PINS = "pins"
    CUTS = "cuts"
    PIECES = "pieces"
    CHANGES = "changes"

    @property
    def words(self) -> str:
        return WORDS[self]


WORDS = {
    Kind.STEPS: "steps of jackets",
    Kind.TAPS: "taps that changed nothing",
    Kind.TICKS: "blocks seen on the table",
    Kind.CHECKS: "check lists",
    Kind.DELIVERIES: "hand-overs",
    Kind.PINS: "schedule held by hand",
    Kind.CUTS: "cut reports",
    Kind.PIECES: "short and spoiled pieces",
    Kind.CHANGES: "changes after the freeze",
}


@dataclass(frozen=True, slots=True)
class Line:
    """One thing that happened. `undone` is what was taken back later: it stays, struck. `jacket`
    and `run` are codes, '' where it concerns none or several."""

    at: datetime.datetime
    by: str
    kind: Kind
    words: str
    undone: bool = False
    jacket: str = ""
    run: str = ""


def name(user: User | None) -> str:
    return (user.get_full_name() or user.get_username()) if user else "a command"


def of_jacket(
    jacket: Jacket,
    at: datetime.datetime,
    by: User | None,
    kind: Kind,
    words: str,
    *,
    undone: bool = False,
) -> Line:
    """Its run is loaded already."""
    return Line(at, name(by), kind, words, undone, jacket.code, jacket.run.code)
