"""Addresses of the room scheduling."""

from __future__ import annotations

from django.urls import URLPattern, path

from production.scheduling import schedule_views as views

urlpatterns: list[URLPattern] = [
    path("today/", views.today, name="today"),
    path("schedule/", views.schedule, name="schedule"),
    path("schedule/anew/", views.plan_anew, name="plan_anew"),
    path("schedule/earlier/", views.schedules, name="schedules"),
    path("schedule/earlier/<int:number>/", views.old_schedule, name="old_schedule"),
    path("schedule/hold/<str:code>/<str:stage>/", views.hold, name="hold"),
    path("schedule/lift/<int:number>/", views.lift_hold, name="lift_hold"),
]
