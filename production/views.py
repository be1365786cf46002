"""The production pages: runs, their paper and needs, and the page that a tag's code opens."""

from __future__ import annotations

import io
from collections.abc import Callable
from functools import partial

from django.contrib import messages
from django.http import FileResponse, HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from orders.errors import OrderError
from orders.pages import asking, list_page
from orders.roles import is_maker, maker_only
from orders.tables import exported, prepare
from production import queries, services, sheets, tasks
from production.changing import change_state
from production.cutting.sits import where_it_sits
from production.errors import ProductionError
from production.filters import JacketFilter, RunFilter
from production.forecasting.forecast_state import ahead_of
from production.forecasting.forecasts import last_chance
from production.forms import NewRunForm, RecordForm, SendBackForm
from production.glance.blocked import blocked_words
from production.glance.run_glance import run_glance
from production.jacket_story import jacket_story, pictures
from production.models import Jacket, Run
from production.planning.outlook import outlook
from production.planning.plan import PlanError
from production.planning.standing import END, Standing
from production.reporting import recuts, reports_state
from production.scanning import tag_paper, taps
from production.scanning.tap_answers import tell
from production.scheduling.lateness import late_words
from production.stages.lots import lot_of
from production.stock import cloth_paper
from production.tables import JacketTable, RunTable


@require_safe
def runs(request: HttpRequest) -> HttpResponse:
    listed = queries.runs().annotate(last_chance=last_chance())
    found = RunFilter(request.GET, queryset=listed)
    table = prepare(request, RunTable(found.qs))
    context = {"filter": found, "anything": listed.exists()}
    return exported(request, table, "runs") or list_page(
        request, table, "production/runs.html", context
    )


@require_safe
def run_jackets(request: HttpRequest, code: str) -> HttpResponse:
    run = queries.run_or_404(code)
    found = JacketFilter(request.GET, queryset=queries.run_jackets(run))
    table = prepare(request, JacketTable(found.qs))
    context = {"filter": found, "run": run}
    return exported(request, table, f"jackets-{run.code}") or list_page(
        request, table, "production/run_jackets.html", context
    )


@maker_only
def new_run(request: HttpRequest) -> HttpResponse:
    form = NewRunForm(request.POST if request.method == "POST" else None)
    if form.is_valid():
        try:
            run = services.plan_run_for(form.cleaned_data["team_orders"], by=asking(request))
        except (OrderError, ProductionError, PlanError) as error:
            form.add_error("team_orders", str(error))
        else:
            tasks.look_for_lays(run, tasks.FIRST_SECONDS, asking(request))
            messages.success(
                request,
                f"{run.code} is planned. Its tickets and tags can be printed; better lays are being"
                " looked for, so wait a minute before you cut.",
            )
            return redirect(run)
    chosen = request.POST.getlist("team_orders") or request.GET.getlist("order")
    rows = queries.shared_colors(queries.orders_to_plan())
    return render(
        request, "production/new_run.html", {"form": form, "rows": rows, "chosen": chosen}
    )


@require_safe
def run(request: HttpRequest, code: str) -> HttpResponse:
    run, workroom, checks = queries.run_at_a_glance(code)
    jackets = list(queries.run_jackets(run))
    seen = run_glance(run, jackets)
    tickets = list(run.cut_tickets.select_related("fabric_color__fabric"))
    return render(
        request,
        "production/run.html",
        {
            "run": run,
            "run_orders": run.run_orders.all(),
            "seen": seen,
            "bands": seen.bands,
            "handed_over": seen.handed_over,
            "ahead": ahead_of(run),
            "lot": lot_of(run),
            "tickets": [one for one in tickets if not (one.supplement_id or one.recut_id)],
            "checks": (*checks, *filter(None, [change_state.supplements_check(run)])),
            "supplements": queries.supplements(run),
            "cancelled": [jacket for jacket in jackets if jacket.cancelled_at],
            "cutting": reports_state.run_cutting(run),
            "all_tickets": tickets,
            "outlook": outlook(
                queries.minutes_left(jackets), timezone.localdate(), run.deadline, workroom
            ),
            "unit": workroom.length_unit,
        },
    )


@require_safe
def needs(request: HttpRequest, code: str) -> HttpResponse:
    run = queries.run_or_404(code)
    plan, snapshot = services.load_plan(run), services.load_snapshot(run)
    fabrics = [sheets.fabric_row(ticket, snapshot) for ticket in plan.cut_tickets]
    return render(
        request,
        "production/needs.html",
        {
            "run": run,
            "plan": plan,
            "fabrics": fabrics,
            "threads": sheets.thread_rows(plan, snapshot),
            "notions": sheets.notion_rows(plan, snapshot),
            "stages": sheets.work_by_stage(plan, snapshot),
            "cloths": list(dict.fromkeys(row.fabric for row in fabrics)),
            "elastics": snapshot.elastics,
            "room": snapshot.workroom,
            "costs": sheets.cost_lines(plan) if is_maker(request.user) else None,
            "currency": snapshot.workroom.currency,
            "unit": snapshot.workroom.length_unit,
        },
    )


@require_safe
def cut_ticket(request: HttpRequest, code: str, ticket: str) -> HttpResponse:
    run = queries.run_or_404(code)
    stored = get_object_or_404(
        run.cut_tickets.select_related("supplement", "recut", "fabric_color"), code=ticket
    )
    if stored.supplement:
        plan, snapshot = change_state.cut_of(stored.supplement)
    elif stored.recut:
        snapshot, recut_plan = recuts.load_recut(stored.recut)
        plan = recut_plan.cut
    else:
        plan, snapshot = services.load_plan(run), services.load_snapshot(run)
    row = sheets.fabric_row(queries.planned_ticket(plan.cut_tickets, ticket), snapshot)
    unit = snapshot.workroom.length_unit
    return render(
        request,
        "production/cut_ticket.html",
        {
            "run": run,
            "supplement": stored.supplement,
            "recut": stored.recut,
            "kind": reports_state.ticket_kind(stored),
            "withdrawn": change_state.withdrawn_from(run, ticket),
            "ticket": row.ticket,
            "color": row.color,
            "fabric": row.fabric,
            "matrix": sheets.matrix(row.ticket, snapshot),
            "sits": where_it_sits(row.color, snapshot),
            "lays": sheets.drawn_lays(row, plan, unit),
            "unit": unit,
        },
    )


@require_safe
def cut_tickets_pdf(request: HttpRequest, code: str) -> FileResponse | HttpResponseRedirect:
    from production.documents import cut_tickets

    def address(ticket: str) -> str:
        return request.build_absolute_uri(reports_state.ticket_report_url(code, ticket))

    def write(page: io.BytesIO, run: Run) -> None:
        extras = cloth_paper.ticket_extras(run)
        snapshot, plan = services.load_snapshot(run), services.load_plan(run)
        cut_tickets.write(page, snapshot, plan, address, extras)

    return _paper(request, queries.run_or_404(code), f"cut-tickets-{code}", write)


@require_safe
def bundle_tags_pdf(request: HttpRequest, code: str) -> FileResponse | HttpResponseRedirect:
    """On the paper of the workroom or `?paper=`; of all jackets or those of `?jacket=`."""
    chosen = request.GET.getlist("jacket")

    def address(jacket: str) -> str:
        return request.build_absolute_uri(reverse("production:jacket", args=[jacket]))

    return _paper(
        request,
        queries.run_or_404(code),
        f"bundle-tags-{chosen[0]}" if len(chosen) == 1 else f"bundle-tags-{code}",
        partial(
            tag_paper.write_run_tags,
            tag_url=address,
            paper=request.GET.get("paper") or tag_paper.usual_paper(),
            codes=chosen,
        ),
    )


def _paper(
    request: HttpRequest, run: Run, name: str, write: Callable[[io.BytesIO, Run], None]
) -> FileResponse | HttpResponseRedirect:
    page = io.BytesIO()
    try:
        write(page, run)
    except ProductionError as error:
        messages.error(request, str(error))
        return redirect(run)
    page.seek(0)
    return FileResponse(page, filename=f"{name}.pdf", content_type="application/pdf")


@require_safe
def jacket(request: HttpRequest, code: str) -> HttpResponse:
    try:
        story = jacket_story(code)
    except Jacket.DoesNotExist:
        return _unknown_jacket(request, code)
    shown = story.jacket
    return render(
        request,
        "production/jacket.html",
        {
            "story": story,
            "jacket": shown,
            "line": shown.jacket_order,
            "standing": Standing(shown.stage, shown.in_work, shown.mend_reason),
            "pictures": pictures(story),
            "missing": story.missing,
            "is_over": shown.stage == END or shown.cancelled_at is not None,
            "send_back": SendBackForm(shown.stage, auto_id="send_back_%s"),
            "late": late_words(shown.code),
            "blocked": blocked_words([shown]).get(shown.code, ""),
        },
    )


@require_POST
def record(request: HttpRequest, code: str) -> HttpResponse:
    form = RecordForm(request.POST)
    if not form.is_valid():
        for field, errors in form.errors.items():
            label = form.fields[field].label or field.capitalize()
            messages.error(request, f"{label}: {errors[0]} Nothing was changed.")
        return redirect("production:jacket", code)
    told = taps.tap(form.asked(code), asking(request))
    if told.jacket is None:
        return _unknown_jacket(request, code)
    tell(request, told)
    return redirect("production:jacket", told.jacket.code)


def _unknown_jacket(request: HttpRequest, code: str) -> HttpResponse:
    return render(request, "production/jacket_unknown.html", {"code": code}, status=404)
