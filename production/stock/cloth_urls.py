"""Addresses of the cloth pages."""

from __future__ import annotations

from django.urls import path

from production.stock import cloth_views as views

urlpatterns = [
    path("cloth/", views.cloth_list, name="cloth"),
    path("cloth/receive/", views.receive, name="receive_cloth"),
    path("cloth/bolts/<str:code>/", views.stock_lot, name="stock_lot"),
    path("cloth/bolts/<str:code>/count/", views.count_lot, name="count_lot"),
    path("cloth/bolts/<str:code>/remnant/", views.set_aside, name="set_aside"),
    path("cloth/bolts/<str:code>/flaws/", views.add_flaw, name="add_flaw"),
    path("cloth/bolts/<str:code>/flaws/<int:pk>/remove/", views.remove_flaw, name="remove_flaw"),
    path("runs/<str:code>/tickets/<str:ticket>/lay-anew/", views.lay_anew, name="lay_anew"),
]
