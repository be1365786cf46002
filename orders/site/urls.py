"""The addresses of the site: each app keeps its own."""

from __future__ import annotations

from django.contrib.auth.views import LoginView, LogoutView
from django.urls import include, path

from orders.views import home

urlpatterns = [
    path("", home, name="home"),
    path("log-in/", LoginView.as_view(template_name="log_in.html"), name="login"),
    path("log-out/", LogoutView.as_view(), name="logout"),
    path("", include("orders.member_urls")),
    path("", include("orders.coordinator_urls")),
    path("", include("orders.keeping_urls")),
    path("", include("orders.money_urls")),
    path("", include("production.changing.change_urls")),
    path("", include("production.members.privacy_urls")),
    path("", include("production.urls")),
    path("", include("orders.urls")),
    path("", include("patterns.urls")),
]
