"""The list of what happened, page by page and as a file."""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from typing import Any

import django_tables2 as tables
from django.urls import reverse
from django.utils import timezone
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django_tables2.data import TableData

from production.history.history import Lines, Wanted
from production.history.lines import Kind, Line
from production.templatetags.production_units import moment


class LineData(TableData):  # type: ignore[misc]  # untyped base
    """Lines for a table that asks for one page of them; sorted by their moment alone."""

    def __init__(self, wanted: Wanted) -> None:
        super().__init__(Lines(wanted))
        self._wanted = wanted

    def __len__(self) -> int:
        return len(self.data)

    def __iter__(self) -> Iterator[Line]:
        return iter(self.data)

    def order_by(self, aliases: Any) -> None:
        oldest_first = any(str(alias) == "at" for alias in aliases)
        self.data = Lines(self._wanted, oldest_first=oldest_first)


class HistoryTable(tables.Table):  # type: ignore[misc]  # untyped base
    label = "History"
    at = tables.Column("When")
    by = tables.Column("Who", orderable=False)
    run = tables.Column("Run", orderable=False, default="")
    jacket = tables.Column("Jacket", orderable=False, default="", attrs={"td": {"class": "code"}})
    words = tables.Column("What", orderable=False)
    kind = tables.Column("Kind", orderable=False, visible=False)
    undone = tables.Column("Taken back", orderable=False, visible=False)

    class Meta:
        attrs = {"class": "table history"}
        row_attrs = {"class": lambda record: "undone" if record.undone else ""}
        order_by = ("-at",)
        empty_text = "Nothing happened that fits."

    def render_at(self, value: datetime.datetime) -> str:
        return moment(value)

    def value_at(self, value: datetime.datetime) -> str:
        return timezone.localtime(value).strftime("%Y-%m-%d %H:%M:%S")

    def render_run(self, value: str) -> SafeString:
        return _link("production:run", value)

    def value_run(self, value: str) -> str:
        return value

    def render_jacket(self, value: str) -> SafeString:
        return _link("production:jacket", value)

    def value_jacket(self, value: str) -> str:
        return value

    def render_words(self, record: Line) -> SafeString:
        if record.undone:
            return format_html('<s>{}</s> <span class="help">taken back</span>', record.words)
        return format_html("{}", record.words)

    def value_words(self, record: Line) -> str:
        return record.words

    def value_kind(self, value: Kind) -> str:
        return value.words

    def value_undone(self, value: bool) -> str:
        return "taken back" if value else ""


def _link(name: str, code: str) -> SafeString:
    return format_html('<a href="{}">{}</a>', reverse(name, args=[code]), code)
