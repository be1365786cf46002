"""The coordinator's pages, behind the coordinator's secret link: one order and nothing else."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from functools import wraps
from smtplib import SMTPException
from typing import Any

from django.conf import settings
from django.contrib import messages
from django.core.cache import cache
from django.core.mail import send_mail
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.formats import date_format
from django.views.decorators.http import require_POST, require_safe

from orders import handing_out, links, services
from orders.coordinator import (
    answers_of,
    check_club_may_change,
    flags_context,
    may_change,
    price_of,
)
from orders.coordinator_forms import JacketForm, NamesForm
from orders.errors import OrderError
from orders.models import AccessLink, JacketOrder, TeamOrder
from orders.pages import done
from orders.queries import jacket_orders_of
from orders.roster_store import expect_names, expect_no_longer, names_in_words
from orders.roster_views import ROSTER_FILES, Desk, file_of, roster_page
from orders.states import Who, close_overdue, move, ways_on

COORDINATOR = AccessLink.Kind.COORDINATOR
APPROVED = TeamOrder.State.APPROVED
SECONDS_BETWEEN_MAILS = 60
behind_link = links.by_link(COORDINATOR)


def changes(view: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
    """A view that changes the order; what the order refuses is said on the coordinator's page."""

    @behind_link
    @wraps(view)
    def guarded(request: HttpRequest, link: AccessLink, **names: Any) -> HttpResponse:
        try:
            check_club_may_change(link.team_order)
            return view(request, link, **names)
        except OrderError as error:
            messages.error(request, str(error))
            return to_order(link)

    return guarded


def to_order(link: AccessLink) -> HttpResponse:
    return redirect("coordinator:order", links.token_of(link))


def shown(
    request: HttpRequest, link: AccessLink, template: str, context: dict[str, Any]
) -> HttpResponse:
    """A page without the log-in's own navigation: who holds the link sees this order alone."""
    context = {
        "team_order": link.team_order,
        "token": links.token_of(link),
        "may_change": may_change(link.team_order),
        "user": None,
        **context,
    }
    return render(request, f"orders/coordinator/{template}.html", context)


@behind_link
@require_safe
def order(request: HttpRequest, link: AccessLink) -> HttpResponse:
    _close_if_overdue(link.team_order)
    return _order_page(request, link, NamesForm())


def _close_if_overdue(team_order: TeamOrder) -> None:
    """The club need not wait for the maker to look in before it can approve."""
    if team_order.code in close_overdue(timezone.localdate()):
        team_order.refresh_from_db(fields=["state"])


def _order_page(request: HttpRequest, link: AccessLink, form: NamesForm) -> HttpResponse:
    team_order = link.team_order
    answers = answers_of(team_order)
    members_address = _members_address(request, team_order)
    missing = [one.expected.name for one in answers.missing]
    context = {
        "answers": answers,
        "names_form": form,
        "price": price_of(team_order),
        "members_address": members_address,
        "reminder": _reminder(team_order, members_address, missing),
        "can_mail": bool(settings.EMAIL_HOST and team_order.coordinator_email),
        "takes_members": team_order.takes_members(timezone.localdate()),
    }
    return shown(request, link, "order", context)


def _members_address(request: HttpRequest, team_order: TeamOrder) -> str:
    """The members' link where the maker has given one out; a revoked one is not made anew here."""
    link = AccessLink.objects.filter(
        team_order=team_order, kind=AccessLink.Kind.MEMBERS, revoked_at=None
    ).first()
    return request.build_absolute_uri(links.address_of(link)) if link else ""


def _reminder(team_order: TeamOrder, address: str, missing: list[str]) -> str:
    """A text to send to the team: link, closing day, and who has not answered."""
    by = f" by {day_words(team_order.closes_on)}" if team_order.closes_on else ""
    lines = [
        f"{team_order.club.name}: {team_order.title}",
        f"Please choose your jacket{by}:",
        address,
    ]
    if missing:
        lines += ["", "Not yet answered:", *(f"- {name}" for name in missing)]
    return "\n".join(lines)


def day_words(day: datetime.date) -> str:
    return date_format(day, "l, j F Y")


@changes
@require_POST
def add_names(request: HttpRequest, link: AccessLink) -> HttpResponse:
    form = NamesForm(request.POST)
    if not form.is_valid():
        return _order_page(request, link, form)
    names = form.cleaned_data["names"]
    new = expect_names(link.team_order, names, by=None, by_link=COORDINATOR)
    there = f" {names_in_words(len(names) - new)} passed over." if new < len(names) else ""
    messages.success(request, f"{names_in_words(new)} put on the roster.{there}")
    return to_order(link)


@changes
@require_POST
def remove_name(request: HttpRequest, link: AccessLink, pk: int) -> HttpResponse:
    expected = get_object_or_404(link.team_order.expected, pk=pk)
    expect_no_longer(expected, by=None, by_link=COORDINATOR)
    messages.success(request, f"{expected.name} is off the roster.")
    return to_order(link)


@changes
def add_jacket(request: HttpRequest, link: AccessLink) -> HttpResponse:
    member = request.GET.get("member", "")
    form = JacketForm(request.POST or None, team_order=link.team_order, member=member)
    if form.is_valid() and done(form, lambda: _save(form, link, None)):
        return _saved(request, link, form)
    return shown(request, link, "jacket", {"form": form})


@changes
def edit_jacket(request: HttpRequest, link: AccessLink, pk: int) -> HttpResponse:
    jacket = get_object_or_404(jacket_orders_of(link.team_order), pk=pk)
    form = JacketForm(request.POST or None, team_order=link.team_order, jacket=jacket)
    if form.is_valid() and done(form, lambda: _save(form, link, jacket)):
        return _saved(request, link, form)
    return shown(request, link, "jacket", {"form": form, "jacket": jacket})


@transaction.atomic
def _save(form: JacketForm, link: AccessLink, jacket: JacketOrder | None) -> None:
    # Under the lock, so that no approval slips in between.
    check_club_may_change(services.open_order(link.team_order))
    if jacket:
        services.update_jacket_order(jacket, form.facts(), by=None, by_link=COORDINATOR)
    else:
        services.add_jacket_order(link.team_order, form.facts(), by=None, by_link=COORDINATOR)


def _saved(request: HttpRequest, link: AccessLink, form: JacketForm) -> HttpResponse:
    messages.success(request, f"The jacket of {form.cleaned_data['member']} is saved.")
    return to_order(link)


@changes
def remove_jacket(request: HttpRequest, link: AccessLink, pk: int) -> HttpResponse:
    jacket = get_object_or_404(jacket_orders_of(link.team_order), pk=pk)
    if request.method != "POST":
        return shown(request, link, "remove_jacket", {"jacket": jacket})
    with transaction.atomic():
        check_club_may_change(services.open_order(link.team_order))
        services.delete_jacket_order(jacket, by=None, by_link=COORDINATOR)
    messages.success(request, f"The jacket of {jacket.member} is removed.")
    return to_order(link)


@changes
@require_POST
def own_link(request: HttpRequest, link: AccessLink, pk: int) -> HttpResponse:
    """A member's private link, given out and shown this once."""
    jacket = get_object_or_404(jacket_orders_of(link.team_order), pk=pk)
    own = handing_out.give_own_link(jacket, by=None, by_link=COORDINATOR)
    context = {"jacket": jacket, **handing_out.shown_once(request, own)}
    return shown(request, link, "own_link", context)


@behind_link
def approve(request: HttpRequest, link: AccessLink) -> HttpResponse:
    """Ask with the numbers in view, then approve for the club."""
    team_order = link.team_order
    _close_if_overdue(team_order)
    if request.method == "POST":
        _approve(request, team_order)
        return to_order(link)
    if APPROVED not in {way.end for way in ways_on(team_order.state, Who.COORDINATOR)}:
        state = team_order.get_state_display()
        messages.error(request, f"{team_order.code} is {state}; it is approved while it is closed.")
        return to_order(link)
    context = {
        "answers": answers_of(team_order),
        "price": price_of(team_order),
        **flags_context(team_order),
    }
    return shown(request, link, "approve", context)


def _approve(request: HttpRequest, team_order: TeamOrder) -> None:
    try:
        move(team_order, APPROVED, by=None, by_link=COORDINATOR)
    except OrderError as error:
        messages.error(request, str(error))
    else:
        messages.success(request, "Approved for the club. The maker goes on from here.")


@behind_link
@require_POST
def mail_reminder(request: HttpRequest, link: AccessLink) -> HttpResponse:
    """Send the reminder to the coordinator alone; the members' own addresses are not known."""
    team_order = link.team_order
    address = _members_address(request, team_order)
    if not team_order.takes_members(timezone.localdate()):
        messages.error(request, "The form is closed, so nobody is reminded any more.")
    elif not (settings.EMAIL_HOST and team_order.coordinator_email and address):
        messages.error(request, "This site cannot send it; copy the text instead.")
    elif not cache.add(f"reminder:{team_order.pk}", 1, SECONDS_BETWEEN_MAILS):
        messages.info(request, "It was sent a moment ago; wait a minute before sending it again.")
    else:
        missing = [one.expected.name for one in answers_of(team_order).missing]
        _send(request, team_order, _reminder(team_order, address, missing))
    return to_order(link)


def _send(request: HttpRequest, team_order: TeamOrder, text: str) -> None:
    subject = f"{team_order.club.name}: {team_order.title}"
    try:
        send_mail(subject, text, None, [team_order.coordinator_email])
    except (SMTPException, OSError):
        cache.delete(f"reminder:{team_order.pk}")
        messages.error(request, "The mail server did not take it; copy the text instead.")
    else:
        messages.success(request, f"Sent to {team_order.coordinator_email}.")


@changes
def roster(request: HttpRequest, link: AccessLink) -> HttpResponse:
    token = links.token_of(link)
    context = {"token": token, "may_change": True, "user": None}
    return roster_page(request, _desk(link), **context)


@behind_link
@require_safe
def roster_file(request: HttpRequest, link: AccessLink, file: str) -> HttpResponse:
    return file_of(_desk(link), file)


def _desk(link: AccessLink) -> Desk:
    token = links.token_of(link)
    return Desk(
        link.team_order,
        page=reverse("coordinator:roster", args=[token]),
        back=reverse("coordinator:order", args=[token]),
        files={
            name: reverse("coordinator:roster_file", args=[token, name]) for name in ROSTER_FILES
        },
        by_link=COORDINATOR,
        template="orders/coordinator/roster.html",
    )
