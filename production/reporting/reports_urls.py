"""Addresses of the report pages: what was really cut, what is missing, and recuts."""

from __future__ import annotations

from django.urls import URLPattern, path

from production.reporting import reports_views as views

urlpatterns: list[URLPattern] = [
    path("runs/<str:code>/tickets/<str:ticket>/report/", views.ticket_report, name="ticket_report"),
    path("runs/<str:code>/lays/<str:lay>/report/", views.lay_report, name="lay_report"),
    path("runs/<str:code>/lays/<str:lay>/missing/", views.lay_missing, name="lay_missing"),
    path("runs/<str:code>/mark-cut/", views.mark_cut, name="mark_cut"),
    path("runs/<str:code>/missing/", views.missing, name="missing"),
    path("runs/<str:code>/missing/recut/", views.make_recut, name="make_recut"),
    path("runs/<str:code>/recuts/<int:number>/", views.recut, name="recut"),
    path("runs/<str:code>/recuts/<int:number>/tickets.pdf", views.recut_pdf, name="recut_pdf"),
    path("j/<str:code>/missing/", views.jacket_missing, name="jacket_missing"),
    path(
        "j/<str:code>/missing/<int:number>/take-back/",
        views.take_back_missing,
        name="take_back_missing",
    ),
]
