"""What the forecast is computed from: the spread of measured minutes, and the order of work."""

from __future__ import annotations

import math
from collections import defaultdict

from patterns.models import Workroom
from production.models import StageEvent
from production.planning.forecasts.forecast_spread import Spread
from production.planning.minutes.stage_times import worked_minutes
from production.planning.standing import DONE, SENT_BACK
from production.planning.timetable.floor import Slot
from production.scheduling.floor_plans import latest_schedule, schedule_of
from production.work_study.stage_minutes import stage_times

#: A jacket that took ten times its standard, or a tenth, tells of a forgotten tap. Invented.
MOST_RATIO = 10.0


def load_spread(workroom: Workroom) -> Spread:
    """How actual minutes of the last year scatter about the standards, and how many of the jackets
    that were finished went back to be mended."""
    events = StageEvent.objects.filter(undone_by=None)
    finished = events.filter(kind=DONE, stage="finish").values("jacket").distinct()
    sent_back = events.filter(kind=SENT_BACK).values("jacket").distinct()
    return Spread(
        standards_off=float(workroom.minutes_spread),
        ratios=measured_ratios(),
        looked_over=finished.count(),
        sent_back=sent_back.filter(jacket__in=finished).count(),
    )


def measured_ratios() -> dict[str, list[float]]:
    """Logarithms of actual over standard minutes by stage."""
    found: dict[str, list[float]] = defaultdict(list)
    counted = [time for time in stage_times() if time.counts]
    for time, minutes in zip(counted, worked_minutes(counted), strict=True):
        ratio = float(minutes / time.standard_minutes)
        if 1 / MOST_RATIO < ratio < MOST_RATIO:
            found[time.stage].append(math.log(ratio))
    return dict(found)


def planned_slots() -> tuple[Slot, ...]:
    """Who does what when by the schedule in use; empty without one."""
    plan = latest_schedule()
    return schedule_of(plan).slots if plan else ()
