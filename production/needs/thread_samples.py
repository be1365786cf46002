"""Functions that write thread samples: at most one of an operation is in use, all are kept."""

from __future__ import annotations

from decimal import Decimal
from typing import TYPE_CHECKING

from django.db import transaction

from patterns.models import Operation, ThreadSample

if TYPE_CHECKING:
    from django.contrib.auth.models import User


@transaction.atomic
def take_sample(
    operation: Operation,
    *,
    seam_mm: Decimal,
    needle_mm: Decimal,
    under_mm: Decimal,
    note: str,
    by: User,
) -> ThreadSample:
    """Keep a sample and use it from now on in place of the formula. The same one sent twice is kept
    once."""
    _stop(operation)
    values = {"seam_mm": seam_mm, "needle_mm": needle_mm, "under_mm": under_mm, "note": note}
    last = ThreadSample.objects.filter(operation=operation).order_by("-pk").first()
    if last and last.by == by and all(getattr(last, name) == one for name, one in values.items()):
        use_sample(last)
        return last
    return ThreadSample.objects.create(operation=operation, by=by, **values)


@transaction.atomic
def use_sample(sample: ThreadSample) -> None:
    """Use a sample that was taken before in place of the one in use."""
    _stop(sample.operation)
    ThreadSample.objects.filter(pk=sample.pk).update(is_in_use=True)


@transaction.atomic
def stop_using(operation: Operation) -> None:
    """Count by formula or ratio again; the samples are kept."""
    _stop(operation)


def _stop(operation: Operation) -> None:
    # The lock keeps two people from putting a sample each to use at the same moment.
    Operation.objects.select_for_update().get(pk=operation.pk)
    ThreadSample.objects.filter(operation=operation, is_in_use=True).update(is_in_use=False)
