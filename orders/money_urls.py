"""The addresses of an order's money."""

from __future__ import annotations

from django.urls import path

from orders import money_views

app_name = "money"
urlpatterns = [
    path("orders/<str:code>/money/", money_views.money, name="money"),
    path("orders/<str:code>/money/price/", money_views.price, name="price"),
    path("orders/<str:code>/money/payments/", money_views.payments, name="payments"),
    path("orders/<str:code>/money/<int:pk>/discount/", money_views.discount, name="discount"),
]
