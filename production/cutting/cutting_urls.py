"""Addresses of the cutting pages."""

from __future__ import annotations

from django.urls import URLPattern, path

from production.cutting import cutting_views as views

urlpatterns: list[URLPattern] = [
    path("runs/<str:code>/cutting/", views.cutting, name="cutting"),
    path("runs/<str:code>/cutting/job/", views.job, name="cutting_job"),
    path("runs/<str:code>/cutting/look/", views.look, name="look_for_lays"),
    path("runs/<str:code>/cutting/stop/", views.stop, name="stop_looking"),
    path("runs/<str:code>/cutting/use/", views.use_for_run, name="use_for_run"),
    path("runs/<str:code>/cutting/<str:ticket>/use/", views.use, name="use_lays"),
    path("runs/<str:code>/cutting/<str:ticket>/<str:way>.svg", views.picture, name="lays_picture"),
]
