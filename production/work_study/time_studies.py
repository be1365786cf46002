"""Functions that write time studies: begin, take readings, leave some out, accept or drop."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import TYPE_CHECKING, Any
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from patterns.models import Operation
from production.errors import ProductionError
from production.models import Reading, StandardChange, TimeStudy
from production.planning.minutes.time_study import Minutes
from production.work_study.standards import set_standard
from production.work_study.time_study_state import evaluated

if TYPE_CHECKING:
    from django.contrib.auth.models import User


class TimeStudyError(ProductionError):
    """A step that does not fit a time study; nothing was changed."""


@transaction.atomic
def begin(operation: Operation, by: User, who: str = "", note: str = "") -> TimeStudy:
    """The person's open study of the operation; a new one where there is none."""
    study, _ = TimeStudy.objects.get_or_create(
        operation=operation, by=by, state=TimeStudy.State.OPEN, defaults={"who": who, "note": note}
    )
    return study


@transaction.atomic
def take_reading(study: TimeStudy, facts: Mapping[str, Any], form_key: UUID) -> Reading:
    """Store a reading. The same form sent again stores nothing more and gets the same reading."""
    if earlier := Reading.objects.filter(form_key=form_key, study=study).first():
        return earlier
    _still_open(study)
    return Reading.objects.create(study=study, form_key=form_key, **facts)


@transaction.atomic
def leave_out(reading: Reading, why: str) -> None:
    """Count a reading no more; it stays on the list with the reason."""
    _still_open(reading.study)
    if not why:
        raise TimeStudyError("Say why the reading is left out. Nothing was changed.")
    _mark(reading, True, why)


@transaction.atomic
def take_in(reading: Reading, why: str = "") -> None:
    """Count a reading again; a reason that is given stays with it."""
    _still_open(reading.study)
    _mark(reading, False, why)


def _mark(reading: Reading, is_left_out: bool, why: str) -> None:
    reading.is_left_out, reading.why = is_left_out, why
    reading.save(update_fields=["is_left_out", "why"])


@transaction.atomic
def accept(study: TimeStudy, seen: Minutes, by: User) -> StandardChange | None:
    """Make the proposed standard that of the operation and close the study; None when it is the
    present one. `seen` is the proposal that was on the page: TimeStudyError when readings that came
    meanwhile propose another."""
    study = _still_open(study)
    operation = Operation.objects.select_for_update().get(pk=study.operation_id)
    found = evaluated(study).study
    if found.proposal is None:
        raise TimeStudyError("No reading counts yet, so there is no standard to accept.")
    proposed = found.proposal.minutes
    if proposed != seen:
        raise TimeStudyError(
            "The readings changed meanwhile, and now propose another standard. Nothing was "
            "accepted: look at the new proposal first."
        )
    if proposed == Minutes(Decimal(0)):
        raise TimeStudyError(
            "The readings are so short that they propose no minutes at all. Watch several pieces "
            "in one reading."
        )
    taken = found.observations.taken
    reason = f"time study of {taken} reading{'s' if taken > 1 else ''}"
    change = set_standard(operation, proposed.each, proposed.per_metre, study, reason, by)
    _end(study, TimeStudy.State.ACCEPTED)
    return change


@transaction.atomic
def drop(study: TimeStudy) -> None:
    """Close a study and leave the standard as it is; its readings stay."""
    _end(_still_open(study), TimeStudy.State.DROPPED)


def _end(study: TimeStudy, state: str) -> None:
    study.state, study.ended_at = state, timezone.now()
    study.save(update_fields=["state", "ended_at"])


def _still_open(study: TimeStudy) -> TimeStudy:
    """The study, locked against a second tap."""
    locked = TimeStudy.objects.select_for_update().get(pk=study.pk)
    if locked.state != TimeStudy.State.OPEN:
        raise TimeStudyError(
            f"This time study is {locked.get_state_display()} already. Begin a new one."
        )
    return locked
