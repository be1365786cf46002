"""The jackets that somebody has in hand, and how long they have worked on them today."""

from __future__ import annotations

import datetime
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from django.utils import timezone

from production.models import Person, StageEvent
from production.planning.timetable.floor import Hand, minutes_since
from production.planning.timetable.floor_clock import joined
from production.planning.timetable.work_hours import minutes_between
from production.scheduling.hands import hand_key


@dataclass(frozen=True, slots=True)
class InHand:
    """`hand` is '' where whoever started it is nobody of the workroom's people."""

    hand: str
    worked_minutes: int


def in_hand(begins: datetime.date, now: int, hands: Iterable[Hand]) -> dict[int, InHand]:
    """By jacket; `hands` have all their hours of today. Who has several in hand works on one at a
    time, so their minutes are shared; what was worked on days before nobody knows. A log-in that is
    nobody's works while anybody does."""
    started = _started()
    at_once = Counter(by for by, _ in started.values())
    keys: dict[int | None, str] = {
        user: hand_key(pk)
        for pk, user in Person.objects.filter(has_left=False, user__isnull=False).values_list(
            "pk", "user"
        )
    }
    spells = {hand.key: hand.spells for hand in hands}
    anybody = joined((spell for own in spells.values() for spell in own), since=0)
    found = {}
    for jacket, (by, at) in started.items():
        since = max(minutes_since(begins, timezone.localtime(at)), 0)
        hand = keys.get(by, "")
        worked = minutes_between(spells.get(hand, anybody), since, now)
        found[jacket] = InHand(hand, worked // at_once[by])
    return found


def _started() -> dict[int, tuple[int | None, datetime.datetime]]:
    """By whom and when the stage that a jacket is in work at was started."""
    events = StageEvent.objects.filter(
        kind=StageEvent.Kind.STARTED,
        undone_by=None,
        jacket__in_work=True,
        jacket__cancelled_at=None,
    ).order_by("pk")
    return {jacket: (by, at) for jacket, by, at in events.values_list("jacket", "by", "at")}
