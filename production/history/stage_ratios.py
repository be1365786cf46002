"""Minutes of stages as they were measured on the floor, against the standards of today."""

from __future__ import annotations

import datetime
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from django.contrib.auth.models import User
from django.db.models import Max

from production.history.lines import name
from production.models import Jacket, StandardChange
from production.planning.minutes.stage_spread import Spread, spread
from production.planning.minutes.stage_times import StageTime, worked_minutes
from production.planning.standing import STAGES
from production.work_study.stage_minutes import stage_times

#: A stage is taken over from so many jackets on. Invented.
LEAST_JACKETS = 5
#: Beyond these factors something else is wrong than the standard: a time study is asked for.
#: Invented.
LOWEST, HIGHEST = Decimal("0.5"), Decimal("2")


@dataclass(frozen=True, slots=True)
class Measured:
    """A stage as its jackets took it. `before` were planned before its standards changed last, at
    `changed_at`, and are left out: they were measured against others; `overnight` did not begin
    and end on one day."""

    stage: str
    spread: Spread | None
    before: int
    overnight: int
    changed_at: datetime.datetime | None
    people: tuple[tuple[str, Spread], ...]

    @property
    def factor(self) -> Decimal:
        """What the standards would be multiplied by."""
        return round(self.spread.ratio, 2) if self.spread else Decimal(1)

    @property
    def why_not(self) -> str:
        """Why the standards cannot follow, '' where they can."""
        if self.spread is None or self.spread.count < LEAST_JACKETS:
            count = self.spread.count if self.spread else 0
            return (
                f"{count} of at least {LEAST_JACKETS} jackets count so far that were planned "
                "with the standards of today."
            )
        if not LOWEST <= self.factor <= HIGHEST:
            return (
                f"The factor {self.factor} is beyond {LOWEST} to {HIGHEST}: taps were forgotten, "
                "or the work is another. Find out by a time study."
            )
        return "The standards hold already." if self.factor == 1 else ""

    @property
    def mark(self) -> str:
        """Tells whether it has changed since a page was shown."""
        return f"{self.spread.count}:{self.factor}" if self.spread else ""


def measured(asking: User | None = None) -> list[Measured]:
    """Stages in their order, by jackets that something happened to within the last year. With
    `asking` only the own minutes among `people`. Four queries."""
    times = [time for time in stage_times() if time.stage in STAGES[:3]]
    changed, planned = _changed(), _planned(times)
    counted = [time for time in times if time.counts]
    worked = dict(zip(map(id, counted), worked_minutes(counted), strict=True))
    found = []
    for stage in STAGES[:3]:
        own = [time for time in times if time.stage == stage]
        since = changed.get(stage)
        ours = [time for time in own if since is None or planned[time.jacket] > since]
        pairs = [(time, worked[id(time)] / time.standard_minutes) for time in ours if time.counts]
        found.append(
            Measured(
                stage=stage,
                spread=spread((ratio, time.standard_minutes) for time, ratio in pairs),
                before=len(own) - len(ours),
                overnight=len(ours) - len(pairs),
                changed_at=since,
                people=_people(pairs, asking),
            )
        )
    return found


def _changed() -> dict[str, datetime.datetime]:
    """When the standard of an operation of a stage changed last."""
    rows = StandardChange.objects.order_by().values_list("operation__stage").annotate(Max("at"))
    return dict(rows)


def _planned(times: Iterable[StageTime]) -> dict[int, datetime.datetime]:
    """When the run of each jacket was planned."""
    jackets = Jacket.objects.filter(pk__in={time.jacket for time in times})
    return dict(jackets.values_list("pk", "run__created_at"))


def _people(
    pairs: Iterable[tuple[StageTime, Decimal]], asking: User | None
) -> tuple[tuple[str, Spread], ...]:
    by_person: dict[int, list[tuple[Decimal, Decimal]]] = defaultdict(list)
    for time, ratio in pairs:
        if time.who is not None and (asking is None or time.who == asking.pk):
            by_person[time.who].append((ratio, time.standard_minutes))
    users = User.objects.in_bulk(list(by_person))
    told = [(name(users[pk]), spread(own)) for pk, own in by_person.items()]
    return tuple(sorted((who, own) for who, own in told if own))
