"""The shelf: wares with what is there, and what runs take and bring back."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST, require_safe

from orders.pages import asking, list_page
from orders.roles import maker_only
from orders.tables import exported, prepare
from patterns.services import workroom
from production import queries
from production.errors import ProductionError
from production.planning.supplies.shopping_words import quantity_words
from production.stock import shelf_queries, wares
from production.stock.shelf_forms import BringBackForm, CountForm, ShelfFilter, TakeForm, WareForm
from production.stock.shelf_tables import ShelfTable
from production.stock.ware_catalog import ware_for


@require_safe
def shelf(request: HttpRequest) -> HttpResponse:
    rows, form = shelf_queries.shelf(), ShelfFilter(request.GET)
    found = shelf_queries.narrowed(rows, **form.cleaned_data) if form.is_valid() else rows
    table = prepare(request, ShelfTable(found, unit=workroom().length_unit))
    context = {"filter": {"form": form}, "anything": bool(rows)}
    return exported(request, table, "shelf") or list_page(
        request, table, "production/shopping/shelf.html", context
    )


@require_safe
def ware(request: HttpRequest, key: str) -> HttpResponse:
    return _ware_page(request, key)


def _ware_page(request: HttpRequest, key: str, **sent: WareForm) -> HttpResponse:
    story, unit = shelf_queries.ware_story(key), workroom().length_unit
    of = story.row.sold.unit
    forms: dict[str, WareForm] = {
        "count": CountForm(ware_unit=of, unit=unit, prefix="count"),
        "take": TakeForm(ware_unit=of, unit=unit, prefix="take"),
    }
    return render(
        request,
        "production/shopping/ware.html",
        {
            "row": story.row,
            "movements": story.movements,
            "forms": {**forms, **sent},
            "unit": unit,
            "of": of,
            "seen": str(story.movements[0].pk) if story.movements else "0",
        },
    )


@maker_only
@require_POST
def count_ware(request: HttpRequest, key: str) -> HttpResponse:
    sold, unit = shelf_queries.ware_story(key).row.sold, workroom().length_unit
    form = CountForm(request.POST, ware_unit=sold.unit, unit=unit, prefix="count")
    if form.is_valid():
        try:
            more = wares.count(
                ware_for(key),
                quantity=form.quantity,
                reason=form.cleaned_data["reason"],
                by=asking(request),
                seen=request.POST.get("seen"),
            )
        except ProductionError as error:
            _refuse(form, error)
        else:
            words = "The shelf has what the book says; nothing was written."
            if more:
                how = "more" if more > 0 else "less"
                words = f"{quantity_words(abs(more), sold.unit, unit)} {how} than the book said."
            messages.success(request, words)
            return redirect("production:ware", key)
    return _ware_page(request, key, count=form)


@require_POST
def take_ware(request: HttpRequest, key: str) -> HttpResponse:
    sold, unit = shelf_queries.ware_story(key).row.sold, workroom().length_unit
    form = TakeForm(request.POST, ware_unit=sold.unit, unit=unit, prefix="take")
    if form.is_valid():
        run = form.cleaned_data["run"]
        try:
            wares.take(
                ware_for(key),
                run=run,
                quantity=form.quantity,
                by=asking(request),
                seen=request.POST.get("seen"),
            )
        except ProductionError as error:
            _refuse(form, error)
        else:
            told = quantity_words(form.quantity, sold.unit, unit)
            messages.success(request, f"{told} taken for {run}.")
            return redirect("production:ware", key)
    return _ware_page(request, key, take=form)


def _refuse(form: WareForm | BringBackForm, error: ProductionError) -> None:
    field = getattr(error, "field", None)
    form.add_error(field if field in form.fields else None, str(error))


@require_safe
def run_shelf(request: HttpRequest, code: str) -> HttpResponse:
    return _run_page(request, code)


def _run_page(request: HttpRequest, code: str, form: BringBackForm | None = None) -> HttpResponse:
    run, unit = queries.run_or_404(code), workroom().length_unit
    found = shelf_queries.run_shelf(run)
    return render(
        request,
        "production/shopping/run_shelf.html",
        {
            "run": run,
            "rows": [(want, found.free[want.key]) for want in found.wants],
            "can_take": found.can_take,
            "held": found.held,
            "form": form or BringBackForm(held=found.held, unit=unit),
            "seen": wares.mark_of(run),
            "unit": unit,
        },
    )


@require_POST
def take_all(request: HttpRequest, code: str) -> HttpResponse:
    run, unit = queries.run_or_404(code), workroom().length_unit
    try:
        done = wares.take_for_run(run, asking(request))
    except ProductionError as error:
        messages.error(request, str(error))
        return redirect("production:run_shelf", code)
    messages.success(request, f"{_counted(len(done.taken))} taken for {run}.")
    if done.missing:
        words = "; ".join(
            f"{name}: {quantity_words(rest, of, unit)}" for name, rest, of in done.missing
        )
        messages.warning(request, f"Not free on the shelf: {words}.")
    return redirect("production:run_shelf", code)


def _counted(wares: int) -> str:
    return "1 ware is" if wares == 1 else f"{wares} wares are"


@require_POST
def bring_back(request: HttpRequest, code: str) -> HttpResponse:
    run = queries.run_or_404(code)
    held = shelf_queries.run_shelf(run).held
    form = BringBackForm(request.POST, held=held, unit=workroom().length_unit)
    if form.is_valid():
        try:
            moved = wares.bring_back(
                run, form.quantities(), asking(request), seen=request.POST.get("seen", "")
            )
        except ProductionError as error:
            _refuse(form, error)
        else:
            messages.success(request, f"{_counted(len(moved))} back on the shelf.")
            return redirect("production:run_shelf", code)
    return _run_page(request, code, form)
