"""A run's minutes, each line open to where it comes from."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from production import queries
from production.work_study import minutes_state
from production.work_study.stage_minutes import DAYS_THAT_COUNT


@require_safe
def run_minutes(request: HttpRequest, code: str) -> HttpResponse:
    run = queries.run_or_404(code)
    minutes = minutes_state.run_minutes(run)
    return render(
        request,
        "production/operations/run_minutes.html",
        {
            "run": run,
            "minutes": minutes,
            "room": queries.run_at_a_glance(code)[1],
            "days": DAYS_THAT_COUNT,
        },
    )
