"""When a tap happened, told by a device whose clock may be wrong.

The moment of the tap and the moment of sending come from the same clock, so their difference is
right however wrong the clock is.
"""

from __future__ import annotations

import datetime
from dataclasses import dataclass

#: Older than this, a tap is not believed (invented).
OLDEST = datetime.timedelta(days=7)
#: A clock that is off by more is told (invented).
TOLD_OFF_SECONDS = 120
#: Beyond this the number no longer says anything, and a database would not hold it.
MOST_OFF_SECONDS = 2_000_000_000


@dataclass(frozen=True, slots=True)
class TapTime:
    """`at` by the clock of the site; `off_seconds` is how far the device's is ahead of it.
    `made_at` is when the tap was made, which may be before the last thing known of the jacket;
    None where the device did not tell, or `is_lost`: its clock was changed in between, or the tap
    is too old to be believed."""

    at: datetime.datetime
    off_seconds: int | None
    made_at: datetime.datetime | None = None
    is_lost: bool = False


def tap_time(
    device_at: datetime.datetime | None,
    sent_at: datetime.datetime | None,
    now: datetime.datetime,
    earliest: datetime.datetime,
) -> TapTime:
    """`earliest` is the last thing known of the jacket: no tap is dated before it."""
    if device_at is None or sent_at is None:
        return TapTime(max(now, earliest), None)
    age = sent_at - device_at
    off = round((sent_at - now).total_seconds())
    off = max(-MOST_OFF_SECONDS, min(MOST_OFF_SECONDS, off))
    if not datetime.timedelta() <= age <= OLDEST:
        return TapTime(max(now, earliest), off, is_lost=True)
    return TapTime(max(now - age, earliest), off, now - age)


def off_words(off_seconds: int | None) -> str:
    """A sentence where the clock is off by more than two minutes, else ''."""
    if off_seconds is None or abs(off_seconds) <= TOLD_OFF_SECONDS:
        return ""
    way = "ahead" if off_seconds > 0 else "behind"
    return f"The clock of this device is {_long(abs(off_seconds))} {way}; the right time was noted."


def _long(seconds: int) -> str:
    minutes = round(seconds / 60)
    if minutes < 120:
        return f"{minutes} minutes"
    if minutes < 48 * 60:
        return f"{round(minutes / 60)} hours"
    return f"{round(minutes / 1440)} days"
