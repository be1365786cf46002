"""Addresses of quotes."""

from __future__ import annotations

from django.urls import path

from production.quoting import quote_answer_views as answers
from production.quoting import quote_views as views

urlpatterns = [
    path("quotes/", views.quote_list, name="quotes"),
    path("quotes/new/", views.new_quote, name="new_quote"),
    path("quotes/<str:code>/", views.quote, name="quote"),
    path("quotes/<str:code>/edit/", views.edit, name="edit_quote"),
    path("quotes/<str:code>/take-over/", views.take_over, name="take_over_quote"),
    path("quotes/<str:code>/anew/", views.reckon_anew, name="reckon_quote_anew"),
    path("quotes/<str:code>/send/", views.send, name="send_quote"),
    path("quotes/<str:code>/drop/", views.drop, name="drop_quote"),
    path("quotes/<str:code>/accept/", answers.accept, name="accept_quote"),
    path("quotes/<str:code>/decline/", answers.decline, name="decline_quote"),
    path("quotes/<str:code>/quote.pdf", views.pdf, name="quote_pdf"),
]
