"""What a schedule was made from, in short, so that a later look tells what has changed since."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from hashlib import sha256

from django.db.models import Count, Max

from patterns.models import Workroom
from production.models import (
    BlockTick,
    DaysOff,
    ExtraHours,
    Jacket,
    LayPly,
    Machine,
    Person,
    Pin,
    SpoiledPiece,
    StageEvent,
    Supplement,
    WorkSpell,
)
from production.planning.standing import SENT_BACK, UNDONE

WORDS = {
    "pins": "what is held by hand has changed",
    "people": "people, their hours or the machines have changed",
    "jackets": "jackets were added, changed, cancelled, or wait for other pieces",
}


#: Settings of the workroom that a schedule counts with.
WORKROOM = (
    "people",
    "minutes_per_person_day",
    "working_weekdays",
    "relaxation_allowance",
    "thread_change_minutes",
    "foot_change_minutes",
)


@dataclass(frozen=True, slots=True)
class Seen:
    """The last event by its number, and digests of the rest. What was cut is foreseen, so it makes
    no schedule out of date."""

    last_event: int
    pins: str
    people: str
    jackets: str
    cut: str = ""


def seen_now() -> Seen:
    """A dozen small queries, whatever there is to make."""
    room = Workroom.objects.first() or Workroom()
    return Seen(
        last_event=StageEvent.objects.aggregate(last=Max("pk"))["last"] or 0,
        pins=_digest(Pin.objects.filter(lifted_at=None).order_by("pk").values_list("pk")),
        people=_digest(
            *(
                model.objects.order_by("pk").values_list()
                for model in (Person, WorkSpell, DaysOff, ExtraHours, Machine)
            ),
            [[str(getattr(room, name)) for name in WORKROOM]],
        ),
        jackets=_digest(
            Jacket.objects.filter(cancelled_at=None)
            .order_by("jacket_order__team_order")
            .values_list("jacket_order__team_order", "jacket_order__team_order__deadline")
            .annotate(jackets=Count("pk")),
            Supplement.objects.order_by("-pk").values_list("pk")[:1],
            SpoiledPiece.objects.waiting().order_by("pk").values_list("pk"),
        ),
        cut=_digest(
            LayPly.objects.exclude(cut_at=None)
            .aggregate(n=Count("pk"), last=Max("cut_at"))
            .items(),
            BlockTick.objects.filter(taken_back_at=None).aggregate(n=Count("pk")).items(),
        ),
    )


def _digest(*asked: Iterable[object]) -> str:
    told = repr([list(rows) for rows in asked])
    return sha256(told.encode()).hexdigest()[:16]


def changes_since(then: Seen, now: Seen) -> list[str]:
    """In words what makes a schedule that was made from `then` out of date."""
    words = [said for name, said in WORDS.items() if getattr(then, name) != getattr(now, name)]
    unforeseen = StageEvent.objects.filter(
        pk__gt=then.last_event, kind__in=(SENT_BACK, UNDONE)
    ).values("jacket")
    if count := unforeseen.distinct().count():
        words.append(f"{jackets_words(count)} came back or had a step undone")
    return words


def jackets_words(count: int) -> str:
    return f"{count} jacket{'' if count == 1 else 's'}"
