"""Ticking the blocks on the table, looking a jacket over, and the points that are looked at."""

from __future__ import annotations

from collections.abc import Callable

from django.contrib import messages
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from orders.pages import asking
from orders.roles import maker_only
from production import tracking
from production.edited_forms import OVERTAKEN
from production.errors import ProductionError
from production.models import CheckPoint, Jacket
from production.stages import inspections, ticks
from production.stages.check_points import asked_points, install_check_points, shipped_points
from production.stages.stage_forms import FaultForm, PointForms, mark_of

MOST_DIGITS = 18  # of the number of an event


@require_POST
def tick_blocks(request: HttpRequest, code: str) -> HttpResponse:
    """Blocks seen on the table (`block`, any number), or one that is not there after all
    (`take_back`)."""

    def ticked() -> str:
        if gone := request.POST.get("take_back"):
            return f"{code}: not on the table after all: {ticks.take_back(code, gone, by)}."
        named = ticks.tick(code, request.POST.getlist("block"), by)
        if not named:
            return f"{code}: no block was ticked that was not there already."
        return f"{code}: seen on the table: {', '.join(named)}."

    by = asking(request)
    get_object_or_404(Jacket, code=code)
    return _told(request, code, ticked)


@require_POST
def looked_over(request: HttpRequest, code: str) -> HttpResponse:
    """All points are good, though finishing is not done with it."""
    get_object_or_404(Jacket, code=code)
    told = request.POST.get("seen", "")
    seen = int(told) if told.isdecimal() and len(told) <= MOST_DIGITS else None

    def passed() -> str:
        look = inspections.pass_over(code, asking(request), seen=seen)
        at = tracking.moment(look.at)
        who = look.by.get_username() if look.by else "a command"
        return f"{code}: looked over by {who} {at}, all points good. Finishing is not done yet."

    return _told(request, code, passed)


def _told(request: HttpRequest, code: str, act: Callable[[], str]) -> HttpResponse:
    try:
        messages.success(request, act())
    except ProductionError as error:
        messages.error(request, str(error))
    return redirect("production:jacket", code)


@require_http_methods(["GET", "HEAD", "POST"])
def faults(request: HttpRequest, code: str) -> HttpResponse:
    jacket = get_object_or_404(
        Jacket.objects.select_related("jacket_order", "run").defer("run__snapshot", "run__plan"),
        code=code,
    )
    if request.method != "POST" and jacket.stage not in inspections.LOOKED_OVER_AT:
        return redirect("production:jacket", code)
    last = jacket.events.order_by("pk").last()
    form = FaultForm(
        request.POST if request.method == "POST" else None,
        points=asked_points(),
        stage=jacket.stage,
        initial={"seen": last.pk if last else None},
    )
    if form.is_valid():
        try:
            event = inspections.fail(code, form.failing(), asking(request))
        except ProductionError as error:
            form.add_error(None, str(error))
        else:
            messages.success(request, tracking.said(event))
            return redirect("production:jacket", code)
    page = {"jacket": jacket, "form": form}
    return render(request, "production/stages/faults.html", page)


@maker_only
@require_http_methods(["GET", "HEAD", "POST"])
def check_points(request: HttpRequest) -> HttpResponse:
    stored = list(CheckPoint.objects.all())
    last = max((point.position for point in stored), default=0) + 1
    forms = PointForms(
        request.POST if request.method == "POST" else None, initial=[{"position": last}]
    )
    overtaken = request.method == "POST" and request.POST.get("seen") != mark_of(stored)
    if request.method == "POST" and not overtaken and forms.is_valid():
        with transaction.atomic():
            forms.save()
        messages.success(request, "Saved. It counts for every jacket that is looked over from now.")
        return redirect("production:check_points")
    page = {
        "forms": forms,
        "stored": stored,
        "shipped": shipped_points(),
        "seen": mark_of(stored),
        "overtaken": OVERTAKEN if overtaken else "",
    }
    return render(request, "production/stages/check_points.html", page)


@maker_only
@require_POST
def shipped_check_points(request: HttpRequest) -> HttpResponse:
    install_check_points()
    messages.success(request, "The usual points are in the list.")
    return redirect("production:check_points")
