"""Functions that write operations and their standard minutes."""

from __future__ import annotations

from decimal import Decimal
from typing import TYPE_CHECKING

from django.db import transaction

from patterns.models import Operation
from production.errors import ProductionError
from production.models import StandardChange, TimeStudy

if TYPE_CHECKING:
    from django.contrib.auth.models import User


@transaction.atomic
def keep_operation(
    operation: Operation, *, follows: Operation | None, reason: str, by: User
) -> StandardChange | None:
    """Store an operation, new or changed, in its place in the order of work: after `follows`, or
    first. A change of minutes leaves the StandardChange that is returned; it needs a reason."""
    stored = Operation.objects.select_for_update().filter(pk=operation.pk).first()
    if stored is None:
        operation.position = Operation.objects.count()
    operation.save()
    _put_after(operation, follows)
    return _changed(stored, operation, reason, by) if stored else None


def _put_after(operation: Operation, follows: Operation | None) -> None:
    rows = list(Operation.objects.exclude(pk=operation.pk))
    rows.insert(rows.index(follows) + 1 if follows else 0, operation)
    moved = [row for place, row in enumerate(rows) if row.position != place]
    for place, row in enumerate(rows):
        row.position = place
    Operation.objects.bulk_update(moved, ["position"])


def set_standard(
    operation: Operation,
    each: Decimal,
    per_metre: Decimal,
    study: TimeStudy | None,
    reason: str,
    by: User,
) -> StandardChange | None:
    """Give an operation measured minutes, those of a study or of whole stages; None when it has
    them already. The caller holds the operation locked."""
    before = Operation.objects.get(pk=operation.pk)
    operation.minutes_each, operation.minutes_per_metre = each, per_metre
    operation.save(update_fields=["minutes_each", "minutes_per_metre"])
    return _changed(before, operation, reason, by, study)


def _changed(
    before: Operation, after: Operation, reason: str, by: User, study: TimeStudy | None = None
) -> StandardChange | None:
    minutes = (before.minutes_each, before.minutes_per_metre)
    if minutes == (after.minutes_each, after.minutes_per_metre):
        return None
    if not reason:
        raise ProductionError("Say why the minutes change. Nothing was changed.")
    return StandardChange.objects.create(
        operation=after,
        study=study,
        each_before=before.minutes_each,
        each_after=after.minutes_each,
        metre_before=before.minutes_per_metre,
        metre_after=after.minutes_per_metre,
        reason=reason,
        by=by,
    )


@transaction.atomic
def remove_operation(operation: Operation) -> None:
    """Take an own operation out of the list, with its studies. Runs that are planned keep it."""
    operation.standard_changes.all().delete()
    operation.delete()
