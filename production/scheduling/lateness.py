"""Which jackets the schedule in use makes late, and why."""

from __future__ import annotations

import datetime
from collections.abc import Iterable
from dataclasses import dataclass

from production.planning.timetable.floor import DAY, FloorSchedule, LateJacket, moment
from production.planning.timetable.floor_words import day_words, moment_words
from production.scheduling.floor_plans import latest_schedule, schedule_of, where_now


@dataclass(frozen=True, slots=True)
class LateDeadline:
    """The late jackets of one deadline, with their reasons: (reason, codes)."""

    deadline: datetime.date
    reasons: tuple[tuple[str, tuple[str, ...]], ...]
    count: int


def late_words(jacket_code: str) -> str:
    """Why the schedule in use makes this jacket late, '' where it does not."""
    return late_by_jacket().get(jacket_code, "")


def late_by_jacket() -> dict[str, str]:
    """Words by jacket code, for those that the schedule in use makes late and that are not ready
    or cancelled by now."""
    plan = latest_schedule()
    if plan is None or not plan.late_jackets:
        return {}
    found = schedule_of(plan)
    return {late.jacket: words_of(found, late) for late in still_late(found)}


def words_of(found: FloorSchedule, late: LateJacket) -> str:
    due = day_words(found.begins, late.due - 1)
    if late.ready is None:
        return f"Late by the schedule: due {due}, not ready within the known hours; {late.why}"
    ready = moment_words(found.begins, late.ready)
    return f"Late by the schedule: due {due}, ready {ready}; {late.why}"


def still_late(found: FloorSchedule) -> list[LateJacket]:
    where = where_now(late.jacket for late in found.late)
    return [
        late
        for late in found.late
        if (stands := where.get(late.jacket))
        and not stands.is_cancelled
        and not stands.has_done("finish")
    ]


def by_deadline(found: FloorSchedule, late: Iterable[LateJacket]) -> list[LateDeadline]:
    deadlines: dict[int, list[LateJacket]] = {}
    for each in late:
        deadlines.setdefault(each.due, []).append(each)
    return [
        LateDeadline(moment(found.begins, due - DAY).date(), _reasons(some), len(some))
        for due, some in sorted(deadlines.items())
    ]


def _reasons(late: Iterable[LateJacket]) -> tuple[tuple[str, tuple[str, ...]], ...]:
    reasons: dict[str, list[str]] = {}
    for each in late:
        reasons.setdefault(each.why, []).append(each.jacket)
    return tuple((why, tuple(codes)) for why, codes in reasons.items())
