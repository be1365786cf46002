"""Narrowing the lists of runs and jackets."""

from __future__ import annotations

from typing import Any

import django_filters
from django.db.models import Q, QuerySet

from production.models import Jacket, Run, RunOrder
from production.queries import RUN_STATES


class RunFilter(django_filters.FilterSet):  # type: ignore[misc]  # untyped base
    text = django_filters.CharFilter(method="search", label="Run or club")
    state = django_filters.ChoiceFilter(
        choices=[(state, state) for state in RUN_STATES], label="State", empty_label="all"
    )

    class Meta:
        model = Run
        fields: list[str] = []

    def search(self, runs: QuerySet[Run], name: str, text: str) -> QuerySet[Run]:
        # By subquery: joining the orders here would multiply the counts of jackets.
        joined = RunOrder.objects.filter(
            Q(team_order__club__name__icontains=text) | Q(team_order__code__icontains=text)
        )
        return runs.filter(Q(code__icontains=text) | Q(pk__in=joined.values("run")))


class JacketFilter(django_filters.FilterSet):  # type: ignore[misc]  # untyped base
    text = django_filters.CharFilter(method="search", label="Code or member")
    stage = django_filters.ChoiceFilter(
        choices=Jacket.Stage.choices, label="Stands at", empty_label="all"
    )
    size = django_filters.ChoiceFilter(label="Size", empty_label="all")
    colorway = django_filters.ChoiceFilter(
        field_name="jacket_order__colorway__name", label="Colorway", empty_label="all"
    )
    mend = django_filters.ChoiceFilter(
        method="to_mend", choices=[("yes", "to mend")], label="Mends", empty_label="all"
    )

    class Meta:
        model = Jacket
        fields: list[str] = []

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        sizes = self.queryset.order_by("jacket_order__size__position").values_list("size")
        colorways = self.queryset.order_by("jacket_order__colorway__name").values_list(
            "jacket_order__colorway__name"
        )
        for name, rows in (("size", sizes), ("colorway", colorways)):
            values = dict.fromkeys(value for (value,) in rows)
            self.filters[name].extra["choices"] = [(value, value) for value in values]

    def search(self, jackets: QuerySet[Jacket], name: str, text: str) -> QuerySet[Jacket]:
        return jackets.filter(
            Q(code__icontains=text)
            | Q(jacket_order__member__icontains=text)
            | Q(jacket_order__name_on_jacket__icontains=text)
        )

    def to_mend(self, jackets: QuerySet[Jacket], name: str, value: str) -> QuerySet[Jacket]:
        return jackets.exclude(mend_reason="")
