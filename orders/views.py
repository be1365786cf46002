"""The start page and the pages of a team order."""

from __future__ import annotations

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from orders import queries, services
from orders.coordinator import flags_context
from orders.errors import OrderError
from orders.filters import JacketOrderFilter, TeamOrderFilter
from orders.handing_out import link_cards, works_only_here
from orders.models import TeamOrder
from orders.money_queries import balance_context
from orders.pages import (
    asking,
    confirm,
    done,
    find_team_order,
    for_open_order,
    list_page,
    refuse,
)
from orders.roles import is_maker, maker_only
from orders.states import Who, close_overdue, steps, ways_on
from orders.tables import JacketOrderTable, TeamOrderTable, exported, prepare, wants_table_only
from orders.team_order_forms import TeamOrderForm
from orders.words import choices_in_words, jackets_in_words

AMENDMENTS_ON_PAGE = 5
JACKETS_ON_PAGE = 100  # a whole club, so that the printed page is the whole list


@require_safe
def home(request: HttpRequest) -> HttpResponseBase:
    """Where the log-in leads: a helper goes on to today's lists, the maker sees the team orders."""
    if is_maker(request.user):
        close_overdue(timezone.localdate())
    return team_orders(request) if is_maker(request.user) else redirect("production:today")


def team_orders(request: HttpRequest) -> HttpResponseBase:
    listed = queries.team_orders_for_list()
    found = TeamOrderFilter(request.GET, queryset=listed)
    table = prepare(request, TeamOrderTable(found.qs))
    context = {
        "filter": found,
        "anything": listed.exists(),
        "deleted": queries.amendments_of_deleted_orders().exists(),
    }
    return exported(request, table, "team-orders") or list_page(
        request, table, "orders/team_orders.html", context
    )


@maker_only
@require_safe
def team_order(request: HttpRequest, code: str) -> HttpResponseBase:
    close_overdue(timezone.localdate())
    order = find_team_order(code)
    jackets = queries.jacket_orders_of(order)
    found = JacketOrderFilter(request.GET, queryset=jackets, team_order=order)
    table = prepare(request, JacketOrderTable(found.qs), per_page=JACKETS_ON_PAGE)
    if file := exported(request, table, f"{order.code}-jackets"):
        return file
    if wants_table_only(request):
        return list_page(request, table, "", {})
    colorways = list(queries.colorways_of(order))
    stored = queries.facts_of(order)
    context = {
        "team_order": order,
        "filter": found,
        "looks": [
            (colorway, queries.look_of_colorway(colorway, uid=f"c{colorway.pk}"))
            for colorway in colorways
        ],
        "palette": stored.palette,
        "jackets": order.jacket_orders.count(),
        "states": steps(order.state),
        "ways": ways_on(order.state, Who.MAKER),
        "links": link_cards(request, order),
        "local_links": works_only_here(request),
        "currency": queries.currency(),
        "choices": choices_in_words(stored),
        "run": None if order.is_editable else queries.run_code_of(order),
        "amendments": queries.amendments_of(order)[:AMENDMENTS_ON_PAGE],
        **balance_context(order),
        **flags_context(order),
    }
    return list_page(request, table, "orders/team_order.html", context)


@maker_only
@require_safe
def amendments(request: HttpRequest, code: str) -> HttpResponse:
    order = find_team_order(code)
    pages = Paginator(queries.amendments_of(order), 100)
    context = {"team_order": order, "amendments": pages.get_page(request.GET.get("page"))}
    return render(request, "orders/amendments.html", context)


@maker_only
@require_safe
def deleted_orders(request: HttpRequest) -> HttpResponse:
    """What happened to orders that are no longer there, the deletion included."""
    pages = Paginator(queries.amendments_of_deleted_orders(), 100)
    context = {"amendments": pages.get_page(request.GET.get("page"))}
    return render(request, "orders/amendments.html", context)


@maker_only
def new_team_order(request: HttpRequest) -> HttpResponse:
    form = TeamOrderForm(request.POST or None)
    if form.is_valid():
        try:
            made = services.create_team_order(
                form.facts(), by=asking(request), state=TeamOrder.State.DRAFT
            )
        except OrderError as error:
            refuse(form, error)
        else:
            messages.success(
                request, f"{made.code} is a draft. Add a colorway next, then open its form."
            )
            return redirect(made)
    return render(request, "orders/team_order_form.html", {"form": form})


@maker_only
@require_safe
def suggest_code(request: HttpRequest) -> HttpResponse:
    """The code field for the club and deadline typed so far; a code of one's own stays."""
    asked = TeamOrderForm(request.GET)
    asked.full_clean()
    data, typed = asked.cleaned_data, request.GET.get("code", "").strip()
    club = data.get("club") or data.get("new_club")
    suggested = ""
    if club and "deadline" in data:
        suggested = queries.suggested_code(str(club), data["deadline"])
    own = typed not in ("", request.GET.get("suggested", ""))
    form = TeamOrderForm(initial={"code": typed if own else suggested})
    return render(request, "orders/_code_field.html", {"form": form, "suggested": suggested})


@for_open_order
def edit_team_order(request: HttpRequest, team_order: TeamOrder) -> HttpResponse:
    form = TeamOrderForm(request.POST or None, team_order=team_order)
    if form.is_valid() and done(
        form, lambda: services.update_team_order(team_order, form.facts(), by=asking(request))
    ):
        messages.success(request, "The team order is saved.")
        return redirect(TeamOrder.objects.get(pk=team_order.pk))
    context = {"form": form, "team_order": team_order}
    return render(request, "orders/team_order_form.html", context)


@for_open_order
def remove_team_order(request: HttpRequest, team_order: TeamOrder) -> HttpResponse:
    if request.method == "POST":
        try:
            services.delete_team_order(team_order, by=asking(request))
        except OrderError as error:
            messages.error(request, str(error))
            return redirect(team_order)
        messages.success(request, f"{team_order.code} is deleted.")
        return redirect("home")
    jackets = team_order.jacket_orders.count()
    return confirm(
        request,
        team_order,
        what=f"team order {team_order.code}",
        goes_with_it=f"Its colorways and {jackets_in_words(jackets)} go with it for good.",
    )
