"""Addresses of the room history."""

from __future__ import annotations

from django.urls import URLPattern, path

from production.history import history_views, minutes_views

urlpatterns: list[URLPattern] = [
    path("history/", history_views.history, name="history"),
    path("history/days/", history_views.days, name="history_days"),
    path("history/minutes/", minutes_views.minutes, name="history_minutes"),
    path(
        "history/minutes/<str:stage>/take-over/", minutes_views.take_over, name="take_over_minutes"
    ),
]
