"""The maker's pages around an order: preview, states, links, ordering again, the calendar."""

from __future__ import annotations

import datetime
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from orders import calendar as days
from orders import handing_out, queries, states
from orders import repeat as repeating
from orders.errors import OrderError
from orders.models import Club, TeamOrder
from orders.pages import asking, find_team_order, for_open_order, refuse
from orders.roles import maker_only
from orders.team_order_forms import RepeatForm
from orders.words import jackets_in_words

State = TeamOrder.State


@maker_only
@require_safe
def preview(request: HttpRequest, code: str) -> HttpResponse:
    """The members' form as they see it, made by their own page, with nothing to send."""
    from orders import member_views

    return member_views.render_form(request, find_team_order(code), preview=True)


@maker_only
@require_POST
def move(request: HttpRequest, code: str) -> HttpResponse:
    return _moved(request, find_team_order(code), request.POST.get("to", ""))


@maker_only
def cancel(request: HttpRequest, code: str) -> HttpResponse:
    team_order = find_team_order(code)
    if request.method == "POST":
        return _moved(request, team_order, State.CANCELLED)
    jackets = jackets_in_words(team_order.jacket_orders.count())
    context = {
        "team_order": team_order,
        "question": f"Cancel {team_order.code}?",
        "follows": f"Nothing in the order changes any more, and its {jackets} will not be made. "
        "Its links show no form. It stays to be read and to be ordered again; there is no way "
        "back to this order.",
        "button": "Cancel the order",
    }
    return render(request, "orders/confirm.html", context)


def _moved(request: HttpRequest, team_order: TeamOrder, to: str) -> HttpResponse:
    if to not in State:
        raise Http404(f"There is no state '{to}'.")
    try:
        states.move(team_order, to, by=asking(request))
    except OrderError as error:
        messages.error(request, str(error))
    else:
        messages.success(request, f"{team_order.code} is {State(to).label} now.")
    return redirect(team_order)


@maker_only
@require_POST
def give_link(request: HttpRequest, code: str, kind: str) -> HttpResponse:
    """Give a link out, or another one instead of the live one where the form says anew."""
    team_order = find_team_order(code)
    name = _name_of(kind)
    give = handing_out.give_out_anew if "anew" in request.POST else handing_out.give_out
    try:
        give(team_order, kind, by=asking(request))
    except OrderError as error:
        messages.error(request, str(error))
    else:
        anew = " anew; the earlier one opens nothing any more" if "anew" in request.POST else ""
        messages.success(request, f"The {name} is given out{anew}.")
    return redirect(f"{team_order.get_absolute_url()}#links")


@for_open_order
@require_POST
def own_link(request: HttpRequest, team_order: TeamOrder, pk: int) -> HttpResponse:
    """A member's private link, given out and shown this once."""
    jacket = get_object_or_404(team_order.jacket_orders, pk=pk)
    link = handing_out.give_own_link(jacket, by=asking(request))
    context = {"team_order": team_order, "jacket_order": jacket}
    return render(request, "orders/own_link.html", context | handing_out.shown_once(request, link))


@maker_only
def revoke_link(request: HttpRequest, code: str, kind: str) -> HttpResponse:
    team_order = find_team_order(code)
    name = _name_of(kind)
    if request.method != "POST":
        context = {
            "team_order": team_order,
            "question": f"Revoke the {name} of {team_order.code}?",
            "follows": WHAT_STOPS[handing_out.Kind(kind)],
            "button": "Revoke the link",
        }
        return render(request, "orders/confirm.html", context)
    try:
        handing_out.revoke(team_order, kind, by=asking(request))
    except OrderError as error:
        messages.error(request, str(error))
    else:
        messages.success(request, f"The {name} opens nothing any more.")
    return redirect(f"{team_order.get_absolute_url()}#links")


WHAT_STOPS = {
    handing_out.Kind.MEMBERS: "The link, its QR code on every poster and its short code stop "
    "working at once, and nobody new can order. What was ordered stays, and members keep the "
    "links to their own jackets. You can give out another link at any time.",
    handing_out.Kind.COORDINATOR: "The coordinator's page stops opening at once: no list, no "
    "approval. What was ordered or approved stays. You can give out another link at any time.",
}


def _name_of(kind: str) -> str:
    if kind not in handing_out.NAMES:
        raise Http404(f"There is no link '{kind}' of an order.")
    return handing_out.NAMES[handing_out.Kind(kind)]


@maker_only
@require_safe
def poster(request: HttpRequest, code: str) -> HttpResponse:
    """The members' link for the board, on one sheet."""
    team_order = find_team_order(code)
    card = handing_out.card_of(request, team_order, handing_out.Kind.MEMBERS)
    if not card.address:
        messages.info(request, "A poster shows the members' link: give it out first.")
        return redirect(f"{team_order.get_absolute_url()}#links")
    context = {
        "team_order": team_order,
        "card": card,
        "typed_at": request.build_absolute_uri(reverse("members:join")),
        "local": handing_out.works_only_here(request),
        "currency": queries.currency(),
    }
    return render(request, "orders/poster.html", context)


@maker_only
def repeat(request: HttpRequest, code: str) -> HttpResponse:
    team_order = find_team_order(code)
    form = RepeatForm(request.POST or None, team_order=team_order)
    if form.is_valid():
        try:
            made = repeating.repeat(team_order, form.facts(), by=asking(request))
        except OrderError as error:
            refuse(form, error)
        else:
            messages.success(
                request,
                f"{made.code} is a draft like {team_order.code}. Look it over, then open it.",
            )
            return redirect(made)
    context = {"team_order": team_order, "form": form}
    return render(request, "orders/repeat.html", context)


@maker_only
@require_safe
def calendar(request: HttpRequest) -> HttpResponse:
    today = timezone.localdate()
    states.close_overdue(today)
    first = _month_asked(request, today)
    club = _club_asked(request)
    entries = days.entries_of(queries.team_orders_for_calendar(club), today)
    context = {
        "months": days.months(entries, first, today),
        "clubs": Club.objects.all(),
        "club": club,
        "first": first,
        "earlier": days.next_month(first, -days.MONTHS_SHOWN),
        "later": days.next_month(first, days.MONTHS_SHOWN),
        "anything": bool(entries),
    }
    return render(request, "orders/calendar.html", context)


def _month_asked(request: HttpRequest, today: datetime.date) -> datetime.date:
    """The month of `?from=2027-03`; this month where it is missing or no month."""
    try:
        asked = datetime.datetime.strptime(request.GET.get("from", ""), "%Y-%m").date()
    except ValueError:
        return today.replace(day=1)
    # Half a year to either side has to exist too.
    return asked if 1900 <= asked.year <= 9000 else today.replace(day=1)


def _club_asked(request: HttpRequest) -> Club | None:
    asked = request.GET.get("club", "")
    # Longer numbers are no key and overflow the database's integer.
    known = asked.isdecimal() and len(asked) < 10
    return Club.objects.filter(pk=int(asked)).first() if known else None


@maker_only
@require_safe
def calendar_file(request: HttpRequest) -> HttpResponse:
    club = _club_asked(request)
    orders = list(queries.team_orders_for_calendar(club))
    text = days.as_icalendar(
        days.entries_of(orders, timezone.localdate()),
        timezone.now(),
        {one.pk: request.build_absolute_uri(one.get_absolute_url()) for one in orders},
    )
    headers: dict[str, Any] = {"Content-Disposition": 'attachment; filename="team-orders.ics"'}
    return HttpResponse(text, content_type="text/calendar; charset=utf-8", headers=headers)
