"""The members' pages, reached by secret links: the order form, and one's own jacket."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.functional import SimpleLazyObject
from django.views.decorators.http import require_http_methods, require_safe

from orders import member_services, queries
from orders.errors import OrderError
from orders.facts import JacketFacts
from orders.handing_out import shown_once
from orders.links import (
    address_of,
    by_link,
    count_wrong_guess,
    find_short,
    has_guessed_too_often,
    keep_secret,
    token_of,
    too_many,
)
from orders.member_forms import JoinForm, MeasureForm, MemberForm
from orders.member_services import why_closed
from orders.models import AccessLink, Colorway, JacketOrder, TeamOrder
from orders.money import ZERO, Line, amount_words, plain, settle
from orders.money_queries import payments_told
from orders.pages import done

Kind = AccessLink.Kind
View = Callable[..., HttpResponse]


def member_page(kind: str) -> Callable[[View], View]:
    """A page behind a link; one that opens nothing gets a page that tells what to do next."""

    def decorate(view: View) -> View:
        opened = by_link(kind)(view)

        @login_not_required
        @wraps(view)
        def page(request: HttpRequest, token: str) -> HttpResponse:
            try:
                return opened(request, token)
            except Http404:
                return keep_secret(render(request, "orders/member/unknown.html", status=404))

        return page

    return decorate


@login_not_required
@require_http_methods(["GET", "HEAD", "POST"])
def join(request: HttpRequest) -> HttpResponse:
    """The form by its short code; a wrong and a withdrawn code get the same answer."""
    asked = JoinForm(request.POST or None)
    if not asked.is_valid():
        return keep_secret(render(request, "orders/member/join.html", {"form": asked}))
    if has_guessed_too_often(request):
        return too_many(request)
    if link := find_short(asked.cleaned_data["code"]):
        return keep_secret(redirect(address_of(link)))
    count_wrong_guess(request, asked.cleaned_data["code"])
    asked.add_error(
        "code",
        "This code opens no form. Compare it with the board letter by letter; if it is the same, "
        "ask your club's coordinator for a new one.",
    )
    return keep_secret(render(request, "orders/member/join.html", {"form": asked}, status=404))


@member_page(Kind.MEMBERS)
@require_http_methods(["GET", "HEAD", "POST"])
def form(request: HttpRequest, link: AccessLink) -> HttpResponse:
    team_order = link.team_order
    context = {"team_order": team_order, **_terms(team_order)}
    if context["why_closed"]:
        return render(request, "orders/member/closed.html", context)
    context |= _asked(request, team_order)
    page: MemberForm = context["form"]
    given: list[AccessLink] = []
    if page.is_valid() and done(page, lambda: given.append(_order(page, team_order))):
        _say_if_sent_before(request, given[0], page.facts())
        return redirect("members:ordered", token_of(given[0]))
    return render(request, "orders/member/form.html", context)


def render_form(
    request: HttpRequest, team_order: TeamOrder, *, preview: bool = False
) -> HttpResponse:
    """The form with nothing typed yet; as a preview, in any state and with nothing to send."""
    context = {"team_order": team_order, **_terms(team_order), **_asked(request, team_order)}
    template = "orders/preview.html" if preview else "orders/member/form.html"
    return render(request, template, context)


def _order(page: MemberForm, team_order: TeamOrder) -> AccessLink:
    return member_services.order_jacket(
        team_order, page.facts(), form_key=page.cleaned_data["form_key"]
    )


def _say_if_sent_before(request: HttpRequest, given: AccessLink, facts: JacketFacts) -> None:
    stored = given.jacket_order
    assert stored is not None
    if (stored.member, stored.size_id) != (facts.member, facts.size.pk):
        messages.info(
            request,
            f"This form was sent before, for {stored.member} in size {stored.size}; nothing was "
            "ordered a second time. Change the jacket here, or open the form anew for another "
            "person.",
        )


@member_page(Kind.MEMBER)
@require_safe
def ordered(request: HttpRequest, link: AccessLink) -> HttpResponse:
    """The confirmation, with the private link to keep."""
    return render(request, "orders/member/ordered.html", _own_jacket(request, link))


@member_page(Kind.MEMBER)
@require_http_methods(["GET", "HEAD", "POST"])
def mine(request: HttpRequest, link: AccessLink) -> HttpResponse:
    context = _own_jacket(request, link)
    line: JacketOrder = context["line"]
    if context["why_closed"]:
        return render(request, "orders/member/mine.html", context)
    if "cancel" in request.POST:
        return _cancel(request, line)
    context |= _asked(request, link.team_order, line)
    page: MemberForm = context["form"]
    if page.is_valid() and done(page, lambda: member_services.change_jacket(line, page.facts())):
        messages.success(request, "Your change is saved.")
        return redirect(address_of(link))
    return render(request, "orders/member/mine.html", context)


def _cancel(request: HttpRequest, line: JacketOrder) -> HttpResponse:
    try:
        member_services.cancel_jacket(line)
    except OrderError as error:
        messages.error(request, str(error))
        return redirect(request.path)
    messages.success(request, f"The jacket of {line.member} is cancelled and no longer stored.")
    return redirect("members:join")


@member_page(Kind.MEMBER)
@require_safe
def export(request: HttpRequest, link: AccessLink) -> HttpResponse:
    """Everything stored about the member, for the member."""
    team_order = link.team_order
    line = _line(link)
    data = {
        "club": team_order.club.name,
        "order": {"code": team_order.code, "title": team_order.title},
        "member": line.member,
        "size": line.size.code,
        "colorway": line.colorway.name,
        "own_colors": {one.block.name: one.fabric_color.name for one in line.choices.all()},
        "name_on_jacket": line.name_on_jacket,
        "note": line.note,
        "discount": str(plain(line.discount)),
        "payments": payments_told(line),
        "kept_until_days_after_the_hand_over": team_order.erase_after_days,
    }
    response = JsonResponse(data, json_dumps_params={"indent": 2, "ensure_ascii": False})
    response["Content-Disposition"] = 'attachment; filename="my-jacket.json"'
    return response


def _terms(team_order: TeamOrder, line: JacketOrder | None = None) -> dict[str, Any]:
    """Whether members may order, and what a jacket costs: this member's, where there is one."""
    currency = queries.currency()
    discounted = Line(0, line.discount if line else ZERO)
    own = settle(currency, team_order.price, [discounted], ZERO, []).lines[0]
    return {
        "why_closed": why_closed(team_order, timezone.localdate()),
        "price": None if team_order.price is None else amount_words(own.price, currency),
        "taken_off": amount_words(own.discount, currency) if own.discount else "",
    }


def _line(link: AccessLink) -> JacketOrder:
    return get_object_or_404(queries.jacket_orders_of(link.team_order), links=link)


def _own_jacket(request: HttpRequest, link: AccessLink) -> dict[str, Any]:
    team_order = link.team_order
    line = _line(link)
    colorway = queries.colorways_of(team_order).get(pk=line.colorway_id)
    return {
        "team_order": team_order,
        "line": line,
        **shown_once(request, link),
        "export": reverse("members:export", args=[token_of(link)]),
        "stored_look": queries.look_of_colorway(colorway, line.choices.all(), uid="stored"),
        **_terms(team_order, line),
    }


def _known(request: HttpRequest, team_order: TeamOrder, line: JacketOrder | None) -> dict[str, Any]:
    colorways = list(queries.colorways_of(team_order))
    return {
        "team_order": team_order,
        "colorways": colorways,
        "colorway": _chosen_colorway(request, colorways, line),
        "jacket_order": line,
    }


def _asked(
    request: HttpRequest, team_order: TeamOrder, line: JacketOrder | None = None
) -> dict[str, Any]:
    """The form as posted, as stored, or empty. Posted to be shown, it keeps what was typed and is
    not judged; measures typed get their advice."""
    known = _known(request, team_order, line)
    if "show" in request.POST or "advise" in request.POST:
        page = MemberForm(initial=request.POST.dict(), **known)
    else:
        page = MemberForm(request.POST or None, **known)
    measured = "advise" in request.POST or any(request.POST.get(name) for name in _MEASURES)
    measures = MeasureForm(request.POST if measured else None)
    return {
        "form": page,
        "measures": measures,
        "advice": measures.advice(page.sizes()) if measured else None,
        # Drawn when a page shows it: a form that is sent and taken needs no picture.
        "look": SimpleLazyObject(lambda: page.look(uid="jacket")),
    }


_MEASURES = tuple(MeasureForm.base_fields)


def _chosen_colorway(
    request: HttpRequest, colorways: list[Colorway], line: JacketOrder | None
) -> Colorway | None:
    """The colorway asked for, else the member's, else the only one; None while it is open."""
    asked = request.POST or request.GET
    wanted = asked.get("colorway") or (line and str(line.colorway_id))
    if not wanted and len(colorways) == 1:
        return colorways[0]
    return next((one for one in colorways if str(one.pk) == wanted), None)
