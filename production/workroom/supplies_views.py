"""What is bought beside cloth: who sells it, at what price, in what measure; the maker's alone."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django import forms
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from orders.roles import maker_only
from patterns.models import Elastic, Fabric, Notion, Supplier, ThreadColor, Zipper
from patterns.services import workroom
from production.planning.supplies.materials import zipper_length
from production.workroom import supplies as services
from production.workroom.supplies_forms import (
    ElasticForm,
    NotionForm,
    SupplierForm,
    ThreadForm,
    ZipperForm,
)
from production.workroom.workroom_views import FROM_NOW_ON

form_page = require_http_methods(["GET", "HEAD", "POST"])


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of supply: what it is called, and the field that stands for a row in addresses."""

    name: str
    model: Any
    form: Any
    key: str
    template: str = "production/supplies/form.html"


KINDS = {
    "suppliers": Kind("supplier", Supplier, SupplierForm, "pk"),
    "threads": Kind("thread", ThreadColor, ThreadForm, "code"),
    "elastic": Kind("elastic", Elastic, ElasticForm, "place"),
    "notions": Kind("notion", Notion, NotionForm, "code", "production/supplies/notion.html"),
}


@dataclass(frozen=True, slots=True)
class TapeColor:
    """The zippers of one color, the shortest first."""

    rows: tuple[Zipper, ...]
    unit: str

    @property
    def first(self) -> Zipper:
        return self.rows[0]

    @property
    def lengths(self) -> str:
        return ", ".join(zipper_length(row.length_mm, self.unit) for row in self.rows)

    @property
    def cheapest(self) -> Decimal:
        return min(row.price for row in self.rows)

    @property
    def dearest(self) -> Decimal:
        return max(row.price for row in self.rows)


@maker_only
@require_safe
def supplies(request: HttpRequest) -> HttpResponse:
    room = workroom()
    by_color: dict[str, list[Zipper]] = {}
    for row in Zipper.objects.select_related("supplier").order_by("color_name", "length_mm"):
        by_color.setdefault(row.color_code, []).append(row)
    elastics = list(Elastic.objects.select_related("supplier").order_by("-place"))
    context = {
        "suppliers": Supplier.objects.all(),
        "threads": ThreadColor.objects.select_related("supplier"),
        "tapes": [TapeColor(tuple(rows), room.length_unit) for rows in by_color.values()],
        "elastics": elastics,
        "lacks_elastic": len(elastics) < len(Elastic.Place),
        "notions": Notion.objects.select_related("supplier").prefetch_related("sizes"),
        "fabrics": Fabric.objects.select_related("supplier"),
        "room": room,
    }
    return render(request, "production/supplies/supplies.html", context)


@maker_only
@form_page
def new_supply(request: HttpRequest, kind: str) -> HttpResponse:
    of = _kind(kind)
    return _edit(request, of, kind, of.model(), f"Add {_with_article(of.name)}")


@maker_only
@form_page
def supply(request: HttpRequest, kind: str, key: str) -> HttpResponse:
    row = _row(kind, key)
    return _edit(request, _kind(kind), kind, row, row.name)


def _edit(request: HttpRequest, of: Kind, kind: str, row: Any, heading: str) -> HttpResponse:
    form = of.form(request.POST if request.method == "POST" else None, instance=row)
    if form.is_valid() and _saved(form):
        messages.success(request, f"{row.name} is saved. {FROM_NOW_ON}")
        return redirect("production:supplies")
    context = {
        "form": form,
        "heading": heading,
        "of": of,
        "kind": kind,
        "key": getattr(row, of.key) if row.pk else "",
        "currency": workroom().currency,
    }
    return render(request, of.template, context)


def _saved(form: Any) -> bool:
    """Whether the row was kept; what the service refuses becomes an error of the form."""
    if not isinstance(form, NotionForm):
        form.save()
        return True
    try:
        services.keep_notion(form.save(commit=False), form.by_size())
    except services.SupplyError as error:
        form.add_error("unit", str(error))
        return False
    return True


@maker_only
@form_page
def delete_supply(request: HttpRequest, kind: str, key: str) -> HttpResponse:
    row, of = _row(kind, key), _kind(kind)
    if request.method != "POST":
        context = {"row": row, "of": of, "kind": kind, "key": key}
        return render(request, "production/supplies/delete.html", context)
    name = row.name
    try:
        services.remove(row)
    except services.SupplyError as error:
        messages.error(request, str(error))
        return redirect("production:supply", kind, key)
    messages.success(request, f"{name} is deleted. {FROM_NOW_ON}")
    return redirect("production:supplies")


@maker_only
@form_page
def new_zippers(request: HttpRequest) -> HttpResponse:
    form = ZipperForm(request.POST if request.method == "POST" else None)
    if form.is_valid() and _zippers_kept(form, form.cleaned_data["color_code"]):
        messages.success(request, f"{form.cleaned_data['color_name']} is saved. {FROM_NOW_ON}")
        return redirect("production:supplies")
    return _zipper_page(request, form, "Add a zipper color")


@maker_only
@form_page
def zippers(request: HttpRequest, color: str) -> HttpResponse:
    rows = list(Zipper.objects.filter(color_code=color).order_by("length_mm"))
    if not rows:
        raise Http404
    form = ZipperForm(request.POST if request.method == "POST" else None, rows=rows)
    if form.is_valid() and _zippers_kept(form, color):
        messages.success(request, f"{form.cleaned_data['color_name']} is saved. {FROM_NOW_ON}")
        return redirect("production:supplies")
    return _zipper_page(request, form, f"Zippers {rows[0].color_name}")


def _zippers_kept(form: ZipperForm, color: str) -> bool:
    try:
        services.keep_zippers(color, form.facts(), form.gone())
    except services.SupplyError as error:
        form.add_error("gone", str(error))
        return False
    return True


def _zipper_page(request: HttpRequest, form: forms.Form, heading: str) -> HttpResponse:
    context = {"form": form, "heading": heading, "currency": workroom().currency}
    return render(request, "production/supplies/zippers.html", context)


def _kind(kind: str) -> Kind:
    if kind not in KINDS:
        raise Http404
    return KINDS[kind]


def _row(kind: str, key: str) -> Any:
    of = _kind(kind)
    if of.key == "pk" and not key.isdecimal():
        raise Http404
    return get_object_or_404(of.model, **{of.key: key})


def _with_article(name: str) -> str:
    return f"{'an' if name[0] in 'aeiou' else 'a'} {name}"
