"""The list of cloth, and how it is narrowed."""

from __future__ import annotations

from typing import Any

import django_filters
import django_tables2 as tables
from django.db.models import Q, QuerySet
from django.utils.safestring import SafeString

from orders.templatetags.cloth import chip
from patterns.models import FabricColor
from production.models import StockLot
from production.planning.lengths import cloth_length, table_length
from production.tables import NUMBER


class ClothTable(tables.Table):  # type: ignore[misc]  # untyped base
    label = "Cloth"
    code = tables.Column("Bolt", linkify=True, attrs={"td": {"class": "code"}})
    fabric_color = tables.Column("Color", order_by=("fabric_color__name", "dye_lot", "code"))
    dye_lot = tables.Column("Dye lot", order_by=("dye_lot", "code"))
    free_mm = tables.Column("Free", attrs=NUMBER)
    planned_mm = tables.Column("Planned", attrs=NUMBER)
    left_mm = tables.Column("Left by the book", attrs=NUMBER)
    usable_width_mm = tables.Column("Width", attrs=NUMBER)
    flaw_count = tables.Column("Flaws", attrs=NUMBER)
    is_remnant = tables.Column("Kind")
    fabric = tables.Column("Fabric", accessor="fabric_color__fabric__name")
    received_on = tables.DateColumn(format="j M Y")

    class Meta:
        model = StockLot
        fields = (
            "code",
            "fabric_color",
            "dye_lot",
            "free_mm",
            "planned_mm",
            "left_mm",
            "usable_width_mm",
            "flaw_count",
            "is_remnant",
            "fabric",
            "received_on",
        )
        attrs = {"class": "table"}
        order_by = ("fabric_color", "code")
        empty_text = "No cloth fits."

    def __init__(self, *args: Any, unit: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.unit = unit

    def render_fabric_color(self, value: FabricColor) -> SafeString:
        return chip(value)

    def value_fabric_color(self, value: FabricColor) -> str:
        return value.name

    def render_free_mm(self, value: int) -> str:
        return cloth_length(value, self.unit)

    render_planned_mm = render_left_mm = render_free_mm

    def render_usable_width_mm(self, value: int) -> str:
        return table_length(value, self.unit, up=False)

    def render_is_remnant(self, value: bool) -> str:
        return "remnant" if value else "bolt"


class ClothFilter(django_filters.FilterSet):  # type: ignore[misc]  # untyped base
    text = django_filters.CharFilter(method="search", label="Bolt or dye lot")
    color = django_filters.ChoiceFilter(
        field_name="fabric_color__code", label="Color", empty_label="all"
    )
    kind = django_filters.ChoiceFilter(
        method="of_kind",
        choices=[("bolt", "bolts"), ("remnant", "remnants")],
        label="Kind",
        empty_label="all",
    )
    used_up = django_filters.ChoiceFilter(
        method="also_used_up",
        choices=[("yes", "also what is used up")],
        label="Show",
        empty_label="what is left",
    )

    class Meta:
        model = StockLot
        fields: list[str] = []

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        colors = self.queryset.order_by("fabric_color__name").values_list(
            "fabric_color__code", "fabric_color__name"
        )
        self.filters["color"].extra["choices"] = list(dict.fromkeys(colors))

    @property
    def qs(self) -> QuerySet[StockLot]:
        lots: QuerySet[StockLot] = super().qs
        wanted = self.form.cleaned_data.get("used_up") if self.form.is_valid() else ""
        return lots if wanted else lots.filter(left_mm__gt=0)  # type: ignore[misc]  # annotated

    def search(self, lots: QuerySet[StockLot], name: str, text: str) -> QuerySet[StockLot]:
        return lots.filter(Q(code__icontains=text) | Q(dye_lot__icontains=text))

    def of_kind(self, lots: QuerySet[StockLot], name: str, value: str) -> QuerySet[StockLot]:
        return lots.filter(is_remnant=value == "remnant")

    def also_used_up(self, lots: QuerySet[StockLot], name: str, value: str) -> QuerySet[StockLot]:
        return lots
