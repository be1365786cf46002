"""Addresses of the room glance."""

from __future__ import annotations

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
