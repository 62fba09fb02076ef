"""Addresses of the stateless calculations, below /api/calc/."""

from __future__ import annotations

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
