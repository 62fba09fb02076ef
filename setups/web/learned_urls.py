"""Addresses of learning from as built, below /api/."""

from __future__ import annotations

from django.urls import URLPattern, path

from setups.web import learned_views

card = learned_views.CardLearnedView.as_view
learned_urls: list[URLPattern] = [
    path("cards/<int:pk>/learned/", card({"get": "learned"}), name="card-learned"),
    path("cards/<int:pk>/corrections/", card({"post": "accept"}), name="card-correction"),
    path("cards/<int:pk>/corrections/withdraw/", card({"post": "withdraw"}), name="card-correction-back"),
]
