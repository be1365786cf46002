"""Purchases: what is on order, goods in, and closing what will not come."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import count
from typing import Any

from django import forms
from django.contrib import messages
from django.db.models import Q, QuerySet, Sum
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from orders.pages import asking, list_page
from orders.roles import maker_only
from orders.tables import exported, prepare
from patterns.services import workroom
from production.buying import purchases
from production.buying.purchases import GoodsIn
from production.buying.shopping_forms import CloseForm, GoodsInForm
from production.errors import MovedOnError, ProductionError
from production.models import Purchase, StockMovement, WareMovement
from production.stock import cloth_waiting
from production.stock.cloth_queries import next_code
from production.stock.shelf_tables import PurchaseTable, state_of
from production.stock.ware_catalog import Catalog


class PurchaseFilter(forms.Form):
    text = forms.CharField(label="Purchase, supplier or run", required=False)
    show = forms.ChoiceField(
        label="Show",
        required=False,
        choices=[("", "all"), ("open", "what is on order"), ("late", "what is overdue")],
    )


@maker_only
@require_safe
def purchase_list(request: HttpRequest) -> HttpResponse:
    rows = purchases.purchases().annotate(total=Sum("lines__price"))
    form = PurchaseFilter(request.GET)
    wanted = _narrowed(rows, form.cleaned_data) if form.is_valid() else rows
    table = prepare(request, PurchaseTable(wanted, currency=workroom().currency))
    context = {"filter": {"form": form}, "anything": Purchase.objects.exists()}
    return exported(request, table, "purchases") or list_page(
        request, table, "production/shopping/purchases.html", context
    )


def _narrowed(rows: QuerySet[Purchase], asked: dict[str, Any]) -> QuerySet[Purchase]:
    if text := asked["text"].strip():
        rows = rows.filter(
            Q(code__icontains=text)
            | Q(supplier__name__icontains=text)
            | Q(run__code__icontains=text)
        )
    if asked["show"]:
        rows = rows.filter(is_open=True)  # type: ignore[misc]  # annotated
    if asked["show"] == "late":
        rows = rows.filter(expected_on__lt=timezone.localdate())
    return rows


@maker_only
def purchase(request: HttpRequest, code: str) -> HttpResponse:
    """The page of a purchase, and goods in."""
    found = get_object_or_404(purchases.purchases(), code=code)
    form = _goods_form(request, found)
    if request.method == "POST":
        seen = request.POST.get("seen", "")
        if seen != purchases.mark_of(found):
            messages.error(request, _moved_on(found))
            return redirect("production:purchase", code)
        if form.is_valid() and (goods := _booked(request, found, form, seen)):
            _tell(request, found, goods)
            return redirect("production:purchase", code)
    return _page(request, found, form, CloseForm(auto_id="close_%s"))


def _goods_form(request: HttpRequest, found: Purchase) -> GoodsInForm:
    return GoodsInForm(
        request.POST if request.method == "POST" else None,
        lines=[line for line in purchases.lines_of(found) if not found.closed_at],
        codes=_codes(),
        unit=workroom().length_unit,
    )


def _codes() -> Iterator[str]:
    """Codes for bolts that no lot has, counting on."""
    first = int(next_code().removeprefix("B-"))
    return (f"B-{number}" for number in count(first))


def _booked(request: HttpRequest, found: Purchase, form: GoodsInForm, seen: str) -> GoodsIn | None:
    try:
        return purchases.take_in(
            found,
            came=form.came(),
            bolts=form.bolts(),
            by=asking(request),
            seen=seen,
            received_on=form.cleaned_data["received_on"],
            more_came=form.cleaned_data["more_came"],
        )
    except MovedOnError as error:
        messages.error(request, str(error))
    except ProductionError as error:
        field = getattr(error, "field", None)
        form.add_error(field if field in form.fields else None, str(error))
    return None


def _moved_on(found: Purchase) -> str:
    return (
        f"{found} has changed since this page was shown, perhaps by the same tap sent twice: look "
        f"at what has come. {purchases.NOTHING_BOOKED}"
    )


def _tell(request: HttpRequest, found: Purchase, goods: GoodsIn) -> None:
    words = f"What came of {found} is on the shelf."
    if goods.lots:
        words = f"What came of {found} is in the book: {', '.join(lot.code for lot in goods.lots)}."
    if goods.laid.plies:
        words += f" {cloth_waiting.in_words(goods.laid)}"
    words += " All of it is here now." if goods.is_whole else " The rest stays on order."
    messages.success(request, words)
    for apart in cloth_waiting.apart_words(goods.laid):
        messages.warning(request, apart)


@maker_only
@require_POST
def close(request: HttpRequest, code: str) -> HttpResponse:
    found = get_object_or_404(purchases.purchases(), code=code)
    form = CloseForm(request.POST, auto_id="close_%s")
    if form.is_valid():
        try:
            purchases.close(
                found,
                reason=form.cleaned_data["reason"],
                by=asking(request),
                seen=request.POST.get("seen", ""),
            )
        except ProductionError as error:
            messages.error(request, str(error))
        else:
            messages.success(request, f"{found} is closed. Its rest is to be bought elsewhere.")
        return redirect("production:purchase", code)
    fresh = GoodsInForm(
        lines=list(purchases.lines_of(found)), codes=_codes(), unit=workroom().length_unit
    )
    return _page(request, found, fresh, form)


def _page(
    request: HttpRequest, found: Purchase, form: GoodsInForm, close_form: CloseForm
) -> HttpResponse:
    catalog, room = Catalog(), workroom()
    lines = list(purchases.lines_of(found))
    fields = {row.line.pk: row for row in form.by_line()}
    return render(
        request,
        "production/shopping/purchase.html",
        {
            "purchase": found,
            "state": state_of(found),
            "is_open": vars(found)["is_open"],
            "is_late": vars(found)["is_open"] and found.expected_on < timezone.localdate(),
            "lines": [
                {
                    "line": line,
                    "name": purchases.line_name(line, catalog),
                    "unit": line.ware.unit if line.ware else "mm",
                    "rest": max(line.quantity - line.received, 0),
                    "fields": fields.get(line.pk),
                }
                for line in lines
            ],
            "total": sum(line.price for line in lines),
            "form": form,
            "close_form": close_form,
            "seen": purchases.mark_of(found),
            "ware_moves": _ware_moves(found, catalog),
            "cloth_moves": StockMovement.objects.filter(purchase_line__purchase=found)
            .select_related("lot__fabric_color", "by")
            .order_by("-pk"),
            "unit": room.length_unit,
            "currency": room.currency,
        },
    )


def _ware_moves(found: Purchase, catalog: Catalog) -> list[tuple[WareMovement, str]]:
    rows = WareMovement.objects.filter(purchase_line__purchase=found).order_by("-pk")
    return [(row, catalog.sold(row.ware.key).name) for row in rows.select_related("ware", "by")]
