"""Minutes of stages, and the standards that follow them."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST, require_safe

from orders.pages import asking
from orders.roles import is_maker, maker_only
from production.errors import ProductionError
from production.history import stage_ratios
from production.history.take_over import take_over as take_over_stage
from production.planning.standing import WORK
from production.work_study.stage_minutes import DAYS_THAT_COUNT


@require_safe
def minutes(request: HttpRequest) -> HttpResponse:
    """The maker sees all; everybody else their own minutes alone."""
    user = asking(request)
    all_seen = is_maker(user)
    context = {
        "stages": stage_ratios.measured(None if all_seen else user),
        "least": stage_ratios.LEAST_JACKETS,
        "lowest": stage_ratios.LOWEST,
        "highest": stage_ratios.HIGHEST,
        "days": DAYS_THAT_COUNT,
    }
    return render(request, "production/history/minutes.html", context)


@maker_only
@require_POST
def take_over(request: HttpRequest, stage: str) -> HttpResponse:
    try:
        changes = take_over_stage(stage, seen=request.POST.get("seen", ""), by=asking(request))
    except ProductionError as error:
        messages.error(request, str(error))
    else:
        count = len(changes)
        messages.success(
            request,
            f"{WORK[stage].capitalize()}: the standards of {count} "
            f"operation{'' if count == 1 else 's'} follow ({changes[0].reason}). Runs that are "
            "planned from now on count with them.",
        )
    return redirect("production:history_minutes")
