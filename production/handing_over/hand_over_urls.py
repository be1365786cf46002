"""Addresses of the room handing_over."""

from __future__ import annotations

from django.urls import URLPattern, path

from production.handing_over import hand_over_paper, hand_over_views

urlpatterns: list[URLPattern] = [
    path("orders/<str:code>/hand-over/", hand_over_views.hand_over, name="hand_over"),
    path("deliveries/<str:code>/<int:number>/", hand_over_views.delivery, name="delivery"),
    path("orders/<str:code>/label-duties/", hand_over_views.order_duties, name="order_duties"),
    path("runs/<str:code>/label-duties/", hand_over_views.run_duties, name="run_duties"),
    path(
        "orders/<str:code>/packing-list.pdf", hand_over_paper.packing_list_pdf, name="packing_list"
    ),
    path(
        "orders/<str:code>/parcel-labels.pdf",
        hand_over_paper.parcel_labels_pdf,
        name="parcel_labels",
    ),
    path("orders/<str:code>/care-cards.pdf", hand_over_paper.care_cards_pdf, name="care_cards"),
]
