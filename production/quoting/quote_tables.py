"""The list of quotes."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import django_filters
import django_tables2 as tables
from django.db.models import Q, QuerySet
from django.utils.html import format_html
from django.utils.safestring import SafeString

from orders.money import amount_words
from production.models import Quote


class QuoteFilter(django_filters.FilterSet):  # type: ignore[misc]  # untyped base
    text = django_filters.CharFilter(method="search", label="Quote, order or club")
    state = django_filters.ChoiceFilter(
        choices=Quote.State.choices, label="State", empty_label="all"
    )

    class Meta:
        model = Quote
        fields: list[str] = []

    def search(self, quotes: QuerySet[Quote], name: str, text: str) -> QuerySet[Quote]:
        return quotes.filter(
            Q(code__icontains=text)
            | Q(team_order__code__icontains=text)
            | Q(team_order__club__name__icontains=text)
        )


class QuoteTable(tables.Table):  # type: ignore[misc]  # untyped base
    label = "Quotes"
    code = tables.Column("Quote", linkify=True, attrs={"td": {"class": "code"}})
    team_order = tables.Column(
        "Order", accessor="team_order__code", order_by=("team_order__code", "pk"), linkify=True
    )
    club = tables.Column(
        "For", accessor="team_order__club__name", order_by=("team_order__club__name", "pk")
    )
    quoted_on = tables.DateColumn(format="j M Y", verbose_name="Of", order_by=("quoted_on", "pk"))
    valid_until = tables.DateColumn(
        format="j M Y", verbose_name="Good until", order_by=("valid_until", "pk")
    )
    prices = tables.Column("One jacket", empty_values=(), orderable=False)
    state = tables.Column(order_by=("state", "pk"))

    class Meta:
        model = Quote
        fields = ("code", "team_order", "club", "quoted_on", "valid_until", "prices", "state")
        attrs = {"class": "table"}
        order_by = ("-code",)
        empty_text = "No quote fits."

    def render_prices(self, record: Quote) -> str:
        return span_of_prices(record)

    def render_state(self, record: Quote) -> SafeString:
        return format_html(
            '<span class="tag tag-{}">{}</span>', record.state, record.get_state_display()
        )

    def value_state(self, record: Quote) -> str:
        return record.get_state_display()


def span_of_prices(quote: Quote) -> str:
    """From the lowest to the highest price of one jacket, by the two small values that the list
    reads of the figures: '79.45 to 99.63 EUR'."""
    told: Any = vars(quote)
    first, last = Decimal(told["first_price"]), Decimal(told["last_price"])
    low, high = sorted((first, last))
    words = amount_words(high, quote.currency)
    return words if low == high else f"{low} to {words}"
