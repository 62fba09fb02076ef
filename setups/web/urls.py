"""Addresses of the job cards, below /api/."""

from __future__ import annotations

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
