"""Looking a finished jacket over: good, or back to be mended."""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.contrib.auth.models import User
from django.db import transaction
from django.utils import timezone

from production import tracking
from production.errors import StepRefusedError
from production.models import CheckPoint, Inspection, InspectionFault, Jacket, Person, StageEvent
from production.planning.standing import STAGES, WORK
from production.stages.check_points import stored_points
from production.stages.lots import looks_that_stand, passed_since, write_passed

NOTHING_CHANGED = "Nothing was changed."
#: Where a jacket is when it is looked over: not yet done with finishing, or done a moment ago.
LOOKED_OVER_AT = (Jacket.Stage.FINISH, Jacket.Stage.HAND_OVER)


@dataclass(frozen=True, slots=True)
class Fault:
    """A point that is not right, by its code, and what is wrong in one's own words."""

    point: str
    words: str = ""


@dataclass(frozen=True, slots=True)
class Failing:
    """What was found on a jacket. `back_to` is the stage where it is mended, '' where the points
    say; `seen` the last event that the page was showing."""

    faults: tuple[Fault, ...]
    back_to: str = ""
    mender: Person | None = None
    note: str = ""
    seen: int | None = None


@transaction.atomic
def pass_over(
    code: str, by: User | None, *, seen: int | None = None, at: datetime.datetime | None = None
) -> Inspection:
    """All points are good, though finishing is not done with that. Looked over twice, it is the
    first look that counts. Raises as `fail`."""
    jacket, events = _to_look_at(code, seen)
    if there := passed_since(jacket, events):
        return there
    _refuse_unseen(jacket, events, seen)
    return write_passed(jacket, events, by, at or timezone.now())


@transaction.atomic
def fail(
    code: str, found: Failing, by: User | None, at: datetime.datetime | None = None
) -> StageEvent:
    """The jacket goes back to be mended, for a reason that names its faulty points. The same form
    sent twice counts once.

    Raises UnknownJacketError; StepRefusedError for a jacket that is not at the end of its
    finishing, no fault, a point that is not asked, and a stage that cannot be; MovedOnError when
    something happened to the jacket since the page was opened.
    """
    if there := _sent_before(code, found, by):
        return there
    jacket, events = _to_look_at(code, found.seen)
    _refuse_unseen(jacket, events, found.seen)
    points = {point.code: point for point in stored_points()}
    faults = _known(found.faults, points)
    stage = found.back_to or first_stage(points[fault.point] for fault in faults)
    at = at or timezone.now()
    look = Inspection.objects.create(
        jacket=jacket,
        passed=False,
        points=[point.words for point in points.values()],
        note=tracking.one_line(found.note),
        mender=found.mender,
        after_event=events[-1],
        at=at,
        by=by,
    )
    InspectionFault.objects.bulk_create(
        InspectionFault(inspection=look, point=points[fault.point], words=fault.words)
        for fault in faults
    )
    reason = reason_words([(points[fault.point].words, fault.words) for fault in faults])
    return tracking.record(jacket.code, tracking.Action.SEND_BACK, stage, by, reason, at)


def first_stage(points: Iterable[CheckPoint]) -> str:
    """The earliest stage that any of these points goes back to."""
    return min((point.mend_stage for point in points), key=STAGES.index)


def reason_words(faults: Sequence[tuple[str, str]]) -> str:
    """What is to be mended: every faulty point, with what was said of it while there is room."""
    full = "; ".join(f"{point}: {words}" if words else point for point, words in faults)
    if len(full) <= tracking.REASON_LENGTH:
        return full
    points = "; ".join(point for point, _ in faults)
    if len(points) <= tracking.REASON_LENGTH:
        return points
    left = len(faults)
    while left and len(points) > tracking.REASON_LENGTH:
        left -= 1
        points = "; ".join(point for point, _ in faults[:left])
        points += f"; and {len(faults) - left} more points"
    return points


def menders(jackets: Iterable[Jacket]) -> dict[int, Person]:
    """Who was named to mend each jacket that waits for it, by the key of the jacket."""
    to_mend = [jacket.pk for jacket in jackets if jacket.mend_reason]
    if not to_mend:
        return {}
    sent = StageEvent.objects.filter(
        jacket__in=to_mend, kind=StageEvent.Kind.SENT_BACK, undone_by=None
    )
    last = dict(sent.order_by("pk").values_list("jacket", "pk"))
    looks = looks_that_stand().filter(jacket__in=to_mend, passed=False, mender__isnull=False)
    return {
        look.jacket_id: look.mender
        for look in looks.select_related("mender").order_by("pk")
        if look.mender and vars(look)["sent_back"] == last.get(look.jacket_id)
    }


def _to_look_at(code: str, seen: int | None) -> tuple[Jacket, list[StageEvent]]:
    jacket = tracking.locked_jacket(code)
    events = list(jacket.events.select_related("by", "undoes").order_by("pk"))
    if jacket.cancelled_at:
        raise StepRefusedError(f"{jacket.code} is cancelled. {NOTHING_CHANGED}")
    if jacket.stage not in LOOKED_OVER_AT:
        if events:
            _refuse_unseen(jacket, events, seen)
        raise StepRefusedError(
            f"{jacket.code} {tracking.standing_of(events).words}; it is looked over when it is at "
            f"{WORK[Jacket.Stage.FINISH]}. {NOTHING_CHANGED}"
        )
    return jacket, events


def _refuse_unseen(jacket: Jacket, events: list[StageEvent], seen: int | None) -> None:
    if seen is not None and seen != events[-1].pk:
        raise tracking.moved_on(jacket, events, tracking.standing_of(events))


def _sent_before(code: str, found: Failing, by: User | None) -> StageEvent | None:
    """The event of the very same form, where it came through already."""
    if by is None or found.seen is None:
        return None
    jacket = tracking.locked_jacket(code)
    look = jacket.inspections.filter(passed=False, by=by, after_event=found.seen).last()
    event = jacket.events.order_by("pk").last()
    if look is None or event is None or (event.kind, event.by) != (StageEvent.Kind.SENT_BACK, by):
        return None
    told = {Fault(code, words) for code, words in look.faults.values_list("point__code", "words")}
    return event if told == set(found.faults) else None


def _known(faults: Sequence[Fault], points: dict[str, CheckPoint]) -> list[Fault]:
    if not faults:
        raise StepRefusedError(f"Tick at least one point that is not right. {NOTHING_CHANGED}")
    for fault in faults:
        if fault.point not in points:
            raise StepRefusedError(
                f"'{fault.point}' is no point that is asked now. {NOTHING_CHANGED}"
            )
    return [
        Fault(point, tracking.one_line(words))
        for point, words in {fault.point: fault.words for fault in faults}.items()
    ]
