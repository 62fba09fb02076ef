"""Addresses of shops' part of the API, below /api/."""

from __future__ import annotations

from django.urls import path
from rest_framework.routers import SimpleRouter

from shops.web import business_views, joining_views, second_factor_views, session_views, tablet_views, views

router = SimpleRouter(use_regex_path=False)
router.register("shops", views.ShopsView, "shop")
router.register("people", views.PeopleView, "person")
router.register("invitations", joining_views.InvitationsView, "invitation")
router.register("tablets", tablet_views.TabletsView, "tablet")
router.register("tools", views.ToolsView, "tool")
router.register("springs", views.SpringsView, "spring")
router.register("trail", views.TrailView, "trail")

urlpatterns = [
    path("session/", session_views.SessionView.as_view(), name="session"),
    path("session/full/", session_views.SessionFullView.as_view(), name="session-full"),
    path("session/units/", session_views.SessionUnitsView.as_view(), name="session-units"),
    path("session/language/", session_views.SessionLanguageView.as_view(), name="session-language"),
    path("session/password/", session_views.SessionPasswordView.as_view(), name="session-password"),
    path("session/pin/", tablet_views.PinView.as_view(), name="session-pin"),
    path("session/second-factor/", second_factor_views.SecondFactorView.as_view(), name="second-factor"),
    path("session/second-factor/on/", second_factor_views.SecondFactorOnView.as_view(), name="second-factor-on"),
    path("session/second-factor/codes/", second_factor_views.RecoveryCodesView.as_view(), name="recovery-codes"),
    path("invitations/open/", joining_views.InvitationOpenView.as_view(), name="invitation-open"),
    path("invitations/accept/", joining_views.InvitationAcceptView.as_view(), name="invitation-accept"),
    path("recovery/", joining_views.RecoveryAskView.as_view(), name="recovery-ask"),
    path("recovery/use/", joining_views.RecoverView.as_view(), name="recovery-use"),
    path("tablet/", tablet_views.TabletHereView.as_view(), name="tablet-here"),
    path("tablet/hands/", tablet_views.TabletHandsView.as_view(), name="tablet-hands"),
    path("business/", business_views.BusinessView.as_view(), name="business"),
    path("business/currency/", business_views.BusinessCurrencyView.as_view(), name="business-currency"),
    *router.urls,
]
