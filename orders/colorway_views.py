"""The pages of a team order's colorways."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from orders import queries, services
from orders.errors import OrderError, OrderFrozenError
from orders.forms import ColorwayForm
from orders.models import Colorway, TeamOrder
from orders.pages import asking, confirm, done, for_open_order
from patterns.models import Blocking


@for_open_order
def new_colorway(request: HttpRequest, team_order: TeamOrder) -> HttpResponse:
    code = request.GET.get("blocking")
    if code is None:
        blockings = Blocking.objects.select_related("pattern").prefetch_related("blocks")
        context = {"team_order": team_order, "blockings": blockings}
        return render(request, "orders/choose_blocking.html", context)
    return _colorway_page(request, team_order, get_object_or_404(Blocking, code=code), None)


@for_open_order
def edit_colorway(request: HttpRequest, team_order: TeamOrder, pk: int) -> HttpResponse:
    colorway = get_object_or_404(queries.colorways_of(team_order), pk=pk)
    return _colorway_page(request, team_order, colorway.blocking, colorway)


def _colorway_page(
    request: HttpRequest, team_order: TeamOrder, blocking: Blocking, colorway: Colorway | None
) -> HttpResponse:
    known: dict[str, Any] = {
        "team_order": team_order,
        "blocking": blocking,
        "colorway": colorway,
    }
    showing = "show" in request.POST
    form = ColorwayForm(request.POST or None, **known)
    complete = form.is_valid()
    if complete and not showing:
        facts, by = form.facts(), asking(request)
        save = (
            (lambda: services.update_colorway(colorway, facts, by=by))
            if colorway
            else (lambda: services.add_colorway(team_order, facts, by=by))
        )
        if done(form, save):
            messages.success(request, f"Colorway {facts.name} is saved.")
            return redirect(team_order)
    look = form.look(uid="jacket")
    if showing:
        form = ColorwayForm(initial=request.POST.dict(), **known)
    return render(request, "orders/colorway_form.html", {**known, "form": form, "look": look})


@for_open_order
def remove_colorway(request: HttpRequest, team_order: TeamOrder, pk: int) -> HttpResponse:
    colorway = get_object_or_404(team_order.colorways, pk=pk)
    if request.method == "POST":
        try:
            services.delete_colorway(colorway, by=asking(request))
        except OrderFrozenError:
            raise
        except OrderError as error:
            messages.error(request, str(error))
        else:
            messages.success(request, f"Colorway {colorway.name} is deleted.")
        return redirect(team_order)
    return confirm(request, team_order, what=f"colorway {colorway.name}")
