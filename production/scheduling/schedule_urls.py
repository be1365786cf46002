"""Addresses of the room scheduling."""

from __future__ import annotations

from django.urls import URLPattern, path

from production.scheduling import schedule_views as views

urlpatterns: list[URLPattern] = [path("today/", views.today, name="today")]
