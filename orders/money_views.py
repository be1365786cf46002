"""The pages of an order's money; the maker's alone."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_safe

from orders import money_queries, money_services
from orders.models import TeamOrder
from orders.money_forms import DiscountForm, PaymentForm, PriceForm
from orders.money_tables import MoneyTable, PaymentTable
from orders.pages import asking, done, find_team_order, list_page
from orders.roles import maker_only
from orders.tables import exported, prepare


@maker_only
def money(request: HttpRequest, code: str) -> HttpResponseBase:
    order = find_team_order(code)
    payments = list(money_queries.payments_of(order))
    last = payments[0].pk if payments else 0
    form = PaymentForm(request.POST or None, team_order=order, last=last)
    if form.is_valid() and done(
        form,
        lambda: money_services.note_payment(
            order, form.facts(), by=asking(request), seen=form.cleaned_data["seen"]
        ),
    ):
        messages.success(
            request, f"The {form.cleaned_data['kind']} is noted; its receipt is below."
        )
        return redirect("money:money", order.code)
    account = money_queries.account_of(order)
    hidden = ("open",) if order.payer == TeamOrder.Payer.CLUB or order.price is None else ()
    rows = money_queries.member_rows(order, account)
    table = prepare(request, MoneyTable(rows, account, exclude=hidden), per_page=200)
    context = {
        "team_order": order,
        "account": account,
        "called_off": money_queries.is_called_off(order),
        "payments": payments,
        "form": form,
    }
    return exported(request, table, f"{order.code}-money") or list_page(
        request, table, "orders/money/money.html", context
    )


@maker_only
@require_safe
def payments(request: HttpRequest, code: str) -> HttpResponseBase:
    """The payments as a file (`?_export=csv` or xlsx); the page of the money shows them."""
    order = find_team_order(code)
    rows = money_queries.payments_of(order).reverse()
    table = PaymentTable(rows, currency=money_queries.account_of(order).currency)
    return exported(request, table, f"{order.code}-payments") or redirect("money:money", code)


@maker_only
def discount(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    order = find_team_order(code)
    line = get_object_or_404(order.jacket_orders.select_related("team_order"), pk=pk)
    form = DiscountForm(request.POST or None, jacket_order=line)
    if form.is_valid() and done(
        form,
        lambda: money_services.set_jacket_discount(
            line, form.cleaned_data["discount"], by=asking(request)
        ),
    ):
        messages.success(request, f"The discount of {line.member} is saved.")
        return redirect("money:money", order.code)
    context = {"team_order": order, "jacket_order": line, "form": form}
    return render(request, "orders/money/discount.html", context)


@maker_only
def price(request: HttpRequest, code: str) -> HttpResponse:
    order = find_team_order(code)
    form = PriceForm(request.POST or None, team_order=order)
    if form.is_valid() and done(
        form, lambda: money_services.set_price(order, form.facts(), by=asking(request))
    ):
        messages.success(request, "The price is saved.")
        return redirect("money:money", order.code)
    return render(request, "orders/money/price.html", {"team_order": order, "form": form})
