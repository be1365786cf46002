from django.urls import path

from patterns import views

app_name = "patterns"
urlpatterns = [
    path("blockings/", views.blockings, name="blockings"),
    path("blockings/<slug:code>/", views.blocking, name="blocking"),
]
