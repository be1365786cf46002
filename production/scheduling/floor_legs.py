"""The legs of a run's jackets, kept in memory: a run's snapshot is large and never changes."""

from __future__ import annotations

import datetime
from collections import defaultdict
from collections.abc import Iterable
from threading import Lock

import msgspec
from django.db.models import Count, Max

from production.models import Jacket, Run, Supplement
from production.planning.snapshot import RunSnapshot
from production.planning.timetable.floor_steps import Leg, legs_of_jackets
from production.services import load_snapshot

#: Legs by jacket code.
RunLegs = dict[str, tuple[Leg, ...]]
#: A run as it stood when its legs were read; a supplement makes another key.
_Key = tuple[int, datetime.datetime, int, datetime.datetime | None]

#: So many runs are kept. Invented.
KEPT = 32
_kept: dict[_Key, RunLegs] = {}
_lock = Lock()


def legs_of(jackets: Iterable[Jacket]) -> dict[int, RunLegs]:
    """By run the legs of its jackets, those of a changed or added jacket from its supplement. One
    query, and two and one for each run more where some are not in memory."""
    codes: dict[int, set[str]] = defaultdict(set)
    for jacket in jackets:
        codes[jacket.run_id].add(jacket.code)
    rows = (
        Run.objects.filter(pk__in=codes)
        .order_by()
        .values("pk", "created_at")
        .annotate(supplement_count=Count("supplements"), last=Max("supplements__at"))
    )
    keys: dict[int, _Key] = {
        row["pk"]: (row["pk"], row["created_at"], row["supplement_count"], row["last"])
        for row in rows
    }
    known = {pk: _kept.get(key, {}) for pk, key in keys.items()}
    # Another database may come under a site that runs, as when a backup is restored.
    missing = [pk for pk, legs in known.items() if not codes[pk] <= legs.keys()]
    read = _read(missing) if missing else {}
    with _lock:
        _kept.update({keys[pk]: legs for pk, legs in read.items()})
        for oldest in list(_kept)[:-KEPT]:
            del _kept[oldest]
    return {**known, **read}


def _read(run_pks: list[int]) -> dict[int, RunLegs]:
    changes: dict[int, list[RunSnapshot]] = {pk: [] for pk in run_pks}
    rows = Supplement.objects.filter(run__in=run_pks).order_by("run", "number")
    for pk, snapshot in rows.values_list("run", "snapshot"):
        if snapshot:
            changes[pk].append(msgspec.convert(snapshot, RunSnapshot))
    return {pk: legs_of_jackets([load_snapshot(Run(pk=pk)), *changes[pk]]) for pk in run_pks}
