from __future__ import annotations

from django.urls import URLPattern

app_name = "money"
urlpatterns: list[URLPattern] = []
