"""Members' data, receipts, and what search engines are told."""

from __future__ import annotations

from django.urls import path

from production.members import privacy_views, receipts

app_name = "privacy"
urlpatterns = [
    path("robots.txt", privacy_views.robots, name="robots"),
    path("orders/<str:code>/privacy/", privacy_views.privacy, name="privacy"),
    path("orders/<str:code>/privacy/erase/", privacy_views.erase_all, name="erase_all"),
    path("orders/<str:code>/privacy/<int:pk>/export.json", privacy_views.export, name="export"),
    path("orders/<str:code>/privacy/<int:pk>/erase/", privacy_views.erase_one, name="erase_one"),
    path("orders/<str:code>/receipts/<str:receipt>.pdf", receipts.receipt_pdf, name="receipt"),
]
