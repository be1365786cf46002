"""Addresses of the workroom's settings."""

from __future__ import annotations

from django.urls import path

from production.workroom import workroom_views as views

urlpatterns = [
    path("workroom/", views.workroom, name="workroom"),
    path("workroom/grain/", views.grain, name="workroom_grain"),
    path("workroom/fabrics/<str:code>/", views.fabric, name="workroom_fabric"),
]
