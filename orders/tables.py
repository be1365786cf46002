"""Columns of the order lists, and their way into a spreadsheet."""

from __future__ import annotations

from typing import Any

import django_tables2 as tables
from django.http import Http404, HttpRequest, HttpResponse
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django_tables2 import RequestConfig
from django_tables2.export.export import TableExport

from orders.models import JacketOrder, TeamOrder

EXPORT_FORMATS = ("csv", "xlsx")
#: A spreadsheet takes text that starts with one of these for a formula and runs it.
FORMULA_SIGNS = ("=", "+", "-", "@", "\t", "\r")


class SafeExport(TableExport):  # type: ignore[misc]  # django-tables2 is untyped
    """A CSV or XLSX file in which no cell can be taken for a formula."""

    def table_to_dataset(self, table: Any, *args: Any, **kwargs: Any) -> Any:
        dataset = super().table_to_dataset(table, *args, **kwargs)
        for number, row in enumerate(dataset):
            dataset[number] = tuple(map(_defused, row))
        return dataset

    @classmethod
    def is_valid_format(cls, export_format: str | None) -> bool:
        return export_format in EXPORT_FORMATS


def _defused(cell: object) -> object:
    if isinstance(cell, str) and cell.startswith(FORMULA_SIGNS):
        return f"'{cell}"
    return cell


def wants_table_only(request: HttpRequest) -> bool:
    """htmx pages and sorts inside the page; a page restored from its history is a whole one."""
    htmx: Any = request.htmx  # type: ignore[attr-defined]  # set by the htmx middleware
    return bool(htmx) and not htmx.history_restore_request


def prepare(request: HttpRequest, table: tables.Table, *, per_page: int = 25) -> tables.Table:
    """The table sorted and paged as the address asks."""
    RequestConfig(request, paginate={"per_page": per_page}).configure(table)
    return table


def exported(request: HttpRequest, table: tables.Table, name: str) -> HttpResponse | None:
    """The whole table as a file where the address asks for one (`?_export=csv`)."""
    wanted = request.GET.get("_export")
    if wanted is None:
        return None
    _check_format(wanted)
    response: HttpResponse = SafeExport(wanted, table).response(f"{name}.{wanted}")
    return response


def _check_format(wanted: str | None) -> None:
    if wanted is not None and not SafeExport.is_valid_format(wanted):
        raise Http404(f"A list can be saved as {' or '.join(EXPORT_FORMATS)}.")


class TeamOrderTable(tables.Table):  # type: ignore[misc]
    label = "Team orders"
    code = tables.Column(verbose_name="Order", linkify=True, attrs={"td": {"class": "code"}})
    club = tables.Column(order_by=("club__name", "code"))
    title = tables.Column(order_by=("title", "pk"))
    deadline = tables.DateColumn(format="j M Y", order_by=("deadline", "pk"))
    jackets = tables.Column(
        order_by=("jackets", "pk"), attrs={"td": {"class": "number"}, "th": {"class": "number"}}
    )
    state = tables.Column(order_by=("state", "pk"))

    class Meta:
        model = TeamOrder
        fields = ("code", "club", "title", "deadline", "jackets", "state")
        attrs = {"class": "table"}
        empty_text = "No team order fits."

    def render_state(self, record: TeamOrder) -> SafeString:
        return format_html(
            '<span class="tag tag-{}">{}</span>', record.state, record.get_state_display()
        )

    def value_state(self, record: TeamOrder) -> str:
        return record.get_state_display()


class JacketOrderTable(tables.Table):  # type: ignore[misc]
    label = "Jacket orders"
    member = tables.Column(
        linkify=("orders:jacket_order", [tables.A("team_order__code"), tables.A("pk")])
    )
    size = tables.Column(order_by=("size__position", "pk"))
    colorway = tables.Column(order_by=("colorway__name", "pk"))
    own_colors = tables.Column(empty_values=(), orderable=False)
    name_on_jacket = tables.Column(default="", order_by=("name_on_jacket", "pk"))
    note = tables.Column(default="", order_by=("note", "pk"))

    class Meta:
        model = JacketOrder
        fields = ("member", "size", "colorway", "own_colors", "name_on_jacket", "note")
        attrs = {"class": "table"}
        empty_text = "No jacket fits."

    def render_own_colors(self, record: JacketOrder) -> str:
        return ", ".join(
            f"{own.block.code} {own.fabric_color.name}" for own in record.choices.all()
        )
