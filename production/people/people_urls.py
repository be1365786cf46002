"""Addresses of the room people."""

from __future__ import annotations

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
