"""What lies ahead of a run: the chance to meet its deadlines from where its jackets stand now."""

from __future__ import annotations

import hashlib

from django.core.cache import cache
from django.db.models import Max
from django.utils import timezone

from patterns.models import Workroom
from production.forecasting.expectations import Ahead
from production.forecasting.forecast_load import load_ahead
from production.models import BlockTick, FloorPlan, Jacket, Run, WareMovement
from production.planning.standing import END
from production.scheduling.seen import seen_now

#: A forecast that nothing has happened since is reckoned anew in the next hour, as time runs.
SECONDS_KEPT = 3600


def ahead_of(run: Run) -> Ahead | None:
    """None when nothing is left to do, or when nobody has any hours to do it in. Kept until
    something happens on the floor, an hour at most."""
    return all_ahead().get(run.code)


def all_ahead() -> dict[str, Ahead]:
    """By code of every run of which work is left: one simulation goes through the whole floor."""
    key = f"ahead:{floor_mark()}"
    kept: dict[str, Ahead] | None = cache.get(key)
    if kept is None:
        kept = load_ahead()
        cache.set(key, kept, SECONDS_KEPT)
    return kept


def floor_mark() -> str:
    """A digest of everything that the forecast is computed from, and of the hour."""
    jackets = Jacket.objects.exclude(stage=END).order_by("pk")
    parts = (
        f"{timezone.localtime():%Y-%m-%d %H}",
        seen_now(),
        list(Workroom.objects.values_list("minutes_spread", "warn_below_percent")),
        list(
            jackets.values_list(
                "code",
                "stage",
                "in_work",
                "mend_reason",
                "cancelled_at",
                "standard_minutes",
                "run__deadline",
                "run__created_at",
                "jacket_order__team_order__deadline",
            )
        ),
        *(
            model.objects.aggregate(last=Max("pk"))["last"]
            for model in (FloorPlan, BlockTick, WareMovement)
        ),
    )
    return hashlib.sha256(repr(parts).encode()).hexdigest()
