"""Addresses of people, their days and the machines."""

from __future__ import annotations

from django.urls import URLPattern, path

from production.people import people_views as views

urlpatterns: list[URLPattern] = [
    path("workroom/people/", views.people, name="people"),
    path("workroom/people/new/", views.new_person, name="new_person"),
    path("workroom/people/<int:number>/", views.person, name="person"),
    path("workroom/people/<int:number>/leave/", views.leave, name="leave_person"),
    path("workroom/people/<int:number>/back/", views.come_back, name="take_back_person"),
    path("workroom/days-off/", views.days_off, name="days_off"),
    path("workroom/days-off/<int:number>/strike/", views.strike_days_off, name="strike_days_off"),
    path(
        "workroom/extra-hours/<int:number>/strike/",
        views.strike_extra_hours,
        name="strike_extra_hours",
    ),
    path("workroom/machines/", views.machines, name="machines"),
    path("workroom/machines/<int:number>/use/", views.use_machine, name="use_machine"),
    path("workroom/machines/<int:number>/strike/", views.strike_machine, name="strike_machine"),
]
