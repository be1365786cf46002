"""Addresses of the shopping list, the purchases and the shelf."""

from __future__ import annotations

from django.urls import path

from production.buying import purchase_views, shopping_views
from production.stock import shelf_views

urlpatterns = [
    path("runs/<str:code>/shopping/", shopping_views.shopping, name="shopping"),
    path("runs/<str:code>/shopping/order/", shopping_views.order, name="order_goods"),
    path("runs/<str:code>/shopping/cloth/", shopping_views.lay_on_hand, name="lay_on_hand"),
    path("runs/<str:code>/shopping-list.pdf", shopping_views.shopping_pdf, name="shopping_pdf"),
    path("runs/<str:code>/shopping-list.xlsx", shopping_views.shopping_xlsx, name="shopping_xlsx"),
    path("runs/<str:code>/shelf/", shelf_views.run_shelf, name="run_shelf"),
    path("runs/<str:code>/shelf/take/", shelf_views.take_all, name="take_for_run"),
    path("runs/<str:code>/shelf/bring-back/", shelf_views.bring_back, name="bring_back"),
    path("purchases/", purchase_views.purchase_list, name="purchases"),
    path("purchases/<str:code>/", purchase_views.purchase, name="purchase"),
    path("purchases/<str:code>/close/", purchase_views.close, name="close_purchase"),
    path("shelf/", shelf_views.shelf, name="shelf"),
    path("shelf/<str:key>/", shelf_views.ware, name="ware"),
    path("shelf/<str:key>/count/", shelf_views.count_ware, name="count_ware"),
    path("shelf/<str:key>/take/", shelf_views.take_ware, name="take_ware"),
]
