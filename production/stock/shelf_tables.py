"""The list of wares and that of purchases."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import django_tables2 as tables
from django.utils.html import format_html
from django.utils.safestring import SafeString

from orders.money import amount_words
from production.models import Purchase
from production.planning.supplies.shopping_words import quantity_words
from production.stock.shelf_queries import ShelfRow
from production.tables import NUMBER


class ShelfTable(tables.Table):  # type: ignore[misc]  # untyped base
    label = "Shelf"
    name = tables.Column(
        "What",
        accessor="sold__name",
        linkify=("production:ware", [tables.A("key")]),
    )
    on_hand = tables.Column("On the shelf", attrs=NUMBER)
    reserved = tables.Column("Reserved", attrs=NUMBER)
    free = tables.Column("Free", attrs=NUMBER)
    on_order = tables.Column("On order", attrs=NUMBER)
    short = tables.Column("Short", attrs=NUMBER)

    class Meta:
        attrs = {"class": "table"}
        empty_text = "No ware fits."

    def __init__(self, *args: Any, unit: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.unit = unit

    def render_on_hand(self, value: Decimal, record: ShelfRow) -> str:
        return quantity_words(value, record.sold.unit, self.unit) if value else ""

    render_reserved = render_free = render_on_order = render_on_hand

    def render_short(self, value: Decimal, record: ShelfRow) -> SafeString | str:
        words = quantity_words(value, record.sold.unit, self.unit) if value else ""
        return format_html("<strong>{}</strong>", words) if words else ""

    def value_short(self, value: Decimal, record: ShelfRow) -> str:
        return quantity_words(value, record.sold.unit, self.unit) if value else ""


class PurchaseTable(tables.Table):  # type: ignore[misc]  # untyped base
    label = "Purchases"
    code = tables.Column(
        "Purchase",
        linkify=("production:purchase", [tables.A("code")]),
        attrs={"td": {"class": "code"}},
    )
    supplier = tables.Column(order_by=("supplier__name", "pk"))
    run = tables.Column("For run", order_by=("run__code", "pk"), default="")
    ordered_on = tables.DateColumn(format="j M Y")
    expected_on = tables.DateColumn(verbose_name="Expected", format="j M Y")
    total = tables.Column("Price", attrs=NUMBER)
    is_open = tables.Column("State", orderable=False)

    class Meta:
        model = Purchase
        fields = ("code", "supplier", "run", "ordered_on", "expected_on", "total", "is_open")
        attrs = {"class": "table"}
        order_by = ("-code",)
        empty_text = "No purchase fits."

    def __init__(self, *args: Any, currency: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.currency = currency

    def render_total(self, value: Decimal) -> str:
        return amount_words(value, self.currency)

    def render_is_open(self, record: Purchase) -> str:
        return state_of(record)


def state_of(purchase: Purchase) -> str:
    if vars(purchase)["is_open"]:
        return "on order"
    return "closed" if purchase.closed_at else "all here"
