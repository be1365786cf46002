"""What helps a run most, reckoned when somebody asks."""

from __future__ import annotations

import datetime
from dataclasses import dataclass

from production.errors import ProductionError
from production.forecasting.forecast_load import reckoning
from production.glance.run_memory import RunMemory
from production.models import Run
from production.planning.forecasts.forecast import day_of
from production.planning.forecasts.forecast_helps import Help, Skipped, what_helps
from production.planning.forecasts.forecast_skip import left_out, topstitching
from production.planning.forecasts.forecast_words import chance_words
from production.planning.timetable.floor import Floor, FloorError

_topstitching = RunMemory(topstitching)


@dataclass(frozen=True, slots=True)
class HelpRow:
    words: str
    chance: str
    gain_points: int
    even_day: datetime.date | None
    safe_day: datetime.date | None
    is_part: bool


@dataclass(frozen=True, slots=True)
class HelpSheet:
    """`words` are the answer in a sentence, `rows` the changes that help, the best first."""

    words: str
    chance: str
    rows: tuple[HelpRow, ...]


def helps_for(run: Run) -> HelpSheet:
    """Raises ProductionError where nobody has any hours or nothing is left to do."""
    told = reckoning()
    codes = {jacket.code for jacket in told.floor.jackets if jacket.run == run.code}
    if not any(jacket.steps for jacket in told.floor.jackets if jacket.code in codes):
        raise ProductionError(f"Nothing is left to do for run {run.code}.")
    try:
        found = what_helps(
            told.floor,
            told.order,
            told.spread,
            codes,
            skipped=_skipped(run, told.floor),
        )
    except FloorError as error:
        raise ProductionError(str(error)) from error
    return HelpSheet(
        found.words,
        chance_words(found.now.chance),
        tuple(_row(told.floor, one) for one in found.ranked),
    )


def _skipped(run: Run, floor: Floor) -> Skipped | None:
    jackets = (jacket for jacket in floor.jackets if jacket.run == run.code)
    return left_out(_topstitching.of([run.pk])[run.pk], jackets)


def _row(floor: Floor, one: Help) -> HelpRow:
    return HelpRow(
        words=one.words,
        chance=chance_words(one.chance),
        gain_points=round(100 * one.gain),
        even_day=None if one.even is None else day_of(floor, one.even),
        safe_day=None if one.safe is None else day_of(floor, one.safe),
        is_part=one.is_part,
    )
