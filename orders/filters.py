"""Narrowing the order lists down."""

from __future__ import annotations

import re
from typing import Any

import django_filters
from django.db.models import Exists, OuterRef, Q, QuerySet

from orders.lines import one_line
from orders.models import Club, Expected, JacketOrder, TeamOrder
from patterns.models import PatternSize


def _with(field: str, text: str) -> Q:
    # `icontains` folds ASCII letters only on SQLite; `iregex` finds Ødegård by ødegård on both.
    return Q(**{f"{field}__iregex": re.escape(one_line(text))})


class TeamOrderFilter(django_filters.FilterSet):  # type: ignore[misc]  # django-filter is untyped
    text = django_filters.CharFilter(method="with_text", label="Code, club, title or member")
    club = django_filters.ModelChoiceFilter(queryset=Club.objects.all(), empty_label="all")
    state = django_filters.ChoiceFilter(choices=TeamOrder.State.choices, empty_label="all")

    class Meta:
        model = TeamOrder
        fields = ("text", "club", "state")

    def with_text(self, rows: QuerySet[TeamOrder], name: str, value: str) -> QuerySet[TeamOrder]:
        # A subquery, since a join would count a jacket once for each member found.
        of_order = {"team_order": OuterRef("pk")}
        return rows.filter(
            _with("code", value)
            | _with("title", value)
            | _with("club__name", value)
            | Exists(JacketOrder.objects.filter(_with("member", value), **of_order))
            | Exists(Expected.objects.filter(_with("name", value), **of_order))
        )


class JacketOrderFilter(django_filters.FilterSet):  # type: ignore[misc]
    text = django_filters.CharFilter(method="with_text", label="Member, name or note")
    size = django_filters.ModelChoiceFilter(queryset=None, empty_label="all")
    colorway = django_filters.ModelChoiceFilter(queryset=None, empty_label="all")

    class Meta:
        model = JacketOrder
        fields = ("text", "size", "colorway")

    def __init__(self, *args: Any, team_order: TeamOrder, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.filters["size"].queryset = PatternSize.objects.filter(
            jacket_orders__team_order=team_order
        ).distinct()
        self.filters["colorway"].queryset = team_order.colorways.all()

    def with_text(
        self, rows: QuerySet[JacketOrder], name: str, value: str
    ) -> QuerySet[JacketOrder]:
        return rows.filter(
            _with("member", value) | _with("name_on_jacket", value) | _with("note", value)
        )
