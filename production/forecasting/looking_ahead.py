"""The look ahead of the day: plan anew, keep what is expected, warn where it is late."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from patterns.models import Workroom
from production.forecasting import forecasts
from production.forecasting.expectations import Ahead, Expectation
from production.forecasting.forecast_state import all_ahead
from production.models import FloorPlan, Forecast, Run
from production.scheduling.floor_state import load_floor
from production.scheduling.schedules import make_schedule

#: How long the search for the plan of the days takes, unless told.
USUAL_SECONDS = 4.0


@dataclass(frozen=True, slots=True)
class Told:
    """What is expected of a team order or, without one, of a run; `mail` says what came of the
    warning."""

    run: str
    team_order: str
    expected: Expectation
    kept: Forecast
    mail: forecasts.Mail


@dataclass(frozen=True, slots=True)
class LookAhead:
    plan: FloorPlan | None
    told: tuple[Told, ...]


def look_ahead(seconds: float = USUAL_SECONDS) -> LookAhead:
    """Raises ProductionError where jackets are left and nobody can work."""
    if not any(jacket.steps for jacket in load_floor().jackets):
        return LookAhead(None, ())
    plan = make_schedule(None, seconds)
    ahead = all_ahead()
    room = Workroom.objects.first() or Workroom()
    runs = Run.objects.filter(code__in=ahead).defer("snapshot", "plan").order_by("deadline", "code")
    return LookAhead(
        plan, tuple(told for run in runs for told in _of_run(run, ahead[run.code], room))
    )


def _of_run(run: Run, ahead: Ahead, room: Workroom) -> Iterator[Told]:
    """The run, then its team orders."""
    for row in forecasts.note(run, ahead):
        if row.team_order is None:
            yield Told(run.code, "", ahead.whole, row, forecasts.Mail.NOT_NEEDED)
        elif one := ahead.order(row.team_order.code):
            yield Told(run.code, one.name, one, row, forecasts.warn(row, one, room))
