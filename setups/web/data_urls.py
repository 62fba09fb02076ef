"""Addresses of the business's data in and out, below /api/."""

from __future__ import annotations

from django.urls import URLPattern, path

from setups.web.erasure import CustomerErasureView, ErasuresView
from setups.web.export import ExportView
from setups.web.lists import ListsView
from setups.web.shelf import ShelfView

lists = ListsView.as_view
data_urls: list[URLPattern] = [
    path("lists/<str:what>/", lists({"get": "give_out", "post": "take_in"}), name="lists"),
    path("lists/<str:what>/look/", lists({"post": "look"}), name="lists-look"),
    path("customers/<int:pk>/erasure/", CustomerErasureView.as_view({"post": "erase"}), name="customer-erase"),
    path("erasures/", ErasuresView.as_view({"get": "list"}), name="erasures"),
    path("cards/<int:pk>/shelf/", ShelfView.as_view({"get": "shelf"}), name="card-shelf"),
    path("export/", ExportView.as_view({"post": "export"}), name="export"),
]
