"""Makes the schedule of the floor, keeps it, and tells whether it still holds."""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal
from threading import Lock
from typing import TYPE_CHECKING, Any

import msgspec
from django.db import transaction
from django.utils import timezone
from django.utils.formats import date_format

from patterns.models import Workroom
from production.errors import ProductionError
from production.models import FloorPlan, Jacket
from production.planning.standing import END, STAGES
from production.planning.timetable.floor import DAY, FloorError, FloorSchedule, minutes_since
from production.planning.timetable.floor_apart import schedule_apart
from production.scheduling.floor_state import load_floor
from production.scheduling.seen import Seen, changes_since, jackets_words, seen_now

if TYPE_CHECKING:
    from django.contrib.auth.models import User

#: Where what the schedule was made from stands, beside its own fields.
SEEN = "seen"
#: A step counts as behind when it should have been done so many minutes ago. Invented.
BEHIND_MINUTES = 60
#: Two that ask at once share one solver, which takes all processors there are.
_solver = Lock()


def make_schedule(by: User | None, seconds: float = 4.0) -> FloorPlan:
    """Plans everything that is left from the present state, and keeps it as the schedule in use.

    Who asks while it is being made gets the one that is made. The search runs outside of the
    transaction, so that taps on the floor need not wait for it. Raises ProductionError where
    nobody can work.
    """
    asked = timezone.now()
    with _solver:
        return _made_since(asked) or _make(by, seconds, asked)


def _make(by: User | None, seconds: float, asked: datetime.datetime) -> FloorPlan:
    seen = seen_now()
    try:
        found = schedule_apart(load_floor(), seconds)
    except FloorError as error:
        raise ProductionError(str(error)) from error
    with transaction.atomic():
        list(Workroom.objects.select_for_update().values_list("pk"))
        return _made_since(asked) or FloorPlan.objects.create(
            begins_on=found.begins,
            plan={**msgspec.to_builtins(found), SEEN: msgspec.to_builtins(seen)},
            late_jackets=found.late_jackets,
            gap_percent=None if found.gap is None else percent_up(found.gap),
            seconds=found.seconds,
            by=by,
        )


def percent_up(share: float) -> Decimal:
    """In tenths, upwards: 0 is said only of the best there is."""
    return Decimal(100 * share).quantize(Decimal("0.1"), ROUND_CEILING)


def _made_since(asked: datetime.datetime) -> FloorPlan | None:
    """What somebody else made in the meantime, if it still holds."""
    plan = FloorPlan.objects.filter(at__gt=asked).first()
    return plan if plan and not out_of_date(plan) else None


def latest_schedule() -> FloorPlan | None:
    """The schedule in use; None where none was made, or only one that cannot be read any more."""
    plan = FloorPlan.objects.select_related("by").first()
    try:
        return plan if plan and schedule_of(plan) else None
    except ProductionError:
        return None


def schedule_of(plan: FloorPlan) -> FloorSchedule:
    """Raises ProductionError for one that was stored in another shape, as by a later version."""
    try:
        return msgspec.convert(plan.plan, FloorSchedule)
    except msgspec.ValidationError as error:
        raise ProductionError(f"The {plan} cannot be read: {error}. Plan anew.") from error


@dataclass(frozen=True, slots=True)
class Where:
    """Where a jacket stands, as far as a schedule cares."""

    stage: str
    in_work: bool = False
    is_cancelled: bool = False

    def has_done(self, stage: str) -> bool:
        if self.stage == END:
            return True
        return STAGES.index(self.stage) > STAGES.index(stage)


def where_now(codes: Iterable[str]) -> dict[str, Where]:
    rows = Jacket.objects.filter(code__in=set(codes)).values_list(
        "code", "stage", "in_work", "cancelled_at"
    )
    return {code: Where(stage, in_work, bool(at)) for code, stage, in_work, at in rows}


def out_of_date(plan: FloorPlan, now: datetime.datetime | None = None) -> list[str]:
    """Why the schedule should be made anew, in words; empty while it holds. That steps are done as
    it says does not make it out of date."""
    found, local = schedule_of(plan), timezone.localtime(now)
    words = []
    days = (local.date() - found.begins).days
    # One made in the evening is for the day after.
    if days and any(slot.start < days * DAY for slot in found.slots):
        words.append(f"it was made {made_words(found.begins, local.date())}")
    seen: Any = plan.plan.get(SEEN)
    if seen:
        words += changes_since(msgspec.convert(seen, Seen), seen_now())
    minute = minutes_since(found.begins, local)
    where = where_now(slot.jacket for slot in found.slots)
    if behind := _behind(found, where, minute - BEHIND_MINUTES):
        words.append(f"{jackets_words(behind)} should be further by now")
    return words


def _behind(found: FloorSchedule, where: Mapping[str, Where], until: int) -> int:
    """How many jackets have a stage that should have been done by then and is not."""
    ends: dict[tuple[str, str], int] = {}
    for slot in found.slots:
        key = (slot.jacket, slot.stage)
        ends[key] = max(ends.get(key, 0), slot.end)
    return len(
        {
            code
            for (code, stage), end in ends.items()
            if end <= until
            and (stands := where.get(code))
            and not stands.is_cancelled
            and not stands.has_done(stage)
        }
    )


def made_words(day: datetime.date, today: datetime.date) -> str:
    if day == today:
        return "today"
    if day == today - datetime.timedelta(days=1):
        return "yesterday"
    return f"on {date_format(day, 'l j F')}"
