"""Addresses of the record's views, below /api/."""

from __future__ import annotations

from django.urls import URLPattern, path

from setups.web import record_views as views

card = views.CardRecordView.as_view
record_urls: list[URLPattern] = [
    path("cards/<int:pk>/seal/", card({"post": "seal"}), name="record-seal"),
    path("cards/<int:pk>/amendments/", card({"post": "amend"}), name="record-amend"),
    path("cards/<int:pk>/erasure/", card({"post": "erase"}), name="record-erase"),
    path("cards/<int:pk>/links/", card({"post": "share"}), name="record-share"),
    path("cards/<int:pk>/links/<int:lid>/revoke/", card({"post": "revoke"}), name="record-revoke"),
    path("cards/<int:pk>/record/", card({"get": "record"}), name="record-show"),
    path(
        "cards/<int:pk>/record.pdf",
        card({"get": "record_pdf"}, content_negotiation_class=views.AnyAccept),
        name="record-pdf",
    ),
    path("record/open/", views.OpenRecordView.as_view(), name="record-open"),
    path("record/pdf/", views.RecordPdfView.as_view(), name="record-open-pdf"),
    path("record/check/", views.CheckRecordView.as_view(), name="record-check"),
]
