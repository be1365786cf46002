"""The pages of changes after the freeze: choose, ask, show what it means, carry out."""

from __future__ import annotations

import io
from typing import Any

from django.contrib import messages
from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_safe

from orders.errors import OrderError
from orders.forms import JacketOrderForm
from orders.models import Colorway, JacketOrder, TeamOrder
from orders.pages import asking, refuse
from orders.queries import colorways_of, jacket_orders_of
from orders.roles import is_maker, maker_only
from production import queries
from production.changing import change_words, changes
from production.changing.change_forms import CancelForm, ChangedJacketForm, TakeSparesForm
from production.changing.change_state import (
    jackets_to_take_spares,
    load_supplement,
    spare_parts_by_block,
)
from production.changing.supplement_paper import paper_of
from production.errors import ProductionError
from production.filters import JacketFilter
from production.models import Jacket, Run, RunOrder, Supplement
from production.reporting.reports_state import ticket_report_url
from production.scanning import tag_paper
from production.services import load_snapshot

Form = JacketOrderForm | CancelForm | TakeSparesForm


@maker_only
@require_safe
def of_order(request: HttpRequest, order: str) -> HttpResponse:
    """To the run that makes an order."""
    runs = RunOrder.objects.filter(team_order__code=order).values_list("run__code", flat=True)
    if code := runs.first():
        return redirect("changes:choose", code)
    raise Http404(f"No run makes {order}")


@maker_only
@require_safe
def choose(request: HttpRequest, code: str) -> HttpResponse:
    run = queries.run_or_404(code)
    jackets = queries.run_jackets(run).filter(cancelled_at=None)
    found = JacketFilter(request.GET, queryset=jackets)
    frozen = TeamOrder.objects.filter(run_order__run=run, state=TeamOrder.State.IN_PRODUCTION)
    context = {
        "run": run,
        "orders": frozen.select_related("club"),
        "filter": found,
        "jackets": found.qs.order_by("pk"),
    }
    return render(request, "production/changes/choose.html", context)


@maker_only
def add(request: HttpRequest, code: str, order: str) -> HttpResponse:
    run = queries.run_or_404(code)
    team_order = get_object_or_404(TeamOrder, code=order, run_order__run=run)
    colorway = _chosen_colorway(request, team_order, None)
    known: dict[str, Any] = {"team_order": team_order, "colorway": colorway}
    form: Form = (
        JacketOrderForm(initial=request.POST.dict(), **known)
        if _shows_form(request)
        else JacketOrderForm(request.POST or None, **known)
    )
    return _asked(request, run, form, team_order, {**known, "heading": "Add a jacket"})


@maker_only
def change(request: HttpRequest, code: str, jacket: str) -> HttpResponse:
    run, found, line = _jacket_in_run(code, jacket)
    team_order = line.team_order
    colorway = _chosen_colorway(request, team_order, line)
    known: dict[str, Any] = {"team_order": team_order, "colorway": colorway, "jacket_order": line}
    form: Form = (
        ChangedJacketForm(initial=request.POST.dict(), **known)
        if _shows_form(request)
        else ChangedJacketForm(request.POST or None, **known)
    )
    heading = f"Change {found.code}"
    return _asked(request, run, form, found, {**known, "jacket": found, "heading": heading})


@maker_only
def cancel(request: HttpRequest, code: str, jacket: str) -> HttpResponse:
    run, found, line = _jacket_in_run(code, jacket)
    form = CancelForm(
        None if _shows_form(request) else request.POST or None,
        initial=request.POST.dict() or None,
    )
    context = {"jacket": found, "jacket_order": line, "heading": f"Cancel {found.code}"}
    return _asked(request, run, form, found, context)


@maker_only
def take_spares(request: HttpRequest, code: str, jacket: str) -> HttpResponse:
    run, found, line = _jacket_in_run(code, jacket)
    asked = request.method == "POST" and not _shows_form(request)
    form = TakeSparesForm(request.POST if asked else None)
    heading = f"Spare parts for {found.code}"
    context = {"jacket": found, "jacket_order": line, "heading": heading}
    return _asked(request, run, form, found, context)


def _shows_form(request: HttpRequest) -> bool:
    """Asked to fill the form in further, by another colorway or on the way back to it."""
    return "show" in request.POST


def _jacket_in_run(code: str, jacket: str) -> tuple[Run, Jacket, JacketOrder]:
    run = queries.run_or_404(code)
    found = get_object_or_404(
        Jacket.objects.select_related("jacket_order__team_order"), run=run, code=jacket
    )
    line = jacket_orders_of(found.jacket_order.team_order).get(pk=found.jacket_order_id)
    return run, found, line


def _chosen_colorway(
    request: HttpRequest, team_order: TeamOrder, line: JacketOrder | None
) -> Colorway | None:
    colorways = list(colorways_of(team_order))
    first = colorways[0].pk if len(colorways) == 1 else ""
    wanted = request.POST.get("colorway") or str(line.colorway_id if line else first)
    return next((colorway for colorway in colorways if str(colorway.pk) == wanted), None)


def _asked(
    request: HttpRequest,
    run: Run,
    form: Form,
    subject: Jacket | TeamOrder,
    context: dict[str, Any],
) -> HttpResponse:
    """The form; once it is filled in, what the change means; once that is agreed to, the page of
    the supplement."""
    page = {**context, "run": run, "form": form}
    if form.is_valid():
        try:
            return _answered(request, form, subject, page)
        except OrderError as error:
            refuse(form, error)
        except ProductionError as error:
            form.add_error(None, str(error))
    if isinstance(form, JacketOrderForm):
        page["look"] = form.look(uid="jacket")
    return render(request, "production/changes/form.html", page)


def _answered(
    request: HttpRequest, form: Form, subject: Jacket | TeamOrder, page: dict[str, Any]
) -> HttpResponse:
    wanted, by = form.facts(), asking(request)
    if agreed := request.POST.get("agreed"):
        try:
            made = changes.change_after_freeze(subject, wanted, by, seen=agreed)
        except changes.StaleChangeError as error:
            messages.error(request, str(error))
        else:
            messages.success(request, f"Supplement {made.number} is made. {made.words}.")
            return redirect("changes:supplement", made.run.code, made.number)
    outcome = changes.preview(subject, wanted, by)
    frozen = load_snapshot(outcome.supplement.run)
    snapshots = [frozen, *([outcome.snapshot] if outcome.snapshot else [])]
    return render(
        request,
        "production/changes/preview.html",
        {
            **page,
            "outcome": outcome,
            "told": change_words.told(outcome.plan, snapshots),
            "costs": change_words.cost_rows(outcome.plan.costs),
            "days": change_words.days_later(outcome.before, outcome.after),
            "currency": frozen.workroom.currency,
            "unit": frozen.workroom.length_unit,
        },
    )


@require_safe
def supplement(request: HttpRequest, code: str, number: int) -> HttpResponse:
    found = _supplement(code, number)
    snapshot, plan = load_supplement(found)
    frozen = load_snapshot(found.run)
    return render(
        request,
        "production/changes/supplement.html",
        {
            "run": found.run,
            "supplement": found,
            "plan": plan,
            "jacket": Jacket.objects.select_related("jacket_order").get(code=plan.jacket),
            "told": change_words.told(plan, [frozen, *([snapshot] if snapshot else [])]),
            "tickets": queries.supplements(found.run).get(pk=found.pk).cut_tickets.all(),
            "costs": change_words.cost_rows(plan.costs) if is_maker(request.user) else None,
            "currency": frozen.workroom.currency,
            "unit": frozen.workroom.length_unit,
        },
    )


@require_safe
def supplement_pdf(request: HttpRequest, code: str, number: int) -> FileResponse:
    from production.documents import supplements

    found = _supplement(code, number)

    def address(ticket: str) -> str:
        return request.build_absolute_uri(ticket_report_url(code, ticket))

    page = io.BytesIO()
    own = reverse("changes:supplement", args=[code, number])
    supplements.write(page, paper_of(found), address, request.build_absolute_uri(own))
    return _pdf(page, f"supplement-{code}-S{number}.pdf")


@require_safe
def supplement_tags_pdf(request: HttpRequest, code: str, number: int) -> FileResponse:
    from production.documents import bundle_tags

    found = _supplement(code, number)
    snapshot, plan = load_supplement(found)
    if snapshot is None or plan.cut is None:
        raise Http404("A cancelled jacket has no bundle tag.")

    def address(jacket: str) -> str:
        return request.build_absolute_uri(reverse("production:jacket", args=[jacket]))

    page = io.BytesIO()
    bundle_tags.write(page, snapshot, plan.cut, address, tag_paper.usual_paper())
    return _pdf(page, f"bundle-tags-{code}-S{number}.pdf")


def _pdf(page: io.BytesIO, name: str) -> FileResponse:
    page.seek(0)
    return FileResponse(page, filename=name, content_type="application/pdf")


@require_safe
def spare_parts(request: HttpRequest, code: str) -> HttpResponse:
    run = queries.run_or_404(code)
    rows = spare_parts_by_block(run)
    context = {
        "run": run,
        "lying": [row for row in rows if not row.taken_by],
        "taken": [row for row in rows if row.taken_by],
        "takers": jackets_to_take_spares(run) if is_maker(request.user) else [],
    }
    return render(request, "production/changes/spare_parts.html", context)


def _supplement(code: str, number: int) -> Supplement:
    return get_object_or_404(
        Supplement.objects.select_related("run", "by", "team_order__club").defer(
            "run__snapshot", "run__plan"
        ),
        run__code=code,
        number=number,
    )
