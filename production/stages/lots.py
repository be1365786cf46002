"""Which jackets are looked over before finishing is done, and whether one was."""

from __future__ import annotations

import datetime
from collections.abc import Sequence

from django.contrib.auth.models import User
from django.db.models import Exists, OuterRef, Q, QuerySet, Subquery

from patterns.services import workroom
from production.models import Inspection, Jacket, Run, StageEvent
from production.planning.inspecting import inspection as planning
from production.planning.inspecting.inspection import Lot, LotJacket
from production.stages.check_points import stored_points


def lot_of(run: Run) -> Lot:
    """How the jackets of a run are looked over, and what was found. Three queries."""
    return _lot(run.pk)


def _lot(run: int, inspecting: str | None = None) -> Lot:
    if inspecting is None:
        inspecting = workroom().inspecting
    first: dict[str, bool] = {}
    looks = looks_that_stand().filter(jacket__run=run).order_by("pk")
    for code, passed in looks.values_list("jacket__code", "passed"):
        first.setdefault(code, passed)
    rows = list(
        Jacket.objects.filter(run=run)
        .order_by("pk")
        .values_list("run__code", "code", "cancelled_at")
    )
    jackets = [LotJacket(code, first.get(code), at is not None) for _, code, at in rows]
    return planning.lot(rows[0][0] if rows else "", jackets, inspecting)


def looks_that_stand() -> QuerySet[Inspection]:
    """Without those whose fault was a mistake: the step that sent the jacket back was undone."""
    later = StageEvent.objects.filter(jacket=OuterRef("jacket"), pk__gt=OuterRef("after_event"))
    undone = StageEvent.objects.filter(undoes=OuterRef("sent_back"))
    return Inspection.objects.annotate(
        sent_back=Subquery(later.order_by("pk").values("pk")[:1])
    ).filter(Q(passed=True) | ~Exists(undone))


def asks_for(jacket: Jacket) -> bool:
    """Whether a jacket must be looked over: every one, one of the sample, or one in which a fault
    was found last time."""
    return asked_with_lot(jacket)[0]


def asked_with_lot(jacket: Jacket) -> tuple[bool, Lot | None]:
    """Whether a jacket must be looked over, and its lot where a sample is taken."""
    inspecting = workroom().inspecting
    if inspecting == planning.EVERY:
        return True, None
    lot = _lot(jacket.run_id, inspecting)
    last = looks_that_stand().filter(jacket=jacket).order_by("pk").last()
    return lot.asks_for(jacket.code) or bool(last and not last.passed), lot


def arrival(events: Sequence[StageEvent]) -> int:
    """The key of the event that brought a jacket to where it stands, 0 at the very beginning; what
    was seen of it before that no longer counts. One that waits for the hand-over came there by
    being good, so what counts is when it came to finishing."""
    undone = {event.undoes_id for event in events}
    moved = [
        event
        for event in events
        if event.kind in {StageEvent.Kind.DONE, StageEvent.Kind.SENT_BACK}
        and event.pk not in undone
    ]
    if moved and (moved[-1].kind, moved[-1].stage) == (StageEvent.Kind.DONE, Jacket.Stage.FINISH):
        moved.pop()
    return moved[-1].pk if moved else 0


def passed_since(jacket: Jacket, events: Sequence[StageEvent]) -> Inspection | None:
    """The look at a jacket that counts, where all was good; None when it is still to be done or
    found a fault."""
    looks = jacket.inspections.filter(after_event__gte=arrival(events)).order_by("pk")
    last = looks.select_related("by").last()
    return last if last and last.passed else None


def write_passed(
    jacket: Jacket,
    events: Sequence[StageEvent],
    by: User | None,
    at: datetime.datetime,
    note: str = "",
) -> Inspection:
    """All points that are asked of it are good, by the word of who looked."""
    return Inspection.objects.create(
        jacket=jacket,
        passed=True,
        points=[point.words for point in stored_points()],
        note=note,
        after_event=events[-1] if events else None,
        at=at,
        by=by,
    )
