"""Hours of a day as one line of text: '9-12:30, 13-16'."""

from __future__ import annotations

import datetime
import re
from collections.abc import Iterable
from itertools import pairwise

Spell = tuple[datetime.time, datetime.time]

TIME = r"(\d{1,2})(?:[:.](\d{2}))?\s*(am|pm)?"
SPELL = re.compile(rf"\s*{TIME}\s*(?:-|\u2013|\u2014|to)\s*{TIME}\s*", re.IGNORECASE)
BETWEEN = re.compile(r"[,;\n]|\band\b", re.IGNORECASE)
HOW = "Write hours as 9-12:30, with commas between several."


class HoursError(ValueError):
    """Text that tells no hours; the message says which part and what to write."""


def read_hours(text: str) -> tuple[Spell, ...]:
    """The stretches of a day in order, none for empty text.

    Times are of 24 hours, or of 12 with am or pm, with or without minutes. Raises HoursError for
    what is no stretch of hours, ends before it starts, or overlaps another one.
    """
    spells = sorted(_spell(part) for part in BETWEEN.split(text) if part.strip())
    for one, other in pairwise(spells):
        if other[0] < one[1]:
            raise HoursError(f"{_told(one)} and {_told(other)} overlap.")
    return tuple(spells)


def hours_text(spells: Iterable[Spell]) -> str:
    """'9-12:30, 13-16', as `read_hours` reads it back; empty for none."""
    return ", ".join(_told(spell) for spell in sorted(spells))


def minutes_of(spells: Iterable[Spell]) -> int:
    return sum(_minute(end) - _minute(start) for start, end in spells)


def _spell(part: str) -> Spell:
    found = SPELL.fullmatch(part)
    if not found:
        raise HoursError(f"\u201c{part.strip()}\u201d is no stretch of hours. {HOW}")
    groups = found.groups()
    start, end = _time(part, *groups[:3]), _time(part, *groups[3:])
    if start == end:
        raise HoursError(f"{_told((start, end))} lasts no time. {HOW}")
    if end < start:
        raise HoursError(f"{_told((start, end))} ends before it starts.{_meant(start, end)}")
    return start, end


def _time(part: str, hour: str, minute: str | None, half: str | None) -> datetime.time:
    hours, minutes = int(hour), int(minute or 0)
    if hours == 24 and not minutes and not half:
        raise HoursError(
            f"\u201c{part.strip()}\u201d: a day ends at 23:59 here. Work past midnight goes on in "
            "the line of the next day, from 0 on."
        )
    if half:
        if not 1 <= hours <= 12:
            raise HoursError(f"\u201c{part.strip()}\u201d: am and pm go with hours from 1 to 12.")
        hours = hours % 12 + (12 if half.lower() == "pm" else 0)
    if hours > 23 or minutes > 59:
        raise HoursError(f"\u201c{part.strip()}\u201d names a time that no day has. {HOW}")
    return datetime.time(hours, minutes)


def _meant(start: datetime.time, end: datetime.time) -> str:
    """What was perhaps meant, where the end is told of 12 hours."""
    if end.hour >= 12 or end.hour + 12 <= start.hour:
        return " Work past midnight goes on in the line of the next day."
    return f" Did you mean {_told((start, end.replace(hour=end.hour + 12)))}?"


def _told(spell: Spell) -> str:
    return "-".join(f"{at.hour}" + (f":{at.minute:02d}" if at.minute else "") for at in spell)


def _minute(at: datetime.time) -> int:
    return at.hour * 60 + at.minute
