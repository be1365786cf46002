"""Addresses of the table, of the looking over, and of its points."""

from __future__ import annotations

from django.urls import URLPattern, path

from production.stages import stage_views as views

urlpatterns: list[URLPattern] = [
    path("j/<str:code>/table/", views.tick_blocks, name="tick_blocks"),
    path("j/<str:code>/looked-over/", views.looked_over, name="looked_over"),
    path("j/<str:code>/faults/", views.faults, name="faults"),
    path("workroom/check-points/", views.check_points, name="check_points"),
    path("workroom/check-points/usual/", views.shipped_check_points, name="shipped_check_points"),
]
