"""Addresses of what is decided on a card, below /api/."""

from __future__ import annotations

from django.urls import URLPattern, path

from setups.web import approval_views as views

card = views.CardApprovalView.as_view
approval_urls: list[URLPattern] = [
    path("cards/<int:pk>/overrides/", card({"post": "override"}), name="card-override"),
    path("cards/<int:pk>/estimate/", card({"put": "write"}), name="estimate-write"),
    path("cards/<int:pk>/estimate/asks/", card({"post": "ask"}), name="estimate-ask"),
    path("cards/<int:pk>/estimate/asks/<int:lid>/revoke/", card({"post": "revoke"}), name="estimate-revoke"),
    path("estimate/open/", views.OpenEstimateView.as_view(), name="estimate-open"),
    path("estimate/answer/", views.AnswerEstimateView.as_view(), name="estimate-answer"),
]
