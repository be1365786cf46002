"""The shopping list of a run: on the page, on paper, as a spreadsheet, and on to an order."""

from __future__ import annotations

import io

from django.contrib import messages
from django.http import FileResponse, HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST, require_safe

from orders.pages import asking
from orders.roles import maker_only
from patterns.models import Supplier
from patterns.services import workroom
from production import queries
from production.buying import purchases
from production.buying.shopping import shopping_of
from production.buying.shopping_forms import OrderForm
from production.errors import ProductionError
from production.models import Run
from production.needs.run_needs import open_runs
from production.planning.plan import PlanError
from production.stock import cloth_waiting

XLSX_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


@maker_only
@require_safe
def shopping(request: HttpRequest, code: str) -> HttpResponse:
    return _page(request, queries.run_or_404(code), OrderForm())


def _page(request: HttpRequest, run: Run, form: OrderForm) -> HttpResponse:
    try:
        listed = shopping_of(run)
    except PlanError as error:
        messages.error(request, str(error))
        return redirect(run)
    return render(
        request,
        "production/shopping/shopping.html",
        {
            "run": run,
            "is_open": open_runs().filter(pk=run.pk).exists(),
            "list": listed,
            "is_all_there": not any(line.to_buy for line in listed.lines),
            "on_hand": cloth_waiting.colors_with_room(run),
            "form": form,
            "ordered": purchases.purchases().filter(run=run).order_by("-pk"),
            "unit": workroom().length_unit,
        },
    )


@maker_only
@require_POST
def order(request: HttpRequest, code: str) -> HttpResponse:
    run = queries.run_or_404(code)
    supplier = get_object_or_404(Supplier, name=request.POST.get("supplier", ""))
    form = OrderForm(request.POST)
    if not form.is_valid():
        messages.error(request, f"Nothing was ordered from {supplier}: {_first_error(form)}")
        return redirect("production:shopping", code)
    try:
        purchase = purchases.order(
            run,
            supplier,
            request.POST.getlist("line"),
            by=asking(request),
            seen=request.POST.get("seen", ""),
            ordered_on=form.cleaned_data["ordered_on"],
            note=form.cleaned_data["note"],
        )
    except (ProductionError, PlanError) as error:
        messages.error(request, str(error))
        return redirect("production:shopping", code)
    messages.success(
        request,
        f"{purchase} is written down. Send it to {supplier}; book the goods in here as they come.",
    )
    return redirect("production:purchase", purchase.code)


def _first_error(form: OrderForm) -> str:
    field, errors = next(iter(form.errors.items()))
    return f"{form.fields[field].label}: {errors[0]}"


@maker_only
@require_POST
def lay_on_hand(request: HttpRequest, code: str) -> HttpResponse:
    """Plan plies that wait for cloth onto cloth that has come since the run was planned."""
    laid = cloth_waiting.lay_on_hand(queries.run_or_404(code), request.POST.get("color", ""))
    if laid.plies:
        messages.success(request, cloth_waiting.in_words(laid))
    else:
        messages.error(request, "No ply that waits for cloth fits on what is free here.")
    for words in cloth_waiting.apart_words(laid):
        messages.warning(request, words)
    return redirect("production:shopping", code)


@maker_only
@require_safe
def shopping_pdf(request: HttpRequest, code: str) -> FileResponse | HttpResponseRedirect:
    from production.documents import shopping_list as document

    run = queries.run_or_404(code)
    try:
        listed = shopping_of(run)
    except PlanError as error:
        messages.error(request, str(error))
        return redirect(run)
    page = io.BytesIO()
    document.write(page, listed, workroom().length_unit, workroom().name)
    page.seek(0)
    name = f"shopping-list-{run.code}.pdf"
    return FileResponse(page, filename=name, content_type="application/pdf")


@maker_only
@require_safe
def shopping_xlsx(request: HttpRequest, code: str) -> FileResponse | HttpResponseRedirect:
    from production.buying.shopping_sheet import as_xlsx

    run = queries.run_or_404(code)
    try:
        listed = shopping_of(run)
    except PlanError as error:
        messages.error(request, str(error))
        return redirect(run)
    content = as_xlsx(listed, workroom().length_unit)
    name = f"shopping-list-{run.code}.xlsx"
    return FileResponse(
        io.BytesIO(content), as_attachment=True, filename=name, content_type=XLSX_TYPE
    )
