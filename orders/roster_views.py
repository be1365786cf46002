"""Taking a roster file on the web: judged and shown first, then stored."""

from __future__ import annotations

import msgspec
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from orders import queries, services
from orders.errors import RosterError
from orders.forms import RosterForm
from orders.models import TeamOrder
from orders.pages import asking, for_open_order
from orders.roster import Verdict, judge
from orders.roster_file import Table, read_table
from orders.words import jackets_in_words

VERDICTS_ON_PAGE = 300


@for_open_order
def roster(request: HttpRequest, team_order: TeamOrder) -> HttpResponse:
    """Two steps: a file is judged row by row and shown; the rows shown are then stored."""
    form = RosterForm(files=request.FILES)
    if "rows" in request.POST:
        return _store_roster(request, team_order)
    if request.method != "POST":
        return _roster_page(request, team_order, RosterForm())
    if not form.is_valid():
        return _roster_page(request, team_order, form)
    file = form.cleaned_data["file"]
    try:
        table = read_table(file, file.name)
        verdicts = judge(table, queries.accepted_by(team_order))
    except RosterError as error:
        form.add_error("file", str(error))
        return _roster_page(request, team_order, form)
    return _roster_page(request, team_order, RosterForm(), file.name, table, verdicts)


def _store_roster(request: HttpRequest, team_order: TeamOrder) -> HttpResponse:
    name = request.POST.get("name", "")[:100]
    try:
        table = msgspec.json.decode(request.POST["rows"], type=Table)
        count = services.take_roster(team_order, table, name, by=asking(request))
    except msgspec.DecodeError:
        messages.error(request, "The checked rows were lost on the way; choose the file again.")
    except RosterError as error:
        messages.error(request, f"{error} {' '.join(map(str, error.problems[:3]))}")
    else:
        messages.success(request, f"The order has {jackets_in_words(count)} more, from {name}.")
        return redirect(team_order)
    return redirect("orders:roster", team_order.code)


def _roster_page(
    request: HttpRequest,
    team_order: TeamOrder,
    form: RosterForm,
    name: str = "",
    table: Table | None = None,
    verdicts: list[Verdict] | None = None,
) -> HttpResponse:
    bad = sum(1 for verdict in verdicts or () if verdict.problems)
    # The bad rows first: on a long roster they are what one is looking for.
    shown = sorted(verdicts or (), key=lambda verdict: not verdict.problems)[:VERDICTS_ON_PAGE]
    context = {
        "team_order": team_order,
        "form": form,
        "accepted": queries.accepted_by(team_order),
        "name": name,
        "verdicts": shown,
        "count": len(verdicts or ()),
        "bad": bad,
        "rows": msgspec.json.encode(table).decode() if table and not bad else "",
    }
    return render(request, "orders/roster.html", context)
