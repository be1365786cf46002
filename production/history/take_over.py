"""The standards of a stage follow what its jackets took."""

from __future__ import annotations

from decimal import Decimal
from typing import TYPE_CHECKING

from django.db import transaction

from patterns.models import Operation
from production.errors import MovedOnError, ProductionError
from production.history.stage_ratios import measured
from production.models import StandardChange
from production.planning.standing import STAGES, WORK
from production.work_study.standards import set_standard
from production.work_study.taken_over import reason_words

if TYPE_CHECKING:
    from django.contrib.auth.models import User

NOTHING_CHANGED = "Nothing was changed."
STORED = Decimal("0.001")


@transaction.atomic
def take_over(stage: str, *, seen: str, by: User) -> list[StandardChange]:
    """Multiply the minutes of every operation of a stage by the measured factor. `seen` is the mark
    of what the page was showing.

    The jackets that it comes from count never again: only those do that were planned after the
    last change. Raises ProductionError where too few count or the factor is beyond its limits, and
    MovedOnError when something was measured or changed meanwhile.
    """
    if stage not in STAGES[:3]:
        raise ProductionError(f"'{stage}' is no stage with operations. {NOTHING_CHANGED}")
    operations = list(Operation.objects.select_for_update().filter(stage=stage).order_by("pk"))
    found = next(each for each in measured() if each.stage == stage)
    if seen != found.mark:
        raise MovedOnError(
            f"{WORK[stage].capitalize()} was measured again or its standards changed since the "
            f"page was opened: look at it anew. {NOTHING_CHANGED}"
        )
    if found.why_not or found.spread is None:
        raise ProductionError(f"{WORK[stage].capitalize()}: {found.why_not} {NOTHING_CHANGED}")
    reason = reason_words(found.spread.count, found.factor)
    changes = [_scaled(operation, found.factor, reason, by) for operation in operations]
    made = [change for change in changes if change]
    if not made:
        raise ProductionError(
            f"No operation of {WORK[stage]} has minutes that could follow. {NOTHING_CHANGED}"
        )
    return made


def _scaled(operation: Operation, factor: Decimal, reason: str, by: User) -> StandardChange | None:
    each, metre = (
        (minutes * factor).quantize(STORED)
        for minutes in (operation.minutes_each, operation.minutes_per_metre)
    )
    return set_standard(operation, each, metre, None, reason, by)
