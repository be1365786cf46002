"""The page of a run's cutting: the ways to cut each ticket, and the search for better ones."""

from __future__ import annotations

import datetime
from collections.abc import Callable

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.cache import patch_cache_control, patch_vary_headers
from django.views.decorators.http import require_POST, require_safe

from orders.pages import asking
from orders.roles import is_maker, maker_only
from production import queries, tasks
from production.cutting import jobs, lay_plans
from production.cutting.cutting_forms import LookForm, UseForm
from production.cutting.cutting_state import cutting_of, results_mark, shown_lays
from production.cutting.lay_pictures import small_picture
from production.cutting.lay_svg import outlines_of
from production.errors import ProductionError
from production.models import CutTicket, PlanningJob, Run

#: A worker that is there takes a job within a second or two.
LONG_WAIT = datetime.timedelta(seconds=15)


@require_safe
def cutting(request: HttpRequest, code: str) -> HttpResponse:
    run = queries.run_or_404(code)
    shown = cutting_of(run)
    context = {
        **_job_context(request, run),
        "is_open": shown.is_open,
        "shown": shown,
        "mark": shown.mark,
    }
    return render(request, "production/cutting/cutting.html", context)


@require_safe
def job(request: HttpRequest, code: str) -> HttpResponse:
    """How far the search is, asked for again and again; tells the page when lays were found."""
    run = queries.run_or_404(code)
    mark = results_mark(run)
    is_open = bool(lay_plans.open_tickets(run))
    context = {**_job_context(request, run), "is_open": is_open, "mark": mark}
    response = render(request, "production/cutting/_job.html", context)
    if request.GET.get("seen") != mark or not context["is_under_way"]:
        response["HX-Trigger"] = "lays-found"
    patch_vary_headers(response, ["HX-Request"])
    return response


def _job_context(request: HttpRequest, run: Run) -> dict[str, object]:
    jobs.sweep()
    job = jobs.latest_job(run)
    is_under_way = job is not None and job.state in PlanningJob.UNDER_WAY
    is_waiting = job is not None and job.state == PlanningJob.State.WAITING
    return {
        "run": run,
        "job": job,
        "form": LookForm(),
        "is_maker": is_maker(request.user),
        "is_under_way": is_under_way,
        "waits_long": job and is_waiting and timezone.now() - job.asked_at > LONG_WAIT,
    }


@require_POST
@maker_only
def look(request: HttpRequest, code: str) -> HttpResponse:
    run = queries.run_or_404(code)
    form = LookForm(request.POST)
    if form.is_valid():
        try:
            tasks.look_for_lays(run, form.cleaned_data["seconds"], asking(request))
        except ProductionError as error:
            messages.error(request, str(error))
    else:
        messages.error(request, f"Seconds: {form.errors['seconds'][0]} Nothing was started.")
    return redirect("production:cutting", code)


@require_POST
@maker_only
def stop(request: HttpRequest, code: str) -> HttpResponse:
    if not jobs.stop(queries.run_or_404(code)):
        messages.info(request, "Nothing was being looked for any more.")
    return redirect("production:cutting", code)


@require_POST
@maker_only
def use(request: HttpRequest, code: str, ticket: str) -> HttpResponse:
    run = queries.run_or_404(code)
    chosen = get_object_or_404(lay_plans.run_tickets(run), code=ticket)

    def choose(aim: str, seen: str) -> list[CutTicket]:
        changed = lay_plans.use_lay_plan(chosen, aim, asking(request), seen=seen)
        return [chosen] if changed else []

    return _use(request, run, choose)


@require_POST
@maker_only
def use_for_run(request: HttpRequest, code: str) -> HttpResponse:
    run = queries.run_or_404(code)

    def choose(aim: str, seen: str) -> list[CutTicket]:
        return lay_plans.use_aim(run, aim, asking(request), seen=seen)

    return _use(request, run, choose)


def _use(
    request: HttpRequest, run: Run, choose: Callable[[str, str], list[CutTicket]]
) -> HttpResponse:
    form = UseForm(request.POST)
    if not form.is_valid():
        messages.error(request, "There is no such way to cut. Nothing was changed.")
        return redirect("production:cutting", run.code)
    aim = form.cleaned_data["aim"]
    before = lay_plans.to_buy_words(run)
    try:
        changed = choose(aim, form.cleaned_data["seen"])
    except ProductionError as error:
        messages.error(request, str(error))
        return redirect("production:cutting", run.code)
    label = lay_plans.Aim(aim).label
    if changed:
        after = lay_plans.to_buy_words(queries.run_or_404(run.code))
        messages.success(
            request,
            f"{', '.join(ticket.code for ticket in changed)}: cut by the lays with {label}."
            f" The run has {after} to buy now, {before} before. Needs, minutes and costs are"
            " planned anew; print the tickets once more.",
        )
    else:
        messages.info(request, f"The lays with {label} were in use already.")
    return redirect("production:cutting", run.code)


@require_safe
def picture(request: HttpRequest, code: str, ticket: str, way: str) -> HttpResponse:
    found = shown_lays(queries.run_or_404(code), ticket, way)
    if found is None:
        raise Http404(f"No lays {way} of cut ticket {ticket}")
    lays, plan, snapshot, fabric_color = found
    color = next(color for color in snapshot.fabric_colors if color.code == fabric_color)
    svg = small_picture(
        lays,
        outlines_of(plan.blocks),
        hex_color=color.hex_color,
        width_mm=snapshot.workroom.table_length_mm,
        unit=snapshot.workroom.length_unit,
    )
    response = HttpResponse(svg, content_type="image/svg+xml")
    # The address carries the mark of these lays, so better ones have another address.
    patch_cache_control(response, private=True, max_age=24 * 3600, immutable=True)
    return response
