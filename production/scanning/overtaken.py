"""Taps from before the jacket went elsewhere: they say nothing of where it stands now."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from itertools import takewhile

from django.contrib.auth.models import User

from production import tracking
from production.models import Jacket, StageEvent

#: A tap is dated too late by what its sending took, so that of two taps sent one after the other
#: the second may seem this much older (invented; longer than a device waits for one answer).
SENDING = datetime.timedelta(seconds=30)


def refuse_overtaken(
    jacket: Jacket,
    events: Sequence[StageEvent],
    by: User,
    made_at: datetime.datetime | None,
    after: int | None,
) -> None:
    """Raises MovedOnError where the jacket was sent back since the tap was made: the stage that it
    means was another time. `made_at` is None for a tap made now; `after` is the last event that the
    page of the tap was showing."""
    for event in tracking.live_events(list(events)):
        if event.kind != StageEvent.Kind.SENT_BACK:
            continue
        # What one sent back oneself is known, even to a page that does not show it.
        unseen = after is not None and event.pk > after and event.by_id != by.pk
        if unseen or _is_after(event, made_at):
            raise tracking.moved_on(jacket, list(events), tracking.standing_of(list(events)))


def refuse_next_of_then(
    jacket: Jacket, events: Sequence[StageEvent], made_at: datetime.datetime | None
) -> None:
    """Raises MovedOnError where the jacket stood at another stage when its tag was scanned: its
    next step of then is not that of now."""
    then = list(takewhile(lambda event: not _is_after(event, made_at), events))
    now = tracking.standing_of(list(events))
    if tracking.standing_of(then).stage != now.stage:
        raise tracking.moved_on(jacket, list(events), now)


def _is_after(event: StageEvent, made_at: datetime.datetime | None) -> bool:
    return made_at is not None and event.at > made_at + SENDING
