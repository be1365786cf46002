"""The pages of quotes; the maker's alone."""

from __future__ import annotations

import io
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from django import forms
from django.contrib import messages
from django.db.models import QuerySet
from django.db.models.fields.json import KT
from django.db.models.functions import Coalesce
from django.http import FileResponse, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.cache import patch_vary_headers
from django.views.decorators.http import require_POST, require_safe

from orders.models import TeamOrder
from orders.pages import asking, find_team_order, list_page
from orders.queries import currency as currency_now
from orders.queries import team_orders_for_list
from orders.roles import maker_only
from orders.tables import exported, prepare, wants_table_only
from patterns.models import Blocking
from production.errors import ProductionError
from production.models import Quote
from production.quoting import quote_sheet, quotes
from production.quoting.quote_curve import curve
from production.quoting.quote_forms import AcceptForm, DeclineForm, QuoteForm, WhatIfForm
from production.quoting.quote_tables import QuoteFilter, QuoteTable

if TYPE_CHECKING:
    from production.planning.quotes.quotes import Figures, Terms
    from production.planning.snapshot import RunSnapshot

State = Quote.State


@maker_only
@require_safe
def quote_list(request: HttpRequest) -> HttpResponseBase:
    listed = listed_quotes()
    found = QuoteFilter(request.GET, queryset=listed)
    table = prepare(request, QuoteTable(found.qs))
    context = {"filter": found, "anything": listed.exists()}
    return exported(request, table, "quotes") or list_page(
        request, table, "production/quotes/quotes.html", context
    )


def listed_quotes() -> QuerySet[Quote]:
    """Without the three large columns; of the figures the first and the last price alone."""
    return (
        Quote.objects.defer("snapshot", "figures", "terms")
        .select_related("team_order__club")
        .annotate(
            first_price=KT("figures__offers__0__price"),
            last_price=Coalesce(KT("figures__offers__4__price"), KT("figures__offers__3__price")),
        )
        .order_by("-pk")
    )


@maker_only
def new_quote(request: HttpRequest) -> HttpResponse:
    """Begin a quote for the order that the address names, or choose one."""
    code = request.POST.get("order") or request.GET.get("order")
    if not code:
        orders = team_orders_for_list().exclude(state=TeamOrder.State.CANCELLED)
        return render(request, "production/quotes/choose.html", {"orders": orders})
    order = find_team_order(code)
    if request.method == "POST":
        try:
            made = quotes.begin_quote(order, by=asking(request), seen=request.POST.get("seen"))
        except ProductionError as error:
            messages.error(request, str(error))
        else:
            messages.success(
                request, f"{made.code} is a draft. Look at its prices, then send it to the club."
            )
            return redirect(made)
    context = {
        "team_order": order,
        "quotes": listed_quotes().filter(team_order=order),
        "jackets": order.jacket_orders.count(),
        "colorways": order.colorways.count(),
        "seen": quotes.last_of(order),
    }
    return render(request, "production/quotes/new.html", context)


@maker_only
@require_safe
def quote(request: HttpRequest, code: str) -> HttpResponse:
    found = find_quote(code)
    snapshot, terms, figures = open_quote(found)
    asked = _what_if(request, found, snapshot, terms, figures)
    if wants_table_only(request):
        response = render(request, "production/quotes/_what_if.html", {"quote": found, **asked})
    else:
        context = {**sheet_of(request, found, snapshot, terms, figures), **asked}
        response = render(request, "production/quotes/quote.html", context)
    patch_vary_headers(response, ["HX-Request"])
    return response


def find_quote(code: str) -> Quote:
    return get_object_or_404(Quote.objects.select_related("team_order__club", "by"), code=code)


def open_quote(found: Quote) -> tuple[RunSnapshot, Terms, Figures]:
    return quotes.load_snapshot(found), quotes.load_terms(found), quotes.load_figures(found)


def sheet_of(
    request: HttpRequest, found: Quote, snapshot: RunSnapshot, terms: Terms, figures: Figures
) -> dict[str, Any]:
    offer = quote_sheet.chosen_offer(figures, request.GET.get("n"), terms.own)
    today = timezone.localdate()
    names = {fabric.code: fabric.name for fabric in snapshot.fabrics}
    return {
        "quote": found,
        "team_order": found.team_order,
        "figures": figures,
        "currency": found.currency,
        "other_currency": currency_now() if currency_now() != found.currency else "",
        "curve": curve(figures),
        "rows": quote_sheet.price_rows(figures, terms),
        "lines": quote_sheet.opened_lines(figures, snapshot),
        "fixed": quote_sheet.fixed_work(figures),
        "offer": offer,
        "by_size": quote_sheet.shares(offer, "size", figures.currency),
        "by_colorway": quote_sheet.shares(offer, "colorway", figures.currency),
        "line_words": quote_sheet.LINE_WORDS.values(),
        "terms": terms,
        "cloth": [(names[one.fabric], one) for one in terms.cloth],
        "room": snapshot.workroom,
        "is_past": today > found.valid_until,
        "accepted": figures.offer(found.quantity) if found.quantity else None,
        "paid": found.team_order.payments.filter(kind="deposit"),
        "accept": AcceptForm(quote=found, figures=figures, today=today),
        "decline": DeclineForm(prefix="decline"),
    }


def _what_if(
    request: HttpRequest, found: Quote, snapshot: RunSnapshot, terms: Terms, figures: Figures
) -> dict[str, Any]:
    """The form of what might be otherwise, and, where the address asks for something, what it would
    change; a refusal is an error of the form."""
    from production.planning.plan import PlanError
    from production.planning.quotes.quotes import reckon
    from production.quoting.quote_snapshots import what_if

    form = what_if_form(request.GET if "fabric" in request.GET else None, snapshot, terms)
    context: dict[str, Any] = {
        "what_if": form,
        "currency": figures.currency,
        "seen": quotes.mark_of(found),
    }
    if form.is_valid():
        try:
            other, other_terms, told = what_if(snapshot, terms, form.what())
            if told:
                then = reckon(other, other_terms)
                context |= {
                    "told": told,
                    "differences": quote_sheet.differences(figures, then),
                    "then_curve": curve(figures, then),
                    "typed": [(name, request.GET.get(name, "")) for name in form.fields],
                }
        except (PlanError, ProductionError) as error:
            form.add_error(None, str(error))
    return context


def what_if_form(data: Any, snapshot: RunSnapshot, terms: Terms) -> WhatIfForm:
    from production.quoting.quote_snapshots import fabrics_used, lines_to_add

    used = {jacket.blocking for jacket in snapshot.jackets}
    others = Blocking.objects.exclude(code=used.pop()) if len(used) == 1 else Blocking.objects
    return WhatIfForm(
        data,
        snapshot=snapshot,
        terms=terms,
        blockings=dict(others.values_list("code", "name")),
        lines=lines_to_add(snapshot),
        used=fabrics_used(snapshot),
    )


@maker_only
@require_POST
def take_over(request: HttpRequest, code: str) -> HttpResponse:
    found = find_quote(code)
    form = what_if_form(request.POST, quotes.load_snapshot(found), quotes.load_terms(found))
    if not form.is_valid():
        messages.error(request, "What was asked does not fit the quote any more; ask it again.")
        return redirect(found)
    return carry_out(
        request,
        found,
        lambda: quotes.take_over(
            found, form.what(), by=asking(request), seen=request.POST.get("seen")
        ),
        "The quote is reckoned with it.",
    )


@maker_only
def edit(request: HttpRequest, code: str) -> HttpResponse:
    found = find_quote(code)
    if found.state != State.DRAFT:
        messages.error(request, f"{found.code} is {found.get_state_display()} and stays as it was.")
        return redirect(found)
    form = QuoteForm(
        request.POST or None,
        quote=found,
        snapshot=quotes.load_snapshot(found),
        terms=quotes.load_terms(found),
    )
    if form.is_valid():
        try:
            quotes.revise(found, form.facts(), by=asking(request))
        except ProductionError as error:
            refuse(form, error)
        else:
            messages.success(request, f"{found.code} is reckoned anew.")
            return redirect(found)
    context = {"form": form, "quote": found, "team_order": found.team_order}
    return render(request, "production/quotes/edit.html", context)


def refuse(form: forms.Form, error: ProductionError) -> None:
    field = getattr(error, "field", None)
    form.add_error(field if field in form.fields else None, str(error))


@maker_only
@require_POST
def reckon_anew(request: HttpRequest, code: str) -> HttpResponse:
    found = find_quote(code)
    return carry_out(
        request,
        found,
        lambda: quotes.reckon_anew(found, by=asking(request)),
        "Reckoned with the order, the patterns and the prices of today.",
    )


@maker_only
@require_POST
def send(request: HttpRequest, code: str) -> HttpResponse:
    found = find_quote(code)
    return carry_out(
        request,
        found,
        lambda: quotes.send(found, by=asking(request), seen=request.POST.get("seen")),
        "It is sent: its prices stay as they are. Give the club its PDF.",
    )


@maker_only
@require_POST
def drop(request: HttpRequest, code: str) -> HttpResponse:
    found = find_quote(code)
    if "sure" not in request.POST:
        context = {"quote": found, "team_order": found.team_order}
        return render(request, "production/quotes/drop.html", context)
    return carry_out(
        request,
        found,
        lambda: quotes.drop(found, by=asking(request)),
        f"{found.code} is thrown away.",
        to=found.team_order,
    )


def carry_out(
    request: HttpRequest,
    found: Quote,
    act: Callable[[], object],
    done: str,
    to: Quote | TeamOrder | None = None,
) -> HttpResponse:
    """Do one thing to a quote and go back to it, saying what happened."""
    try:
        act()
    except ProductionError as error:
        messages.error(request, str(error))
        return redirect(found)
    messages.success(request, done)
    return redirect(to or found)


@maker_only
@require_safe
def pdf(request: HttpRequest, code: str) -> FileResponse:
    from production.documents import quote as document
    from production.quoting.quote_paper import paper_of

    found = find_quote(code)
    page = io.BytesIO()
    document.write(page, paper_of(found))
    page.seek(0)
    return FileResponse(page, filename=f"{found.code}.pdf", content_type="application/pdf")
