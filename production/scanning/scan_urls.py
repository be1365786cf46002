"""Addresses of the room scanning."""

from __future__ import annotations

from django.urls import path

from production.scanning import scan_views, tap_views

urlpatterns = [
    path("taps/", tap_views.send_taps, name="taps"),
    path("scan/", scan_views.scan, name="scan"),
    path("scan/picture/", scan_views.read_picture, name="read_picture"),
    path("scan/offline/", scan_views.offline, name="scan_offline"),
    path("taps-worker.js", scan_views.worker, name="taps_worker"),
]
