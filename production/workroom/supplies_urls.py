"""Addresses of what is bought beside cloth."""

from __future__ import annotations

from django.urls import path

from production.workroom import supplies_views as views

urlpatterns = [
    path("supplies/", views.supplies, name="supplies"),
    path("supplies/new/zippers/", views.new_zippers, name="new_zippers"),
    path("supplies/zippers/<str:color>/", views.zippers, name="zippers"),
    path("supplies/new/<str:kind>/", views.new_supply, name="new_supply"),
    path("supplies/<str:kind>/<str:key>/", views.supply, name="supply"),
    path("supplies/<str:kind>/<str:key>/delete/", views.delete_supply, name="delete_supply"),
]
