from __future__ import annotations

from django.urls import path

from production.changing import change_views as views

app_name = "changes"
urlpatterns = [
    path("orders/<str:order>/change-after-freeze/", views.of_order, name="of_order"),
    path("runs/<str:code>/change/", views.choose, name="choose"),
    path("runs/<str:code>/change/<str:jacket>/", views.change, name="change"),
    path("runs/<str:code>/change/<str:jacket>/cancel/", views.cancel, name="cancel"),
    path("runs/<str:code>/change/<str:jacket>/spare-parts/", views.take_spares, name="take_spares"),
    path("runs/<str:code>/add/<str:order>/", views.add, name="add"),
    path("runs/<str:code>/spare-parts/", views.spare_parts, name="spare_parts"),
    path("runs/<str:code>/supplements/<int:number>/", views.supplement, name="supplement"),
    path(
        "runs/<str:code>/supplements/<int:number>/tickets.pdf",
        views.supplement_pdf,
        name="supplement_pdf",
    ),
    path(
        "runs/<str:code>/supplements/<int:number>/tags.pdf",
        views.supplement_tags_pdf,
        name="supplement_tags_pdf",
    ),
]
