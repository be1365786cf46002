"""The floor as it is now, read for the schedule and the forecast."""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from decimal import ROUND_HALF_UP, Decimal

from django.db.models import QuerySet
from django.utils import timezone

from patterns.models import Workroom
from production.glance.blocked import blocked_words
from production.models import Jacket, Pin
from production.planning.minutes.time_study import standard_time_ilo
from production.planning.timetable.floor import DAY, Floor, FloorJacket, Held, Step, minutes_since
from production.planning.timetable.floor_steps import less_done, steps_from
from production.planning.timetable.work_hours import from_now
from production.scheduling.floor_legs import RunLegs, legs_of
from production.scheduling.hands import hand_key, hands_from, machines_in_use
from production.scheduling.in_hand import InHand, in_hand
from production.stages.table import blocks_by_jacket
from production.work_study.stage_minutes import stage_corrections
from production.work_study.taken_over import TakenOver, factor_since, taken_over

#: Measured minutes of a stage correct the standard from so many jackets on. Invented.
JACKETS_TO_CORRECT = 5
#: People's hours are read for so many days, and beyond the latest deadline. Invented.
LEAST_DAYS, DAYS_AFTER_DEADLINE, MOST_DAYS = 60, 30, 400


def load_floor(now: datetime.datetime | None = None, *, corrected: bool = True) -> Floor:
    """Everything that is left to do from `now` on, the present unless given: the jackets that are
    neither handed over nor cancelled, of which those whose work is done have no steps left.

    With `corrected` the standard minutes are multiplied by what was measured, where enough jackets
    count. Today's work on a jacket in hand is taken off. The number of queries does not depend on
    the jackets.
    """
    local = timezone.localtime(now)
    begins, minute = local.date(), minutes_since(local.date(), local)
    room = Workroom.objects.first() or Workroom()
    jackets = list(jackets_left())
    steps = _steps(jackets, _ratios() if corrected else {})
    skills = (skill for own in steps.values() for step in own for skill in step.skills)
    hands = hands_from(room, begins, _days(begins, jackets), skills)
    return Floor(
        begins=begins,
        now=minute,
        jackets=tuple(_floor_jackets(jackets, steps, in_hand(begins, minute, hands), begins)),
        hands=tuple(replace(hand, spells=from_now(hand.spells, minute)) for hand in hands),
        machines=machines_in_use(),
        held=_held(begins),
        thread_change=_change_minutes(room.thread_change_minutes, room),
        setting_change=_change_minutes(room.foot_change_minutes, room),
    )


def jackets_left() -> QuerySet[Jacket]:
    """By deadline, then in the order of their codes."""
    return (
        Jacket.objects.filter(cancelled_at=None)
        .exclude(stage=Jacket.Stage.HANDED_OVER)
        .select_related("run", "jacket_order__team_order")
        .defer("run__snapshot", "run__plan")
        .order_by("jacket_order__team_order__deadline", "run", "pk")
    )


def _steps(jackets: Sequence[Jacket], ratios: Mapping[str, Decimal]) -> dict[str, tuple[Step, ...]]:
    """By jacket code those from where it stands."""
    runs: Mapping[int, RunLegs] = legs_of(jackets)
    cut, taken = _cut_shares(jackets), taken_over()
    return {
        jacket.code: steps_from(
            jacket.stage,
            runs[jacket.run_id][jacket.code],
            standard_minutes(jacket, taken),
            ratios,
            cut.get(jacket.pk, Decimal(0)),
        )
        for jacket in jackets
    }


def _cut_shares(jackets: Iterable[Jacket]) -> dict[int, Decimal]:
    """Which share of its blocks lies on the table already, of the jackets that wait to be cut."""
    waiting = [jacket for jacket in jackets if jacket.stage == Jacket.Stage.CUT]
    return {
        jacket: Decimal(sum(how.lies for how in blocks.values())) / max(len(blocks), 1)
        for jacket, blocks in blocks_by_jacket(waiting).items()
    }


def standard_minutes(jacket: Jacket, taken: TakenOver) -> dict[str, Decimal]:
    """By stage, in the standards of today, to which the measured ratios belong."""
    return {
        stage: Decimal(minutes) * factor_since(taken, stage, jacket.run.created_at)
        for stage, minutes in jacket.standard_minutes.items()
    }


def _ratios() -> dict[str, Decimal]:
    return {
        stage: found.ratio
        for stage, found in stage_corrections().items()
        if found.ratio is not None and found.count >= JACKETS_TO_CORRECT
    }


def _days(begins: datetime.date, jackets: Iterable[Jacket]) -> int:
    latest = max((deadline_of(jacket) for jacket in jackets), default=begins)
    return min(max(LEAST_DAYS, (latest - begins).days + DAYS_AFTER_DEADLINE), MOST_DAYS)


def deadline_of(jacket: Jacket) -> datetime.date:
    return jacket.jacket_order.team_order.deadline


def _floor_jackets(
    jackets: Sequence[Jacket],
    steps: Mapping[str, tuple[Step, ...]],
    hands: Mapping[int, InHand],
    begins: datetime.date,
) -> Iterable[FloorJacket]:
    blocked = blocked_words([jacket for jacket in jackets if steps[jacket.code]])
    for jacket in jackets:
        own, held = steps[jacket.code], hands.get(jacket.pk)
        yield FloorJacket(
            code=jacket.code,
            run=jacket.run.code,
            team_order=jacket.jacket_order.team_order.code,
            size=jacket.size,
            due=(deadline_of(jacket) - begins).days * DAY + DAY,
            steps=less_done(own, jacket.stage, held.worked_minutes) if held else own,
            blocked=blocked.get(jacket.code, ""),
            mends=bool(jacket.mend_reason),
            in_work_by=held.hand if held and own else "",
        )


def _held(begins: datetime.date) -> tuple[Held, ...]:
    pins = Pin.objects.filter(lifted_at=None).order_by("pk")
    return tuple(
        Held(
            code,
            stage,
            hand_key(person) if person else "",
            (day - begins).days if day else None,
        )
        for code, stage, person, day in pins.values_list("jacket__code", "stage", "person", "day")
    )


def _change_minutes(minutes: Decimal, room: Workroom) -> int:
    """With allowance, in whole minutes."""
    whole = standard_time_ilo(Decimal(minutes), room.relaxation_allowance)
    return int(whole.quantize(Decimal(1), ROUND_HALF_UP))
