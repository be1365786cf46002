"""The pages of a member's jacket order."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_safe

from orders import queries, services
from orders.forms import JacketOrderForm
from orders.models import Colorway, JacketOrder, TeamOrder
from orders.pages import asking, confirm, done, find_team_order, for_open_order
from orders.roles import maker_only


@maker_only
@require_safe
def jacket_order(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    order = find_team_order(code)
    line = get_object_or_404(queries.jacket_orders_of(order), pk=pk)
    colorway = queries.colorways_of(order).get(pk=line.colorway_id)
    context = {
        "team_order": order,
        "jacket_order": line,
        "look": queries.look_of_colorway(colorway, line.choices.all(), uid="jacket"),
        "amendments": queries.amendments_of(order).filter(member=line.member),
    }
    return render(request, "orders/jacket_order.html", context)


@for_open_order
def new_jacket_order(request: HttpRequest, team_order: TeamOrder) -> HttpResponse:
    if not team_order.colorways.exists():
        messages.info(request, "A jacket needs a colorway: add one first.")
        return redirect(team_order)
    return _jacket_order_page(request, team_order, None)


@for_open_order
def edit_jacket_order(request: HttpRequest, team_order: TeamOrder, pk: int) -> HttpResponse:
    line = get_object_or_404(queries.jacket_orders_of(team_order), pk=pk)
    return _jacket_order_page(request, team_order, line)


def _jacket_order_page(
    request: HttpRequest, team_order: TeamOrder, line: JacketOrder | None
) -> HttpResponse:
    colorway = _chosen_colorway(request, team_order, line)
    known: dict[str, Any] = {"team_order": team_order, "colorway": colorway, "jacket_order": line}
    if "show" in request.POST:
        form = JacketOrderForm(initial=request.POST.dict(), **known)
    else:
        form = JacketOrderForm(request.POST or None, **known)
    if form.is_valid():
        facts, by = form.facts(), asking(request)
        save = (
            (lambda: services.update_jacket_order(line, facts, by=by))
            if line
            else (lambda: services.add_jacket_order(team_order, facts, by=by))
        )
        if done(form, save):
            messages.success(request, f"The jacket of {facts.member} is saved.")
            if "another" not in request.POST:
                return redirect(team_order)
            next_one = reverse("orders:new_jacket_order", args=[team_order.code])
            return redirect(f"{next_one}?colorway={facts.colorway.pk}")
    look = form.look(uid="jacket")
    return render(request, "orders/jacket_order_form.html", {**known, "form": form, "look": look})


def _chosen_colorway(
    request: HttpRequest, team_order: TeamOrder, line: JacketOrder | None
) -> Colorway | None:
    """The colorway posted, else the member's, else the one asked for or the only one; None while
    it is open."""
    colorways = list(queries.colorways_of(team_order))
    if request.method == "POST":
        wanted = request.POST.get("colorway", "")
    elif line:
        wanted = str(line.colorway_id)
    else:
        only = str(colorways[0].pk) if len(colorways) == 1 else ""
        wanted = request.GET.get("colorway", only)
    return next((colorway for colorway in colorways if str(colorway.pk) == wanted), None)


@for_open_order
def remove_jacket_order(request: HttpRequest, team_order: TeamOrder, pk: int) -> HttpResponse:
    line = get_object_or_404(queries.jacket_orders_of(team_order), pk=pk)
    if request.method == "POST":
        services.delete_jacket_order(line, by=asking(request))
        messages.success(request, f"The jacket of {line.member} is deleted.")
        return redirect(team_order)
    return confirm(request, team_order, what=f"the jacket of {line.member}, {line.size}")
