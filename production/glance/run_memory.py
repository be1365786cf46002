"""What is worked out once from a run's snapshots and kept in memory: they are large and never
change."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Iterable, Sequence
from threading import Lock
from typing import Generic, TypeVar

import msgspec
from django.db.models import Count, Max

from production.models import Run, Supplement
from production.planning.snapshot import RunSnapshot
from production.services import load_snapshot

Found = TypeVar("Found")
#: A run as it stood when it was read; a supplement makes another key.
_Key = tuple[int, datetime.datetime, int, datetime.datetime | None]

#: So many runs are kept. Invented.
KEPT = 32


class RunMemory(Generic[Found]):
    """`work_out` gets the snapshots of a run, that of the freeze first, then its supplements'."""

    def __init__(self, work_out: Callable[[Sequence[RunSnapshot]], Found]) -> None:
        self._work_out = work_out
        self._kept: dict[_Key, Found] = {}
        self._lock = Lock()

    def of(self, run_pks: Iterable[int]) -> dict[int, Found]:
        """By the numbers of the runs. One query, and one more for each run that is not in memory
        and one for the supplements of all of these."""
        keys = _keys(run_pks)
        found = {pk: self._kept[key] for pk, key in keys.items() if key in self._kept}
        if missing := [pk for pk in keys if pk not in found]:
            read = self._read(missing)
            found |= read
            with self._lock:
                self._kept.update({keys[pk]: value for pk, value in read.items()})
                for oldest in list(self._kept)[:-KEPT]:
                    del self._kept[oldest]
        return found

    def _read(self, run_pks: list[int]) -> dict[int, Found]:
        changes: dict[int, list[RunSnapshot]] = {pk: [] for pk in run_pks}
        rows = Supplement.objects.filter(run__in=run_pks).order_by("run", "number")
        for pk, snapshot in rows.values_list("run", "snapshot"):
            if snapshot:
                changes[pk].append(msgspec.convert(snapshot, RunSnapshot))
        return {pk: self._work_out([load_snapshot(Run(pk=pk)), *changes[pk]]) for pk in run_pks}


def _keys(run_pks: Iterable[int]) -> dict[int, _Key]:
    rows = (
        Run.objects.filter(pk__in=set(run_pks))
        .order_by()
        .values("pk", "created_at")
        .annotate(supplement_count=Count("supplements"), last=Max("supplements__at"))
    )
    return {
        row["pk"]: (row["pk"], row["created_at"], row["supplement_count"], row["last"])
        for row in rows
    }
