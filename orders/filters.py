"""Narrowing the order lists down."""

from __future__ import annotations

from typing import Any

import django_filters
from django.db.models import Exists, OuterRef, Q, QuerySet

from orders.models import Club, JacketOrder, TeamOrder
from patterns.models import PatternSize


class TeamOrderFilter(django_filters.FilterSet):  # type: ignore[misc]  # django-filter is untyped
    text = django_filters.CharFilter(method="with_text", label="Code, club, title or member")
    club = django_filters.ModelChoiceFilter(queryset=Club.objects.all(), empty_label="all")
    state = django_filters.ChoiceFilter(choices=TeamOrder.State.choices, empty_label="all")

    class Meta:
        model = TeamOrder
        fields = ("text", "club", "state")

    def with_text(self, rows: QuerySet[TeamOrder], name: str, value: str) -> QuerySet[TeamOrder]:
        # A subquery, since a join would count a jacket once for each member found.
        members = JacketOrder.objects.filter(team_order=OuterRef("pk"), member__icontains=value)
        return rows.filter(
            Q(code__icontains=value)
            | Q(title__icontains=value)
            | Q(club__name__icontains=value)
            | Exists(members)
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
            Q(member__icontains=value)
            | Q(name_on_jacket__icontains=value)
            | Q(note__icontains=value)
        )
