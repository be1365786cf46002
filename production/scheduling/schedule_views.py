"""The pages of the schedule: today's lists, the days ahead, what is held by hand."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from orders.pages import asking
from orders.roles import maker_only
from production.errors import ProductionError
from production.models import FloorPlan, Jacket, Person
from production.planning.standing import STAGES, WORK
from production.scheduling import pins
from production.scheduling.ahead import days_ahead
from production.scheduling.day_lists import todays_lists
from production.scheduling.floor_plans import (
    latest_schedule,
    make_schedule,
    out_of_date,
    schedule_of,
)
from production.scheduling.schedule_forms import HoldForm
from production.scheduling.schedule_words import change_words, gap_words, late_count_words

SCHEDULES_A_PAGE = 30


@require_safe
def today(request: HttpRequest) -> HttpResponse:
    lists = todays_lists()
    own = lists.of(Person.objects.filter(user=asking(request)).first())
    return render(
        request,
        "production/scheduling/today.html",
        {
            "today": lists,
            "own": own,
            "others": [each for each in lists.people if each is not own],
            **_quality(lists.plan),
        },
    )


@require_POST
def plan_anew(request: HttpRequest) -> HttpResponse:
    """Anybody who is logged in may ask: what was done must lead to new lists."""
    try:
        plan = make_schedule(asking(request))
    except ProductionError as error:
        messages.error(request, str(error))
    else:
        messages.success(
            request, f"Planned anew. {late_count_words(plan)} {gap_words(plan)}".strip()
        )
    back = "schedule" if request.POST.get("back") == "schedule" else "today"
    return redirect(f"production:{back}")


@require_safe
def schedule(request: HttpRequest) -> HttpResponse:
    return _schedule(request, latest_schedule(), is_latest=True)


@require_safe
def old_schedule(request: HttpRequest, number: int) -> HttpResponse:
    plan = get_object_or_404(FloorPlan.objects.select_related("by"), pk=number)
    try:
        schedule_of(plan)
    except ProductionError as error:
        messages.error(request, str(error))
        return redirect("production:schedules")
    return _schedule(request, plan, is_latest=plan == latest_schedule())


def _schedule(request: HttpRequest, plan: FloorPlan | None, *, is_latest: bool) -> HttpResponse:
    page = request.GET.get("page", "1")
    ahead = days_ahead(plan, int(page) if page.isdecimal() else 1) if plan else None
    return render(
        request,
        "production/scheduling/schedule.html",
        {
            "plan": plan,
            "is_latest": is_latest,
            "ahead": ahead,
            "change_words": change_words(ahead.schedule) if ahead else "",
            "stale": out_of_date(plan) if plan and is_latest else [],
            "held": pins.held_now() if is_latest else [],
            **_quality(plan),
        },
    )


def _quality(plan: FloorPlan | None) -> dict[str, Any]:
    if plan is None:
        return {}
    return {"late_words": late_count_words(plan), "gap_words": gap_words(plan)}


@require_safe
def schedules(request: HttpRequest) -> HttpResponse:
    plans = FloorPlan.objects.defer("plan").select_related("by")
    page = Paginator(plans, SCHEDULES_A_PAGE).get_page(request.GET.get("page"))
    return render(request, "production/scheduling/schedules.html", {"page": page})


@maker_only
@require_http_methods(["GET", "HEAD", "POST"])
def hold(request: HttpRequest, code: str, stage: str) -> HttpResponse:
    jacket = get_object_or_404(
        Jacket.objects.select_related("jacket_order__team_order__club"), code=code
    )
    if stage not in STAGES[:3]:
        raise Http404("Only cutting, sewing and finishing are scheduled.")
    pin = jacket.pins.filter(stage=stage, lifted_at=None).select_related("person", "by").first()
    initial = {"person": pin.person, "day": pin.day, "words": pin.words} if pin else {}
    asked = request.POST if request.method == "POST" else None
    form = HoldForm(asked, stage=stage, initial=initial)
    if form.is_valid():
        try:
            pins.hold(jacket.code, stage, by=asking(request), **form.cleaned_data)
        except ProductionError as error:
            form.add_error(None, str(error))
        else:
            messages.success(
                request,
                f"{jacket}: {WORK[stage]} is held. Plan anew to see what it does to the rest.",
            )
            return redirect("production:schedule")
    return render(
        request,
        "production/scheduling/hold.html",
        {
            "jacket": jacket,
            "stage": stage,
            "form": form,
            "pin": pin,
            "earlier": jacket.pins.filter(stage=stage)
            .exclude(lifted_at=None)
            .select_related("person", "by", "lifted_by"),
        },
    )


@maker_only
@require_POST
def lift_hold(request: HttpRequest, number: int) -> HttpResponse:
    try:
        pin = pins.lift(number, asking(request))
    except ProductionError as error:
        messages.error(request, str(error))
    else:
        messages.success(
            request, f"{pin.jacket}: {WORK[pin.stage]} is no longer held. Plan anew to use that."
        )
    return redirect("production:schedule")
