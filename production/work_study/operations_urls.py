"""Addresses of the operations, and of a run's minutes."""

from __future__ import annotations

from django.urls import path

from production.work_study import minutes_views
from production.work_study import operations_views as views

urlpatterns = [
    path("operations/", views.operations, name="operations"),
    path("new-operation/", views.new_operation, name="new_operation"),
    path("operations/<str:code>/", views.operation, name="operation"),
    path("operations/<str:code>/edit/", views.edit_operation, name="edit_operation"),
    path("operations/<str:code>/remove/", views.remove, name="remove_operation"),
    path("runs/<str:code>/minutes/", minutes_views.run_minutes, name="run_minutes"),
]
