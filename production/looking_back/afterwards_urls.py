"""The address of planned against actual."""

from __future__ import annotations

from django.urls import path

from production.looking_back import afterwards_views as views

urlpatterns = [
    path("runs/<str:code>/afterwards/", views.run_afterwards, name="run_afterwards"),
]
