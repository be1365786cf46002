"""Changes of the schedule by hand. They stay when it is made anew, until they are lifted."""

from __future__ import annotations

import datetime
from typing import TYPE_CHECKING

from django.db import transaction
from django.db.models import QuerySet
from django.utils import timezone

from production.errors import ProductionError, UnknownJacketError
from production.models import Jacket, Person, Pin
from production.planning.standing import END, STAGES, WORK
from production.scheduling.hands import stages_of

if TYPE_CHECKING:
    from django.contrib.auth.models import User


@transaction.atomic
def hold(
    code: str,
    stage: str,
    *,
    person: Person | None,
    day: datetime.date | None,
    words: str,
    by: User | None,
) -> Pin:
    """Hold a stage of a jacket: who does it, on which day it is begun, or both. What held it until
    now is lifted and stays in the history. Raises UnknownJacketError, and ProductionError for a
    stage that is done, a person who cannot do it, a day that is over, or nothing to hold."""
    jacket = _locked(code)
    _refuse(jacket, stage, person, day)
    _lift(Pin.objects.filter(jacket=jacket, stage=stage, lifted_at=None), by)
    return Pin.objects.create(
        jacket=jacket, stage=stage, person=person, day=day, words=" ".join(words.split()), by=by
    )


@transaction.atomic
def lift(pin_pk: int, by: User | None) -> Pin:
    """Leave a stage to the schedule again; lifting twice is once. Raises ProductionError for a pin
    that never was."""
    try:
        pin = Pin.objects.select_for_update().select_related("jacket").get(pk=pin_pk)
    except Pin.DoesNotExist as error:
        raise ProductionError("There is no such hold; look at the list once more.") from error
    if pin.lifted_at is None:
        _lift(Pin.objects.filter(pk=pin.pk), by)
        pin.refresh_from_db(fields=["lifted_at", "lifted_by"])
    return pin


def held_now() -> QuerySet[Pin]:
    return (
        Pin.objects.filter(lifted_at=None)
        .select_related("jacket", "person", "by")
        .order_by("day", "jacket", "stage")
    )


def _locked(code: str) -> Jacket:
    try:
        return Jacket.objects.select_for_update().get(code=code)
    except Jacket.DoesNotExist as error:
        raise UnknownJacketError(f"No jacket has the code '{code}'.") from error


def _lift(pins: QuerySet[Pin], by: User | None) -> None:
    pins.update(lifted_at=timezone.now(), lifted_by=by)


def _refuse(jacket: Jacket, stage: str, person: Person | None, day: datetime.date | None) -> None:
    if stage not in STAGES[:3]:
        raise ProductionError(f"'{stage}' is no stage that is scheduled; hold cut, sew or finish.")
    if jacket.cancelled_at:
        raise ProductionError(f"{jacket} was cancelled; there is nothing to hold.")
    if jacket.stage == END or STAGES.index(jacket.stage) > STAGES.index(stage):
        raise ProductionError(f"{jacket}: {WORK[stage]} is done already; nothing was held.")
    if not person and not day:
        raise ProductionError("Choose a person, a day, or both.")
    if person and (person.has_left or stage not in stages_of(person)):
        raise ProductionError(
            f"{person} does not do {WORK[stage]}. Choose somebody who does, or change what "
            f"{person} can do under Workroom, People."
        )
    if day and day < timezone.localdate():
        raise ProductionError("That day is over; choose today or a later one.")
