"""The addresses of keeping an order: preview, states, links, poster, repeat, calendar."""

from __future__ import annotations

from django.urls import path

from orders import keeping_views

app_name = "keeping"
urlpatterns = [
    path("calendar/", keeping_views.calendar, name="calendar"),
    path("calendar.ics", keeping_views.calendar_file, name="calendar_file"),
    path("orders/<str:code>/preview/", keeping_views.preview, name="preview"),
    path("orders/<str:code>/move/", keeping_views.move, name="move"),
    path("orders/<str:code>/cancel/", keeping_views.cancel, name="cancel"),
    path("orders/<str:code>/repeat/", keeping_views.repeat, name="repeat"),
    path("orders/<str:code>/poster/", keeping_views.poster, name="poster"),
    path("orders/<str:code>/jackets/<int:pk>/link/", keeping_views.own_link, name="own_link"),
    path("orders/<str:code>/links/<str:kind>/give/", keeping_views.give_link, name="give_link"),
    path(
        "orders/<str:code>/links/<str:kind>/revoke/", keeping_views.revoke_link, name="revoke_link"
    ),
]
