"""Addresses of setups' part of the API, below /api/."""

from __future__ import annotations

from rest_framework.routers import SimpleRouter

from setups.web import card_views, views
from setups.web.ahead_urls import ahead_urls
from setups.web.approval_urls import approval_urls
from setups.web.audit_urls import audit_urls
from setups.web.data_urls import data_urls
from setups.web.follow_views import follow_urls
from setups.web.learned_urls import learned_urls
from setups.web.photo_views import photo_urls
from setups.web.record_urls import record_urls

router = SimpleRouter(use_regex_path=False)
router.register("customers", views.CustomersView, "customer")
router.register("riders", views.RidersView, "rider")
router.register("kinds", views.KindsView, "kind")
router.register("bikes", views.BikesView, "bike")
router.register("cards", card_views.CardsView, "card")

urlpatterns = [
    *record_urls, *approval_urls, *photo_urls, *ahead_urls, *data_urls, *learned_urls, *audit_urls,
    *follow_urls, *router.urls,
]  # fmt: skip
