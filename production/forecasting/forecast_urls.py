"""Addresses of the room forecasting."""

from __future__ import annotations

from django.urls import URLPattern, path

from production.forecasting import forecast_views as views

urlpatterns: list[URLPattern] = [
    path("runs/<str:code>/forecast/", views.forecast, name="forecast"),
    path("runs/<str:code>/forecast/helps/", views.helps, name="forecast_helps"),
    path("runs/<str:code>/forecast/keep/", views.keep, name="keep_forecast"),
    path("orders/<str:code>/ahead/", views.order_ahead, name="order_ahead"),
]
