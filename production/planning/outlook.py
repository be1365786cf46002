"""How a run stands against its deadline, from the minutes that are left today."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from decimal import Decimal

from production.planning.schedule import capacity_schedule, working_days
from production.planning.snapshot import WorkroomSpec


@dataclass(frozen=True, slots=True)
class Outlook:
    """`capacity_minutes` are those of the working days from today to the deadline, both counted;
    `expected_finish` and `chance_percent` are None when nothing is left to do."""

    days_left: int
    working_days_left: int
    minutes_left: Decimal
    capacity_minutes: int
    expected_finish: datetime.date | None = None
    chance_percent: int | None = None

    @property
    def chance_words(self) -> str:
        """The chance in percent; a forecast never says that something is certain."""
        if self.chance_percent is None:
            return ""
        if self.chance_percent >= 100:
            return "over 99 %"
        return f"{self.chance_percent} %" if self.chance_percent else "under 1 %"

    @property
    def is_late(self) -> bool:
        return self.minutes_left > 0 and self.days_left < 0

    @property
    def is_tight(self) -> bool:
        return self.minutes_left > self.capacity_minutes


def outlook(
    minutes: Decimal, today: datetime.date, deadline: datetime.date, workroom: WorkroomSpec
) -> Outlook:
    """`minutes` of work, allowance included, are left this morning. Raises PlanError for a workroom
    that never works."""
    days = working_days(today, deadline, workroom.working_weekdays)
    bare = Outlook(
        days_left=(deadline - today).days,
        working_days_left=days,
        minutes_left=minutes,
        capacity_minutes=days * workroom.people * workroom.minutes_per_person_day,
    )
    if not minutes:
        return bare
    schedule = capacity_schedule(minutes, today, deadline, workroom)
    return Outlook(
        bare.days_left,
        bare.working_days_left,
        bare.minutes_left,
        bare.capacity_minutes,
        schedule.expected_finish,
        round(schedule.chance_on_time * 100),
    )
