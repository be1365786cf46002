"""The addresses of the coordinator's pages; the token in them is the key."""

from __future__ import annotations

from django.urls import path

from orders import coordinator_views as views

app_name = "coordinator"
urlpatterns = [
    path("c/<str:token>/", views.order, name="order"),
    path("c/<str:token>/names/", views.add_names, name="add_names"),
    path("c/<str:token>/names/<int:pk>/remove/", views.remove_name, name="remove_name"),
    path("c/<str:token>/jackets/new/", views.add_jacket, name="add_jacket"),
    path("c/<str:token>/jackets/<int:pk>/", views.edit_jacket, name="edit_jacket"),
    path("c/<str:token>/jackets/<int:pk>/remove/", views.remove_jacket, name="remove_jacket"),
    path("c/<str:token>/jackets/<int:pk>/link/", views.own_link, name="own_link"),
    path("c/<str:token>/reminder/", views.mail_reminder, name="mail_reminder"),
    path("c/<str:token>/approve/", views.approve, name="approve"),
    path("c/<str:token>/roster/", views.roster, name="roster"),
    path("c/<str:token>/roster/<str:file>", views.roster_file, name="roster_file"),
]
