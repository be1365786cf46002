"""The answers to a quote; the maker's alone."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from orders.pages import asking
from orders.roles import maker_only
from production.errors import ProductionError
from production.models import Quote
from production.quoting import quote_answers
from production.quoting.quote_forms import AcceptForm, DeclineForm
from production.quoting.quote_views import (
    carry_out,
    find_quote,
    open_quote,
    refuse,
    sheet_of,
    what_if_form,
)
from production.quoting.quotes import mark_of

if TYPE_CHECKING:
    from production.planning.quotes.quotes import Figures, Terms
    from production.planning.snapshot import RunSnapshot


@maker_only
@require_POST
def accept(request: HttpRequest, code: str) -> HttpResponse:
    found = find_quote(code)
    snapshot, terms, figures = open_quote(found)
    form = AcceptForm(request.POST, quote=found, figures=figures, today=timezone.localdate())
    if form.is_valid():
        data = form.cleaned_data
        try:
            quote_answers.accept(
                found,
                data["jackets"],
                by=asking(request),
                answer=data["answer"],
                sets_price=data["sets_price"],
            )
        except ProductionError as error:
            refuse(form, error)
        else:
            messages.success(request, f"{found.code} is accepted and kept as it is.")
            return redirect(found)
    return _answer_page(request, found, (snapshot, terms, figures), accept=form)


@maker_only
@require_POST
def decline(request: HttpRequest, code: str) -> HttpResponse:
    found = find_quote(code)
    form = DeclineForm(request.POST, prefix="decline")
    if form.is_valid():
        return carry_out(
            request,
            found,
            lambda: quote_answers.decline(
                found, by=asking(request), answer=form.cleaned_data["answer"]
            ),
            f"{found.code} is declined.",
        )
    return _answer_page(request, found, open_quote(found), decline=form)


def _answer_page(
    request: HttpRequest,
    found: Quote,
    opened: tuple[RunSnapshot, Terms, Figures],
    **refused: forms.Form,
) -> HttpResponse:
    """The quote's page with the answer that was refused, everything typed still in it."""
    snapshot, terms, figures = opened
    context = {
        **sheet_of(request, found, snapshot, terms, figures),
        "what_if": what_if_form(None, snapshot, terms),
        "seen": mark_of(found),
        **refused,
    }
    return render(request, "production/quotes/quote.html", context)
