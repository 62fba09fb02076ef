"""Every address of the service."""

from __future__ import annotations

from django.urls import include, path

from calc.web.views import UnitsView
from shops.site import catalogue, pages
from shops.web.described import Described
from shops.web.permissions import SignedIn

urlpatterns = [
    path("", pages.client, name="client"),
    path("record", pages.record, name="record"),
    path("pack/<slug:page>.<slug:digest>.<slug:kind>", pages.packed, name="packed"),
    path("worker.js", pages.worker, name="worker"),
    path("words/<str:name>.json", catalogue.catalogue, name="words"),
    path("healthz", pages.health, name="health"),
    path("api/units/", UnitsView.as_view(), name="units"),
    path("api/calc/", include("calc.web.urls")),
    path("api/", include("shops.web.urls")),
    path("api/", include("setups.web.urls")),
    path("api/schema/", Described.as_view(permission_classes=[SignedIn]), name="schema"),
]

handler400 = pages.bad_request
handler403 = pages.not_allowed
handler404 = pages.not_found
handler500 = pages.failed
