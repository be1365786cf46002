"""Keeps forecasts, so that it can be seen how the chance moved, and warns when it is low."""

from __future__ import annotations

from decimal import Decimal
from enum import StrEnum
from smtplib import SMTPException

from django.conf import settings
from django.core.mail import send_mail
from django.db import transaction
from django.db.models import OuterRef, Q, QuerySet, Subquery
from django.urls import reverse
from django.utils import timezone

from patterns.models import Workroom
from production.forecasting.expectations import Ahead, Expectation
from production.models import Forecast, Run
from production.planning.forecasts.forecast_words import NEVER, day_words
from production.scheduling.seen import jackets_words
from production.templatetags.production_units import hours


def note(run: Run, ahead: Ahead, *, anew: bool = False) -> list[Forecast]:
    """Keep what is expected of a run and of each of its team orders that work is left of: one row
    a day, another one when something has changed since, or `anew` whatever was kept already. The
    rows that stand for today are returned, those of before included."""
    with transaction.atomic():
        Run.objects.select_for_update().only("pk").get(pk=run.pk)
        orders = {
            row.team_order.code: row.team_order_id
            for row in run.run_orders.select_related("team_order")
        }
        latest = latest_of(run)
        found = [_noted(run, None, ahead.whole, latest.get(None), anew)]
        for one in ahead.orders:
            if one.jackets_left:
                key = orders[one.name]
                found.append(_noted(run, key, one, latest.get(key), anew))
        return found


def latest_of(run: Run) -> dict[int | None, Forecast]:
    """The last forecast of each team order by key, and of the run by None."""
    found: dict[int | None, Forecast] = {}
    for row in run.forecasts.order_by("pk"):
        found[row.team_order_id] = row
    return found


def _noted(
    run: Run, order: int | None, one: Expectation, before: Forecast | None, anew: bool
) -> Forecast:
    row = Forecast(
        run=run,
        team_order_id=order,
        deadline=one.deadline,
        chance=Decimal(str(round(one.chance, 3))),
        even_day=one.even_day or NEVER,
        safe_day=one.safe_day or NEVER,
        minutes_left=Decimal(one.minutes_left),
    )
    if before and not anew and _is_told(before, row):
        return before
    row.save()
    return row


def _is_told(before: Forecast, row: Forecast) -> bool:
    if timezone.localdate(before.at) != timezone.localdate():
        return False
    fields = ("deadline", "chance", "even_day", "safe_day", "minutes_left")
    return all(getattr(before, field) == getattr(row, field) for field in fields)


def history(run: Run) -> QuerySet[Forecast]:
    """The newest first."""
    return run.forecasts.select_related("team_order__club").order_by("-pk")


class Mail(StrEnum):
    """What came of the warning of a team order, in words."""

    NOT_NEEDED = "not needed"
    NOT_SET = "no mail is set up"
    BEFORE = "warned before"
    SENT = "sent"
    FAILED = "the mail server did not take it"


def warn(row: Forecast, one: Expectation, room: Workroom) -> Mail:
    """Mail a warning of a team order once until its chance was up at the limit again. The row says
    to whom only when the mail server took it."""
    if not one.is_low:
        return Mail.NOT_NEEDED
    if not (settings.EMAIL_HOST and room.warn_to):
        return Mail.NOT_SET
    if _is_warned(row, room.warn_below_percent):
        return Mail.BEFORE
    try:
        send_mail(*_words(row, one), None, [room.warn_to])
    except (SMTPException, OSError):
        return Mail.FAILED
    row.warned_to = room.warn_to
    row.save(update_fields=["warned_to"])
    return Mail.SENT


def _is_warned(row: Forecast, limit: int) -> bool:
    """Whether somebody was mailed since the chance was last at the limit or above it."""
    rows = Forecast.objects.filter(run=row.run_id, team_order=row.team_order_id)
    good = rows.filter(chance__gte=Decimal(limit) / 100).order_by("-pk").first()
    since = Q(pk__gt=good.pk) if good else Q()
    return rows.filter(since).exclude(warned_to="").exists()


def _words(row: Forecast, one: Expectation) -> tuple[str, str]:
    """Subject and text, without the name of any member."""
    order = row.team_order
    assert order is not None
    left = f"{jackets_words(one.jackets_left)}, {hours(one.minutes_left)} at standard pace"
    lines = [
        one.warning,
        "",
        f"{order.code}, {order.title}, for {order.club.name}; run {row.run.code}.",
        f"Deadline: {day_words(one.deadline)}.",
        f"Ready at 50 %: {day_words(one.even_day)}. At 90 %: {day_words(one.safe_day)}.",
        f"Left to do: {left}.",
        "",
        "What helps most is reckoned on the run's page Forecast:",
        reverse("production:forecast", args=[row.run.code]),
    ]
    return f"{order.code} may be late: {one.chance_words}", "\n".join(lines)


def last_chance() -> Subquery:
    """For lists of runs: the chance that was kept last of each whole run."""
    rows = Forecast.objects.filter(run=OuterRef("pk"), team_order=None).order_by("-pk")
    return Subquery(rows.values("chance")[:1])
