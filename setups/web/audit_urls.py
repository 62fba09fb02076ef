"""Addresses of the audit, below /api/."""

from __future__ import annotations

from django.urls import URLPattern, path

from setups.web.audit_views import AuditView
from setups.web.lists import AnyAccept
from setups.web.pdfs_views import PdfsView

audit_urls: list[URLPattern] = [
    path("audit/chain/", AuditView.as_view({"get": "chain"}), name="audit-chain"),
    path(
        "audit/pdfs/",
        PdfsView.as_view({"get": "make", "post": "give_out"}, content_negotiation_class=AnyAccept),
        name="audit-pdfs",
    ),
    path("audit/<str:about>/", AuditView.as_view({"get": "list"}), name="audit-list"),
    path(
        "audit/<str:about>/file/",
        AuditView.as_view({"post": "give_out"}, content_negotiation_class=AnyAccept),
        name="audit-file",
    ),
]
