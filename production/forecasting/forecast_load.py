"""The forecast of everything on the floor, from the database to what pages show."""

from __future__ import annotations

import datetime
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby

from django.db.models import QuerySet
from django.utils import timezone

from patterns.models import Workroom
from production.forecasting.expectations import Ahead, Expectation
from production.forecasting.forecast_input import load_spread, planned_slots
from production.models import Jacket, Run, StageEvent
from production.planning.forecasts.forecast import (
    Expected,
    Simulation,
    day_of,
    expected,
    fan,
    simulate,
)
from production.planning.forecasts.forecast_spread import Spread
from production.planning.forecasts.progress import LEVELS, MOST_DAYS, Doing, Progress, progress
from production.planning.timetable.floor import Floor, FloorError, FloorJacket, Slot
from production.scheduling.floor_state import load_floor
from production.tracking import live_events


@dataclass(frozen=True, slots=True)
class Reckoning:
    """What one simulation is made of. The floor is at standard pace: what was measured is in the
    spread, so it must not correct the minutes as well."""

    floor: Floor
    order: tuple[Slot, ...]
    spread: Spread
    room: Workroom


def reckoning() -> Reckoning:
    room = Workroom.objects.first() or Workroom()
    return Reckoning(load_floor(corrected=False), planned_slots(), load_spread(room), room)


def load_ahead() -> dict[str, Ahead]:
    """By code of every run of which work is left; empty where nobody has any hours."""
    told = reckoning()
    left = [jacket.run for jacket in told.floor.jackets if jacket.steps]
    runs = list(
        Run.objects.filter(code__in=left)
        .defer("snapshot", "plan")
        .prefetch_related("run_orders__team_order__club")
    )
    if not runs:
        return {}
    try:
        simulation = simulate(told.floor, told.order, told.spread)
    except FloorError:
        return {}
    lines = _progress_lines(runs, simulation, told.room)
    return {run.code: _ahead(run, told, simulation, lines[run.pk]) for run in runs}


def _ahead(run: Run, told: Reckoning, simulation: Simulation, line: Progress) -> Ahead:
    jackets = [jacket for jacket in told.floor.jackets if jacket.run == run.code]
    by_order: dict[str, list[FloorJacket]] = defaultdict(list)
    for jacket in jackets:
        by_order[jacket.team_order].append(jacket)
    orders = [row.team_order for row in run.run_orders.all()]
    clubs = ", ".join(dict.fromkeys(order.club.name for order in orders))
    limit = told.room.warn_below_percent
    return Ahead(
        whole=_expectation(run.code, clubs, run.deadline, jackets, simulation, limit),
        orders=tuple(
            _expectation(
                order.code, order.club.name, order.deadline, by_order[order.code], simulation, limit
            )
            for order in sorted(orders, key=lambda order: (order.deadline, order.code))
        ),
        progress=line,
        blocked=sum(bool(jacket.blocked) for jacket in jackets),
        measured=sum(len(ratios) for ratios in told.spread.ratios.values()),
        at=timezone.now(),
    )


def _expectation(
    name: str,
    club: str,
    deadline: datetime.date,
    jackets: Sequence[FloorJacket],
    simulation: Simulation,
    limit: int,
) -> Expectation:
    codes = [jacket.code for jacket in jackets]
    found: Expected = expected(simulation, codes)
    hindered = [simulation.impossible[code] for code in codes if code in simulation.impossible]
    return Expectation(
        name=name,
        club=club,
        deadline=deadline,
        jackets_left=sum(bool(jacket.steps) for jacket in jackets),
        chance=round(found.chance, 3),
        even_day=None if found.even is None else day_of(simulation.floor, found.even),
        safe_day=None if found.safe is None else day_of(simulation.floor, found.safe),
        minutes_left=found.minutes_left,
        warns_below=limit,
        hindered=" ".join(dict.fromkeys(hindered)),
    )


def _progress_lines(
    runs: Sequence[Run], simulation: Simulation, room: Workroom
) -> dict[int, Progress]:
    """By key of the run."""
    doings = _doings(runs)
    minutes: dict[int, dict[str, dict[str, float]]] = defaultdict(dict)
    made = Jacket.objects.filter(run__in=runs, cancelled_at=None)
    for run, code, stages in made.values_list("run", "code", "standard_minutes"):
        minutes[run][code] = {stage: float(value) for stage, value in stages.items()}
    today = simulation.floor.begins
    return {
        run.pk: progress(
            minutes[run.pk],
            doings[run.pk],
            begins=timezone.localdate(run.created_at),
            today=today,
            deadline=run.deadline,
            weekdays=room.working_weekdays,
            fan=fan(simulation, minutes[run.pk], MOST_DAYS, LEVELS),
        )
        for run in runs
    }


def _doings(runs: Sequence[Run]) -> Mapping[int, list[Doing]]:
    """What counts of the events of each run's jackets, in their order."""
    events: QuerySet[StageEvent] = (
        StageEvent.objects.filter(jacket__run__in=runs)
        .select_related("jacket", "undoes")
        .order_by("jacket", "pk")
    )
    found: dict[int, list[Doing]] = defaultdict(list)
    for _, own in groupby(events, key=lambda event: event.jacket_id):
        for event in live_events(list(own)):
            found[event.jacket.run_id].append(_doing(event))
    return found


def _doing(event: StageEvent) -> Doing:
    return Doing(event.jacket.code, timezone.localdate(event.at), event.kind, event.stage)
