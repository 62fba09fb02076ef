"""Addresses of shops' part of the API, below /api/."""

from __future__ import annotations

from django.urls import path
from rest_framework.routers import SimpleRouter

from shops.web import session_views, tablet_views, views

router = SimpleRouter(use_regex_path=False)
router.register("shops", views.ShopsView, "shop")
router.register("people", views.PeopleView, "person")
router.register("tablets", tablet_views.TabletsView, "tablet")
router.register("tools", views.ToolsView, "tool")
router.register("springs", views.SpringsView, "spring")
router.register("trail", views.TrailView, "trail")

urlpatterns = [
    path("session/", session_views.SessionView.as_view(), name="session"),
    path("session/full/", session_views.SessionFullView.as_view(), name="session-full"),
    path("session/units/", session_views.SessionUnitsView.as_view(), name="session-units"),
    path("session/password/", session_views.SessionPasswordView.as_view(), name="session-password"),
    path("session/pin/", tablet_views.PinView.as_view(), name="session-pin"),
    path("tablet/", tablet_views.TabletHereView.as_view(), name="tablet-here"),
    path("tablet/hands/", tablet_views.TabletHandsView.as_view(), name="tablet-hands"),
    *router.urls,
]
