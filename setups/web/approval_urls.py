"""Addresses of what is decided on a card, below /api/."""

from __future__ import annotations

from django.urls import URLPattern, path

from setups.web import approval_views as views

overrides = views.CardOverridesView.as_view
approval_urls: list[URLPattern] = [
    path("cards/<int:pk>/overrides/", overrides({"post": "override"}), name="card-override"),
]
