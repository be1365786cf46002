"""The addresses of the members' pages; none of them needs a log-in."""

from __future__ import annotations

from django.urls import path

from orders import member_views

app_name = "members"
urlpatterns = [
    path("join/", member_views.join, name="join"),
    path("m/<str:token>/", member_views.form, name="form"),
    path("mine/<str:token>/", member_views.mine, name="mine"),
    path("mine/<str:token>/ordered/", member_views.ordered, name="ordered"),
    path("mine/<str:token>/export/", member_views.export, name="export"),
]
