"""The jackets of a run on the rail: where each hangs, in whose hands, and what stops it."""

from __future__ import annotations

import datetime
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from django.utils import timezone

from production.models import Jacket, StageEvent
from production.planning.standing import END, STAGES
from production.tracking import name_of


@dataclass(frozen=True, slots=True)
class Peg:
    """One jacket on the rail. `by` has it in work, `mender` was named to mend it, `blocked` says
    why it cannot go on; '' where that is not so."""

    code: str
    url: str
    member: str
    size: str
    colorway: str
    club: str
    in_work: bool
    mend_reason: str
    since: datetime.datetime
    by: str = ""
    mender: str = ""
    blocked: str = ""

    @property
    def told(self) -> str:
        """All of it, for who points at the jacket."""
        return "; ".join(
            filter(
                None,
                [
                    f"{self.code}: {self.member}, {self.size}, {self.colorway}",
                    f"to mend: {self.mend_reason}" if self.mend_reason else "",
                    f"cannot go on: {self.blocked}" if self.blocked else "",
                ],
            )
        )

    @property
    def label(self) -> str:
        """What a screen reader says of it."""
        marks = {
            "in work": self.in_work,
            "to mend": self.mend_reason,
            "cannot go on": self.blocked,
        }
        return ", ".join(
            [f"{self.size} for {self.member}", self.code, *(word for word in marks if marks[word])]
        )

    @property
    def css(self) -> str:
        marks = {
            "peg-in-work": self.in_work,
            "peg-mend": self.mend_reason,
            "peg-blocked": self.blocked,
        }
        return " ".join(["peg", *(name for name in marks if marks[name])])


@dataclass(frozen=True, slots=True)
class DoneToday:
    """A stage of a jacket that was done today."""

    code: str
    by: str
    at: datetime.datetime


#: So many jackets of a stage are named at once, the others where one asks for them.
NAMED_AT_ONCE = 8


@dataclass(frozen=True, slots=True)
class Band:
    """One stage of the rail: mends first, then who has waited longest. `done` counts the jackets
    that are further on."""

    stage: str
    pegs: tuple[Peg, ...]
    done: int = 0
    done_today: tuple[DoneToday, ...] = ()

    @property
    def first(self) -> tuple[Peg, ...]:
        return self.pegs[:NAMED_AT_ONCE]

    @property
    def further(self) -> tuple[Peg, ...]:
        return self.pegs[NAMED_AT_ONCE:]

    @property
    def in_work(self) -> int:
        return sum(peg.in_work for peg in self.pegs)

    @property
    def waiting(self) -> int:
        return len(self.pegs) - self.in_work

    @property
    def mends(self) -> int:
        return sum(bool(peg.mend_reason) for peg in self.pegs)

    @property
    def blocked(self) -> int:
        return sum(bool(peg.blocked) for peg in self.pegs)


@dataclass(frozen=True, slots=True)
class Marks:
    """What the rail shows beside where jackets stand: who has one in work and who mends it by its
    key, why one cannot go on by its code, and what was done today by stage."""

    hands: Mapping[int, str] = field(default_factory=dict)
    menders: Mapping[int, str] = field(default_factory=dict)
    blocked: Mapping[str, str] = field(default_factory=dict)
    done_today: Mapping[str, tuple[DoneToday, ...]] = field(default_factory=dict)


def rail(jackets: Iterable[Jacket], marks: Marks | None = None) -> tuple[Band, ...]:
    """The bands of all stages and, last, of what is handed over; cancelled jackets hang nowhere.
    The jackets come from `queries.run_jackets`."""
    marks = marks or Marks()
    hung: dict[str, list[Peg]] = {stage: [] for stage in (*STAGES, END)}
    for jacket in jackets:
        if not jacket.cancelled_at:
            hung[jacket.stage].append(_peg(jacket, marks))
    bands, further = [], sum(map(len, hung.values()))
    for stage, pegs in hung.items():
        further -= len(pegs)
        in_order = sorted(pegs, key=lambda peg: (not peg.mend_reason, peg.since))
        bands.append(Band(stage, tuple(in_order), further, marks.done_today.get(stage, ())))
    return tuple(bands)


def _peg(jacket: Jacket, marks: Marks) -> Peg:
    line = jacket.jacket_order
    return Peg(
        code=jacket.code,
        url=jacket.get_absolute_url(),
        member=line.member,
        size=jacket.size,
        colorway=line.colorway.name,
        club=line.team_order.club.name,
        in_work=jacket.in_work,
        mend_reason=jacket.mend_reason,
        since=getattr(jacket, "since"),  # noqa: B009 - annotated by run_jackets
        by=marks.hands.get(jacket.pk, "") if jacket.in_work else "",
        mender=marks.menders.get(jacket.pk, ""),
        blocked=marks.blocked.get(jacket.code, ""),
    )


def in_whose_hands(run: int) -> dict[int, str]:
    """Who started the stage that a jacket of a run is in work at, by its key."""
    events = StageEvent.objects.filter(
        kind=StageEvent.Kind.STARTED,
        undone_by=None,
        jacket__run=run,
        jacket__in_work=True,
        jacket__cancelled_at=None,
    )
    return {event.jacket_id: name_of(event) for event in events.select_related("by").order_by("pk")}


def done_today(run: int) -> dict[str, tuple[DoneToday, ...]]:
    """What was done of a run today, by stage, in order; without what was undone."""
    midnight = timezone.localtime().replace(hour=0, minute=0, second=0, microsecond=0)
    events = StageEvent.objects.filter(
        kind=StageEvent.Kind.DONE, undone_by=None, jacket__run=run, at__gte=midnight
    )
    rows = events.order_by("at", "pk").values_list(
        "stage", "jacket__code", "at", "by", "by__first_name", "by__last_name", "by__username"
    )
    found: dict[str, list[DoneToday]] = defaultdict(list)
    for stage, code, at, by, first, last, username in rows:
        who = (f"{first} {last}".strip() or username) if by else "a command"
        found[stage].append(DoneToday(code, who, at))
    return {stage: tuple(some) for stage, some in found.items()}
