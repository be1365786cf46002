"""What the production pages read."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING, Any

import msgspec
from django.db.models import (
    Case,
    Count,
    F,
    Max,
    OuterRef,
    Prefetch,
    Q,
    QuerySet,
    Subquery,
    Value,
    When,
)
from django.db.models.fields.json import KT
from django.db.models.functions import Coalesce
from django.http import Http404
from django.shortcuts import get_object_or_404

from orders.models import TeamOrder
from patterns.models import FabricColor
from production.models import CutTicket, Jacket, Run, RunOrder, Supplement
from production.planning.plan import Check
from production.planning.snapshot import WorkroomSpec
from production.planning.standing import END, STAGES

if TYPE_CHECKING:
    from production.planning.plan import CutTicket as PlannedTicket

WAITING, IN_WORK, HANDED_OVER = "not started", "in work", "handed over"
CANCELLED = "cancelled"
RUN_STATES = (WAITING, IN_WORK, HANDED_OVER, CANCELLED)


def runs() -> QuerySet[Run]:
    """Runs with their counts and state, without the two large columns that only the plan needs.
    Cancelled jackets do not count."""
    over, fresh = Q(stage=END), Q(stage=STAGES[0], in_work=False, mend_reason="")
    clubs = RunOrder.objects.select_related("team_order__club").order_by("team_order__club__name")
    return (
        Run.objects.defer("snapshot", "plan")
        .annotate(
            jacket_count=_jacket_count(),
            over_count=_jacket_count(over),
            fresh_count=_jacket_count(fresh),
        )
        .annotate(
            state=Case(
                When(jacket_count=0, then=Value(CANCELLED)),
                When(over_count=F("jacket_count"), then=Value(HANDED_OVER)),
                When(fresh_count=F("jacket_count"), then=Value(WAITING)),
                default=Value(IN_WORK),
            )
        )
        .prefetch_related(Prefetch("run_orders", clubs))
    )


def _jacket_count(*which: Q) -> Coalesce:
    """Jackets of a run, counted apart: joined to the runs, they would be grouped by every column of
    theirs, the two large ones included."""
    jackets = Jacket.objects.filter(*which, run=OuterRef("pk"), cancelled_at=None)
    counted = jackets.order_by().values("run").annotate(count=Count("pk")).values("count")
    return Coalesce(Subquery(counted), 0)


def clubs_of(run: Run) -> str:
    return ", ".join(dict.fromkeys(row.team_order.club.name for row in run.run_orders.all()))


def run_jackets(run: Run) -> QuerySet[Jacket]:
    """A run's jackets; `since` is when each came to where it stands: its last event's time, or when
    it was added."""
    added = Supplement.objects.annotate(jacket=KT("plan__jacket")).filter(
        run=run, jacket=OuterRef("code"), plan__kind="add"
    )
    return (
        Jacket.objects.filter(run=run)
        .select_related("jacket_order__colorway", "jacket_order__team_order__club")
        .annotate(
            since=Coalesce(
                Max("events__at"), Subquery(added.values("at")[:1]), Value(run.created_at)
            )
        )
        .order_by("since", "pk")
    )


def minutes_left(jackets: Iterable[Jacket]) -> Decimal:
    """Minutes, allowance included, from where each jacket stands to its hand-over; none for one
    that was cancelled. A jacket that
    came back to be mended counts its stages in full, which is on the safe side."""
    return sum(
        (
            Decimal(jacket.standard_minutes.get(stage, 0))
            for jacket in jackets
            if jacket.stage != END and not jacket.cancelled_at
            for stage in STAGES[STAGES.index(jacket.stage) :]
        ),
        Decimal(0),
    )


def run_at_a_glance(code: str) -> tuple[Run, WorkroomSpec, tuple[Check, ...]]:
    """A run with the two small parts of its frozen columns that its page shows."""
    run = get_object_or_404(
        runs().annotate(room=F("snapshot__workroom"), held=F("plan__checks")), code=code
    )
    parts: Mapping[str, Any] = vars(run)
    return (
        run,
        msgspec.convert(parts["room"], WorkroomSpec),
        msgspec.convert(parts["held"], tuple[Check, ...]),
    )


def run_or_404(code: str) -> Run:
    """A run without its two large columns, which `services` loads where a page needs them."""
    return get_object_or_404(Run.objects.defer("snapshot", "plan"), code=code)


def supplements(run: Run) -> QuerySet[Supplement]:
    """A run's changes after the freeze with their tickets, without the two large columns."""
    tickets = CutTicket.objects.select_related("fabric_color__fabric")
    return (
        run.supplements.defer("snapshot", "plan")
        .select_related("by", "team_order__club")
        .prefetch_related(Prefetch("cut_tickets", tickets))
        .order_by("number")
    )


def planned_ticket(planned: Iterable[PlannedTicket], code: str) -> PlannedTicket:
    for ticket in planned:
        if ticket.ticket == code:
            return ticket
    raise Http404(f"No cut ticket {code} in this run")


@dataclass(frozen=True, slots=True)
class SharedColors:
    """An open team order with the fabric colors it may use and who else may use them."""

    order: TeamOrder
    jackets: int
    colors: tuple[tuple[FabricColor, tuple[str, ...]], ...]


def orders_to_plan() -> QuerySet[TeamOrder]:
    return (
        TeamOrder.objects.filter(state__in=TeamOrder.EDITABLE, run_order=None)
        .annotate(jacket_count=Count("jacket_orders", distinct=True))
        .filter(jacket_count__gt=0)
        .select_related("club")
        .prefetch_related("palette")
    )


def shared_colors(orders: Iterable[TeamOrder]) -> list[SharedColors]:
    listed = list(orders)
    users: dict[FabricColor, list[str]] = {}
    for order in listed:
        for color in order.palette.all():
            users.setdefault(color, []).append(order.code)
    return [
        SharedColors(
            order=order,
            jackets=vars(order)["jacket_count"],
            colors=tuple(
                (color, tuple(code for code in users[color] if code != order.code))
                for color in order.palette.all()
            ),
        )
        for order in listed
    ]
