"""Addresses of the time studies."""

from __future__ import annotations

from django.urls import path

from production.work_study import time_study_views as views

urlpatterns = [
    path("time-studies/", views.time_studies_page, name="time_studies"),
    path("time-studies/begin/", views.begin, name="begin_time_study"),
    path("time-studies/<int:number>/", views.time_study, name="time_study"),
    path("time-studies/<int:number>/readings/", views.take_reading, name="take_reading"),
    path(
        "time-studies/<int:number>/readings/<int:reading>/", views.mark_reading, name="mark_reading"
    ),
    path("time-studies/<int:number>/accept/", views.accept, name="accept_time_study"),
    path("time-studies/<int:number>/drop/", views.drop, name="drop_time_study"),
]
