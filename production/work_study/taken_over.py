"""When the standards of a stage followed what its jackets took.

A run keeps the standards that it was planned with. To be compared with those of another run, its
minutes are told in the standards of today.
"""

from __future__ import annotations

import datetime
import math
import re
from collections import defaultdict
from collections.abc import Mapping, Sequence
from decimal import Decimal

from production.models import StandardChange

_BEGINS = "stage minutes of "
_FACTOR = re.compile(rf"{_BEGINS}\d+ jackets: ([\d.]+)")

#: By stage when all its standards were multiplied, and by what.
TakenOver = Mapping[str, Sequence[tuple[datetime.datetime, Decimal]]]


def reason_words(count: int, factor: Decimal) -> str:
    """The reason that each operation of the stage keeps."""
    return f"{_BEGINS}{count} jackets: {factor}"


def taken_over() -> TakenOver:
    """One query. Each operation of a stage tells the same, but for one that is younger."""
    rows = (
        StandardChange.objects.filter(study=None, reason__startswith=_BEGINS)
        .order_by("at", "pk")
        .values_list("operation", "operation__stage", "at", "reason")
    )
    told: dict[tuple[str, int], list[tuple[datetime.datetime, Decimal]]] = defaultdict(list)
    for operation, stage, at, reason in rows:
        if factor := _FACTOR.fullmatch(reason):
            told[stage, operation].append((at, Decimal(factor[1])))
    found: dict[str, Sequence[tuple[datetime.datetime, Decimal]]] = {}
    for (stage, _), changes in told.items():
        found[stage] = max(found.get(stage, ()), changes, key=len)
    return found


def factor_since(taken: TakenOver, stage: str, planned: datetime.datetime) -> Decimal:
    """The standard of today over that of a run planned then, as far as it followed measured
    minutes."""
    return math.prod(
        (factor for at, factor in taken.get(stage, ()) if at > planned), start=Decimal(1)
    )
