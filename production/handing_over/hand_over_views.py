"""The pages of the hand-over: jackets to a club, deliveries, reminders before it."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from orders.models import TeamOrder
from orders.money_queries import balance_context
from orders.pages import asking, find_team_order
from orders.roles import is_maker
from production.errors import ProductionError
from production.handing_over.deliveries import hand_over as hand_over_jackets
from production.handing_over.duties import duties_of_order, duties_of_run
from production.handing_over.hand_over_forms import HandOverForm, ParcelsForm
from production.handing_over.hand_over_state import rail_out, run_of
from production.handing_over.paper_contents import delivery_or_404
from production.handing_over.signature import FIELD
from production.models import Delivery
from production.queries import run_or_404


@require_http_methods(["GET", "HEAD", "POST"])
def hand_over(request: HttpRequest, code: str) -> HttpResponse:
    order = find_team_order(code)
    rail = rail_out(order)
    form = HandOverForm(request.POST if request.method == "POST" else None, rail=rail)
    if form.is_valid():
        try:
            made = _delivery_of(request, order, form)
        except ProductionError as error:
            form.add_error(None, str(error))
        else:
            messages.success(request, f"Delivery {made.number} of {order.code} is handed over.")
            return redirect("production:delivery", order.code, made.number)
    context = {
        "rail": rail,
        "form": form,
        "parcels": ParcelsForm(auto_id="parcels_%s"),
        "duties": duties_of_order(order, rail.run),
        "signing": Delivery.Signed,
    }
    return render(
        request, "production/handing_over/hand_over.html", context | _money(request, order)
    )


def _delivery_of(request: HttpRequest, order: TeamOrder, form: HandOverForm) -> Delivery:
    asked = form.cleaned_data
    return hand_over_jackets(
        order,
        asked["jackets"],
        received_by=asked["received_by"],
        signed=asked["signed"],
        signature=asked["signature"],
        note=asked["note"],
        by=asking(request),
        form_key=asked["form_key"],
    )


def _money(request: HttpRequest, order: TeamOrder) -> dict[str, Any]:
    """The balance, which only the maker sees; the order goes with it."""
    context: dict[str, Any] = {"team_order": order}
    return context | balance_context(order) if is_maker(request.user) else context


@require_safe
def delivery(request: HttpRequest, code: str, number: int) -> HttpResponse:
    order = find_team_order(code)
    rail = rail_out(order)
    context = {
        "rail": rail,
        "shown": delivery_or_404(rail, number),
        "field": FIELD,
        "parcels": ParcelsForm(auto_id="parcels_%s"),
    }
    return render(
        request, "production/handing_over/delivery.html", context | _money(request, order)
    )


@require_safe
def order_duties(request: HttpRequest, code: str) -> HttpResponse:
    order = find_team_order(code)
    run = run_of(order)
    context = {"of": order.code, "team_order": order, "duties": duties_of_order(order, run)}
    return render(request, "production/handing_over/duties.html", context)


@require_safe
def run_duties(request: HttpRequest, code: str) -> HttpResponse:
    run = run_or_404(code)
    context = {"of": run.code, "run": run, "duties": duties_of_run(run)}
    return render(request, "production/handing_over/duties.html", context)
