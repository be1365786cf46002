"""Addresses of the table pages: a lay on the screen, set by hand, and at full size."""

from __future__ import annotations

from django.urls import URLPattern, path

from production.cutting import table_views

urlpatterns: list[URLPattern] = [
    path("runs/<str:code>/lays/<str:lay>/", table_views.lay_page, name="lay"),
    path("runs/<str:code>/lays/<str:lay>/save/", table_views.save_lay, name="save_lay"),
    path("runs/<str:code>/lays/<str:lay>/nest/", table_views.nest_lay, name="nest_lay"),
    path("runs/<str:code>/lays/<str:lay>/full.<str:kind>", table_views.full_lay, name="full_lay"),
]
