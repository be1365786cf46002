"""What a forecast says, in words."""

from __future__ import annotations

import datetime


def chance_words(chance: float) -> str:
    """A chance in percent; a forecast never says that something is certain."""
    percent = round(100 * chance)
    if percent >= 100:
        return "over 99 %"
    return f"{percent} %" if percent else "under 1 %"


#: Stands where a day must stand and none can be told.
NEVER = datetime.date.max
NO_DAY = "no day that can be told"


def day_words(day: datetime.date | None) -> str:
    return f"{day:%a} {day.day} {day:%b}" if day and day != NEVER else NO_DAY


def percent_words(share: float) -> str:
    """A share of 1 that is never rounded up to the whole."""
    return f"{min(int(100 * share + 1e-9), 100)} %"
