"""What the pages and papers of a hand-over read: who is ready, who follows, what was delivered."""

from __future__ import annotations

import datetime
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from django.db.models import QuerySet

from orders.models import TeamOrder
from production.glance.blocked import blocked_words
from production.handing_over.signature import svg_path
from production.models import DeliveredJacket, Delivery, Jacket, Run, StageEvent
from production.planning.standing import Standing
from production.planning.timetable.floor import FloorSchedule, moment
from production.scheduling.floor_plans import latest_schedule, schedule_of


@dataclass(frozen=True, slots=True)
class Following:
    """A jacket that is not ready yet: where it stands, why it cannot go on where it cannot, and the
    day on which the latest schedule has it ready."""

    jacket: Jacket
    expected: datetime.date | None = None
    blocked: str = ""

    @property
    def words(self) -> str:
        return Standing(self.jacket.stage, self.jacket.in_work).words

    @property
    def mends(self) -> str:
        return self.jacket.mend_reason


@dataclass(frozen=True, slots=True)
class DeliveredRow:
    """A jacket of a delivery and what became of it since: nothing, taken back by an undo, or come
    back to be mended."""

    row: DeliveredJacket
    came_back: bool

    @property
    def jacket(self) -> Jacket:
        return self.row.jacket

    @property
    def taken_back_at(self) -> datetime.datetime | None:
        undo = getattr(self.row.event, "undone_by", None)
        return undo.at if undo else None

    @property
    def counts(self) -> bool:
        """Whether it is handed over by this delivery still."""
        return not (self.came_back or self.taken_back_at)


@dataclass(frozen=True)
class DeliveryRow:
    delivery: Delivery
    rows: tuple[DeliveredRow, ...]

    @cached_property
    def counting(self) -> tuple[DeliveredRow, ...]:
        return tuple(row for row in self.rows if row.counts)

    @property
    def signature(self) -> str:
        return svg_path(self.delivery.signature)


@dataclass(frozen=True)
class RailOut:
    """A team order at its hand-over. Lists go by member. `alone` are jackets that were handed over
    one by one, each with the moment; `schedule_at` when the schedule was made that tells the days.
    """

    team_order: TeamOrder
    run: Run | None
    jackets: tuple[Jacket, ...]
    ready: tuple[Jacket, ...]
    following: tuple[Following, ...]
    deliveries: tuple[DeliveryRow, ...]
    alone: tuple[tuple[Jacket, StageEvent], ...]
    cancelled: tuple[Jacket, ...]
    schedule_at: datetime.datetime | None

    @property
    def ordered(self) -> int:
        """Jackets of the order that were not cancelled."""
        return len(self.jackets) - len(self.cancelled)

    @property
    def handed_over(self) -> int:
        return self.ordered - len(self.ready) - len(self.following)

    @property
    def still_owed(self) -> int:
        return len(self.ready) + len(self.following)

    @property
    def next_number(self) -> int:
        return max((row.delivery.number for row in self.deliveries), default=0) + 1


def jackets_of(team_order: TeamOrder) -> QuerySet[Jacket]:
    return (
        Jacket.objects.filter(jacket_order__team_order=team_order)
        .select_related("jacket_order__colorway", "jacket_order__size")
        .order_by("pk")
    )


def _by_member(jacket: Jacket) -> tuple[str, int]:
    """As a list of names is looked through: capitals and accents do not count. Databases differ in
    that, and SQLite puts 'Émile' and 'anna' after 'Zoe'."""
    parts = unicodedata.normalize("NFKD", jacket.jacket_order.member.casefold())
    return "".join(part for part in parts if not unicodedata.combining(part)), jacket.pk


def run_of(team_order: TeamOrder) -> Run | None:
    """The run that makes it, without its snapshot and plan; None before the freeze."""
    return Run.objects.filter(run_orders__team_order=team_order).only("code").first()


def rail_out(team_order: TeamOrder) -> RailOut:
    """Reads as often for many jackets as for few."""
    jackets = tuple(sorted(jackets_of(team_order), key=_by_member))
    kept = [jacket for jacket in jackets if not jacket.cancelled_at]
    waiting = [jacket for jacket in kept if jacket.stage not in _AT_THE_END]
    plan = latest_schedule() if waiting else None
    days = expected_days(schedule_of(plan)) if plan else {}
    blocked = blocked_words(waiting)
    deliveries = _deliveries(team_order)
    return RailOut(
        team_order=team_order,
        run=run_of(team_order),
        jackets=jackets,
        ready=tuple(jacket for jacket in kept if jacket.stage == Jacket.Stage.HAND_OVER),
        following=tuple(
            Following(jacket, days.get(jacket.code), blocked.get(jacket.code, ""))
            for jacket in waiting
        ),
        deliveries=deliveries,
        alone=_alone(kept, deliveries),
        cancelled=tuple(jacket for jacket in jackets if jacket.cancelled_at),
        schedule_at=plan.at if plan else None,
    )


_AT_THE_END = (Jacket.Stage.HAND_OVER, Jacket.Stage.HANDED_OVER)


def expected_days(schedule: FloorSchedule) -> dict[str, datetime.date]:
    """The day on which each jacket is ready by a schedule, by code; none for those that it leaves
    out."""
    ends: dict[str, int] = {}
    for slot in schedule.slots:
        ends[slot.jacket] = max(slot.end, ends.get(slot.jacket, slot.end))
    unplanned = {code for code, _ in schedule.unplanned}
    return {
        code: moment(schedule.begins, end).date()
        for code, end in ends.items()
        if code not in unplanned
    }


def _deliveries(team_order: TeamOrder) -> tuple[DeliveryRow, ...]:
    back = _sent_back(team_order)
    by_delivery: dict[int, list[DeliveredRow]] = {}
    for row in (
        DeliveredJacket.objects.filter(delivery__team_order=team_order)
        .select_related(
            "jacket__jacket_order__colorway", "jacket__jacket_order__size", "event__undone_by"
        )
        .order_by("pk")
    ):
        came_back = back.get(row.jacket_id, 0) > row.event_id
        by_delivery.setdefault(row.delivery_id, []).append(DeliveredRow(row, came_back))
    deliveries = team_order.deliveries.select_related("by").order_by("number")
    return tuple(
        DeliveryRow(
            one, tuple(sorted(by_delivery.get(one.pk, ()), key=lambda row: _by_member(row.jacket)))
        )
        for one in deliveries
    )


def _sent_back(team_order: TeamOrder) -> Mapping[int, int]:
    """The last event by which each jacket was sent back to mend, by the jackets' keys."""
    events = StageEvent.objects.filter(
        jacket__jacket_order__team_order=team_order,
        kind=StageEvent.Kind.SENT_BACK,
        undone_by=None,
    )
    return dict(events.order_by("pk").values_list("jacket_id", "pk"))


def _alone(
    jackets: Sequence[Jacket], deliveries: Iterable[DeliveryRow]
) -> tuple[tuple[Jacket, StageEvent], ...]:
    delivered = {row.row.jacket_id for one in deliveries for row in one.counting}
    alone = {
        jacket.pk: jacket
        for jacket in jackets
        if jacket.stage == Jacket.Stage.HANDED_OVER and jacket.pk not in delivered
    }
    if not alone:
        return ()
    events = StageEvent.objects.filter(
        jacket__in=list(alone),
        stage=Jacket.Stage.HAND_OVER,
        kind=StageEvent.Kind.DONE,
        undone_by=None,
    ).select_related("by")
    last = {event.jacket_id: event for event in events.order_by("pk")}
    return tuple((jacket, last[key]) for key, jacket in alone.items() if key in last)
