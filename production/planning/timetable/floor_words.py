"""Moments, stretches of time and lists in the words of the schedule."""

from __future__ import annotations

import datetime
from collections.abc import Sequence

from production.planning.timetable.floor import DAY, moment


def day_words(begins: datetime.date, at: int) -> str:
    """The day of a moment, as 'Thu 3 Dec'."""
    day = moment(begins, at)
    return f"{day:%a} {day.day} {day:%b}"


def moment_words(begins: datetime.date, at: int) -> str:
    """A moment, as 'Thu 3 Dec 14:00'."""
    return f"{day_words(begins, at)} {at % DAY // 60:02d}:{at % 60:02d}"


def hours_words(minutes: int) -> str:
    """A stretch of work, as '12 h 30', '12 h' or '40 min'."""
    hours, rest = divmod(minutes, 60)
    if not hours:
        return f"{rest} min"
    return f"{hours} h {rest:02d}" if rest else f"{hours} h"


def listed(words: Sequence[str], last: str = "and") -> str:
    """'A, B and C'."""
    return f" {last} ".join(part for part in (", ".join(words[:-1]), "".join(words[-1:])) if part)
