"""What the order pages share: who gets in, lists and questions, refusals as words."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any

from django import forms
from django.contrib import messages
from django.contrib.auth.models import User
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.cache import patch_vary_headers

from orders.errors import OrderError, OrderFrozenError
from orders.models import TeamOrder
from orders.roles import maker_only
from orders.rules import check_open
from orders.tables import wants_table_only


def for_open_order(view: Callable[..., HttpResponseBase]) -> Callable[..., HttpResponseBase]:
    """A maker's view that changes an order; a frozen one sends back to its page, saying why."""

    @maker_only
    @wraps(view)
    def checked(request: HttpRequest, code: str, **kwargs: Any) -> HttpResponseBase:
        team_order = find_team_order(code)
        try:
            check_open(team_order)
            return view(request, team_order, **kwargs)
        except OrderFrozenError as error:
            messages.error(request, str(error))
            return redirect(team_order)

    return checked


def find_team_order(code: str) -> TeamOrder:
    return get_object_or_404(TeamOrder.objects.select_related("club"), code=code)


def asking(request: HttpRequest) -> User:
    """The user, whom the log-in middleware has let in."""
    assert isinstance(request.user, User)
    return request.user


def done(form: forms.Form, save: Callable[[], object]) -> bool:
    """Whether a service went through; what it refuses becomes an error of the form."""
    try:
        save()
    except OrderFrozenError:
        raise
    except OrderError as error:
        refuse(form, error)
        return False
    return True


def refuse(form: forms.Form, error: OrderError) -> None:
    form.add_error(error.field if error.field in form.fields else None, str(error))


def confirm(
    request: HttpRequest, team_order: TeamOrder, *, what: str, goes_with_it: str = ""
) -> HttpResponse:
    """Ask before deleting, on a page of its own."""
    context = {"team_order": team_order, "what": what, "goes_with_it": goes_with_it}
    return render(request, "orders/confirm_delete.html", context)


def list_page(
    request: HttpRequest, table: Any, template: str, context: dict[str, Any]
) -> HttpResponse:
    """A page around a table, or the table alone where htmx asks for it."""
    name = "_table_only.html" if wants_table_only(request) else template
    response = render(request, name, {**context, "table": table})
    patch_vary_headers(response, ["HX-Request"])
    return response
