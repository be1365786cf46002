"""Addresses of the operation sheets."""

from __future__ import annotations

from django.urls import URLPattern, path

from production.sewing import sewing_views as views

urlpatterns: list[URLPattern] = [
    path("j/<str:code>/sewing/", views.sewing_sheet, name="sewing_sheet"),
    path("j/<str:code>/sewing.pdf", views.sewing_sheet_pdf, name="sewing_sheet_pdf"),
    path("runs/<str:code>/sewing-sheets.pdf", views.sewing_sheets_pdf, name="sewing_sheets_pdf"),
]
