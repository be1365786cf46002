"""The forecast of a run, what helps it, and the early warning of a team order."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST, require_safe

from orders.models import TeamOrder
from orders.roles import maker_only
from production.errors import ProductionError
from production.forecasting import forecasts
from production.forecasting.forecast_helping import HelpSheet, helps_for
from production.forecasting.forecast_state import ahead_of
from production.models import Run
from production.planning.forecasts.forecast import SIMULATIONS
from production.queries import run_or_404

#: Rows of the history that are shown.
SHOWN = 60


@require_safe
def forecast(request: HttpRequest, code: str) -> HttpResponse:
    return _page(request, run_or_404(code))


def _page(request: HttpRequest, run: Run, helps: HelpSheet | None = None) -> HttpResponse:
    context = {
        "run": run,
        "ahead": ahead_of(run),
        "helps": helps,
        "history": forecasts.history(run)[:SHOWN],
        "simulations": SIMULATIONS,
    }
    return render(request, "production/forecasting/forecast.html", context)


@require_safe
def helps(request: HttpRequest, code: str) -> HttpResponse:
    """What helps most: a part of the page for htmx, else the page with it."""
    run = run_or_404(code)
    try:
        sheet = helps_for(run)
    except ProductionError as error:
        sheet = HelpSheet(str(error), "", ())
    if request.headers.get("HX-Request"):
        context = {"run": run, "helps": sheet}
        return render(request, "production/forecasting/_helps.html", context)
    return _page(request, run, sheet)


@maker_only
@require_POST
def keep(request: HttpRequest, code: str) -> HttpResponse:
    """Keep today's forecast in the history."""
    run = run_or_404(code)
    ahead = ahead_of(run)
    if ahead is None:
        messages.error(request, "There is nothing to forecast: no work is left, or nobody works.")
    else:
        forecasts.note(run, ahead, anew=True)
        messages.success(request, f"Kept: {ahead.chance_words} chance to be on time.")
    return redirect("production:forecast", run.code)


@maker_only
@require_safe
def order_ahead(request: HttpRequest, code: str) -> HttpResponse:
    """What is expected of a team order: a part of its page for htmx, else a page of its own."""
    order = get_object_or_404(TeamOrder.objects.select_related("club"), code=code)
    run = Run.objects.defer("snapshot", "plan").filter(run_orders__team_order=order).first()
    ahead = ahead_of(run) if run else None
    context = {
        "team_order": order,
        "run": run,
        "one": ahead.order(order.code) if ahead else None,
    }
    name = "_order.html" if request.headers.get("HX-Request") else "order.html"
    return render(request, f"production/forecasting/{name}", context)
