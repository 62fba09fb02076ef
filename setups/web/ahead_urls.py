"""Addresses of the looks ahead, below /api/."""

from __future__ import annotations

from django.urls import URLPattern, path

from setups.web.ahead_views import CardAheadView
from setups.web.record_views import AnyAccept

card = CardAheadView.as_view
ahead_urls: list[URLPattern] = [
    path("cards/<int:pk>/suits/", card({"post": "suits"}), name="card-suits"),
    path("cards/<int:pk>/window/", card({"post": "window"}), name="card-window"),
    path("cards/<int:pk>/cases/", card({"post": "cases"}), name="card-cases"),
    path("cards/<int:pk>/ride/", card({"post": "ride"}), name="card-ride"),
    path("cards/<int:pk>/attitude/", card({"post": "attitude"}), name="card-attitude"),
    path("cards/<int:pk>/sure/", card({"get": "sure"}), name="card-sure"),
    path("cards/<int:pk>/draft/", card({"get": "draft"}), name="card-draft"),
    path(
        "cards/<int:pk>/ladder/<str:end>.pdf",
        card({"get": "ladder"}, content_negotiation_class=AnyAccept),
        name="card-ladder",
    ),
]
