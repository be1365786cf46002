"""When a run is ready, as a sum of capacity: no order of jobs, no waiting for a machine."""

from __future__ import annotations

import datetime
from decimal import ROUND_CEILING, Decimal
from statistics import NormalDist

from production.planning.plan import PlanError, Schedule
from production.planning.snapshot import WorkroomSpec

ONE_DAY = datetime.timedelta(days=1)


def capacity_schedule(
    minutes: Decimal, start: datetime.date, deadline: datetime.date, workroom: WorkroomSpec
) -> Schedule:
    """Schedule of `minutes` of work (with allowance) that are left on the morning of `start`.

    `start` counts if it is a working day. The expected finish is the working day on which the
    minutes run out. Cutting must start on the morning of `latest_cutting_start` for the jackets to
    be ready by the end of the deadline day. The chance is that of `chance_on_time` for the working
    days from start to deadline, both included. Raises PlanError for a workroom that never works.
    """
    day_minutes = workroom.people * workroom.minutes_per_person_day
    if day_minutes <= 0 or not workroom.working_weekdays:
        raise PlanError(
            f"{workroom.name} has no working time. Enter its people, minutes and working weekdays."
        )
    days = max(1, int((minutes / day_minutes).to_integral_value(ROUND_CEILING)))
    capacity = working_days(start, deadline, workroom.working_weekdays) * day_minutes
    return Schedule(
        latest_cutting_start=nth_working_day(deadline, days, workroom.working_weekdays, -1),
        expected_finish=nth_working_day(start, days, workroom.working_weekdays, +1),
        chance_on_time=(
            chance_on_time(minutes, capacity, workroom.minutes_spread) if deadline >= start else 0.0
        ),
    )


def chance_on_time(minutes: Decimal, capacity_minutes: int, spread: Decimal) -> float:
    """Chance, to 3 decimals, that the work takes no more than the capacity.

    A normal distribution around `minutes` with standard deviation spread x minutes. The spread is
    taken as a common factor: when the standards are off, all jackets are slow together. Adding it
    up as if each jacket erred on its own would make large runs look safer than they are.
    """
    deviation = float(spread * minutes)
    if capacity_minutes == 0 or deviation == 0:
        return 1.0 if minutes <= capacity_minutes else 0.0
    return round(NormalDist(float(minutes), deviation).cdf(capacity_minutes), 3)


def nth_working_day(first: datetime.date, n: int, weekdays: str, step: int) -> datetime.date:
    """The n-th working day (n >= 1) from `first` on, which counts itself; backward for step -1.
    `weekdays` holds digits from 1, Monday, to 7, Sunday."""
    weeks, rest = divmod(n - 1, len(set(weekdays)))
    try:
        day = first + step * 7 * weeks * ONE_DAY
        while True:
            if str(day.isoweekday()) in weekdays:
                if rest == 0:
                    return day
                rest -= 1
            day += step * ONE_DAY
    except OverflowError:
        raise PlanError(
            f"The work takes {n} working days, which no calendar holds. "
            "Check the minutes of the operations and the working time."
        ) from None


def working_days(first: datetime.date, last: datetime.date, weekdays: str) -> int:
    """How many working days lie from first to last, both included; 0 when last is earlier."""
    weeks, rest = divmod(max((last - first).days + 1, 0), 7)
    tail = (last - at * ONE_DAY for at in range(rest))
    return weeks * len(set(weekdays)) + sum(str(day.isoweekday()) in weekdays for day in tail)
