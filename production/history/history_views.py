"""The pages of the history: all that happened, days of people, minutes of stages."""

from __future__ import annotations

from dataclasses import dataclass

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from orders.pages import asking, list_page
from orders.roles import is_maker
from orders.tables import exported, prepare
from production.history.history_days import day_rows
from production.history.history_forms import DaysForm, HistoryForm
from production.history.history_table import HistoryTable, LineData
from production.planning.standing import STAGES


@dataclass(frozen=True, slots=True)
class _Filter:
    """As the lists' filters are given to their template."""

    form: HistoryForm


@require_safe
def history(request: HttpRequest) -> HttpResponse:
    form = HistoryForm(request.GET)
    table = prepare(request, HistoryTable(LineData(form.wanted())), per_page=50)
    return exported(request, table, "history") or list_page(
        request, table, "production/history/history.html", {"filter": _Filter(form)}
    )


@require_safe
def days(request: HttpRequest) -> HttpResponse:
    form = DaysForm(request.GET)
    first, last = form.days(timezone.localdate())
    user = asking(request)
    context = {
        "filter": {"form": form},
        "first": first,
        "last": last,
        "rows": day_rows(first, last, user, is_maker=is_maker(user)),
        "stages": STAGES,
    }
    return render(request, "production/history/days.html", context)
