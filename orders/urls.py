"""The order pages' addresses."""

from __future__ import annotations

from django.urls import path

from orders import colorway_views, jacket_views, roster_views, views

app_name = "orders"
urlpatterns = [
    path("new-order/", views.new_team_order, name="new_team_order"),
    path("new-order/code/", views.suggest_code, name="suggest_code"),
    path("deleted-orders/", views.deleted_orders, name="deleted_orders"),
    path("orders/<str:code>/", views.team_order, name="team_order"),
    path("orders/<str:code>/edit/", views.edit_team_order, name="edit_team_order"),
    path("orders/<str:code>/delete/", views.remove_team_order, name="delete_team_order"),
    path("orders/<str:code>/changes/", views.amendments, name="amendments"),
    path("orders/<str:code>/roster/", roster_views.roster, name="roster"),
    path("orders/<str:code>/roster/<str:file>", roster_views.roster_file, name="roster_file"),
    path("orders/<str:code>/colorways/new/", colorway_views.new_colorway, name="new_colorway"),
    path(
        "orders/<str:code>/colorways/<int:pk>/edit/",
        colorway_views.edit_colorway,
        name="edit_colorway",
    ),
    path(
        "orders/<str:code>/colorways/<int:pk>/delete/",
        colorway_views.remove_colorway,
        name="delete_colorway",
    ),
    path("orders/<str:code>/jackets/new/", jacket_views.new_jacket_order, name="new_jacket_order"),
    path("orders/<str:code>/jackets/<int:pk>/", jacket_views.jacket_order, name="jacket_order"),
    path(
        "orders/<str:code>/jackets/<int:pk>/edit/",
        jacket_views.edit_jacket_order,
        name="edit_jacket_order",
    ),
    path(
        "orders/<str:code>/jackets/<int:pk>/delete/",
        jacket_views.remove_jacket_order,
        name="delete_jacket_order",
    ),
]
