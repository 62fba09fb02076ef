"""Shared tablets: enrolled and revoked, taken over by a PIN."""

from __future__ import annotations

from typing import Any, ClassVar

from django.contrib import auth
from django.utils.translation import gettext as _
from drf_spectacular.utils import extend_schema
from rest_framework import status
from rest_framework.decorators import action
from rest_framework.exceptions import PermissionDenied
from rest_framework.permissions import AllowAny
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from shops import hands, pins, tablets
from shops.keys import Tablet
from shops.refusals import blocked
from shops.web import serializers as shapes
from shops.web.base import RowsView, actor_of, checked
from shops.web.permissions import EVERYBODY, MANAGERS, FullSignIn, SignedIn
from shops.web.session_views import confirmed_password, session_answer
from shops.web.sign_in import CookieAuthentication
from shops.web.tablet_cookie import give, tablet_here

BY_PIN = "shops.sign_in.PinBackend"


class TabletsView(RowsView):
    """The tablets that people of a shop share."""

    model = Tablet
    serializer_class = shapes.TabletAnswer
    related = ("shop", "enrolled_by")
    roles: ClassVar = {"list": MANAGERS, "create": EVERYBODY, "revoke": MANAGERS}
    full = frozenset({"create", "revoke"})
    # Its answer carries the tablet's token, in a cookie.
    keeps_no_reply = frozenset({"create"})

    def list(self, request: Request) -> Response:
        """List the enrolled tablets by name."""
        return self.answer_page(self.get_queryset().filter(revoked_at=None))

    @extend_schema(request=shapes.TabletBody, responses={201: shapes.TabletAnswer})
    def create(self, request: Request) -> Response:
        """Enrol the device that asks as a tablet of one's own shop."""
        here = tablet_here(request)
        if here is not None:
            text = _("This device is enrolled already, as {name}: a manager revokes that first.").format(name=here.name)
            raise blocked("enrolled_already", text)
        tablet, token = tablets.enrol(self.actor(), **self.body(shapes.TabletBody))
        hands.put_on_tablet(request._request.session, tablet.pk)
        response = self.answer(tablet, status.HTTP_201_CREATED)
        give(response, token)
        return response

    @extend_schema(request=None, responses={200: shapes.TabletAnswer})
    @action(detail=True, methods=["post"])
    def revoke(self, request: Request, pk: int) -> Response:
        """Revoke a tablet at once: whoever is signed in on it is signed out."""
        return self.answer(tablets.revoke(self.actor(), self.get_object()))


class TabletHereView(APIView):
    """The device that asks, before anybody is signed in on it."""

    permission_classes = (AllowAny,)

    @extend_schema(operation_id="tablet_show", responses=shapes.TabletHereAnswer)
    def get(self, request: Request) -> Response:
        """Tell whether the device is an enrolled tablet, and who may take it over."""
        tablet = tablet_here(request)
        people = [] if tablet is None else pins.holders(tablet)
        return Response(shapes.TabletHereAnswer({"tablet": tablet, "people": people}).data)


class TabletHandsView(APIView):
    """Changing hands."""

    permission_classes = (AllowAny,)

    @extend_schema(
        operation_id="tablet_take_over",
        request=shapes.TakeOverBody,
        responses={200: shapes.SessionAnswer, 403: shapes.ProblemsAnswer},
    )
    def post(self, request: Request) -> Response:
        """Take over the tablet by a PIN; whoever had it is signed out."""
        CookieAuthentication().enforce_csrf(request)
        body = checked(shapes.TakeOverBody, request.data, request=request)
        tablet = tablet_here(request)
        if tablet is None:
            raise PermissionDenied(_("This device is not enrolled: sign in with the password."), "not_enrolled")
        person = pins.hand_over(tablet, body["person"], body["pin"], request.META.get("REMOTE_ADDR") or None)
        auth.logout(request._request)
        auth.login(request._request, person, backend=BY_PIN)
        hands.put_on_tablet(request._request.session, tablet.pk)
        return session_answer(request, person)


class PinView(APIView):
    """The signed-in person's own PIN."""

    permission_classes = (SignedIn, FullSignIn)

    @extend_schema(operation_id="set_pin", request=shapes.PinBody, responses={204: None, 429: shapes.ProblemsAnswer})
    def put(self, request: Request) -> Response:
        """Set one's own PIN; the password confirms it."""
        body: Any = checked(shapes.PinBody, request.data, request=request)
        pins.check(body["pin"])
        confirmed_password(request, body["password"])
        pins.give(actor_of(request), body["pin"])
        return Response(status=status.HTTP_204_NO_CONTENT)

    @extend_schema(operation_id="remove_pin", request=None, responses={204: None})
    def delete(self, request: Request) -> Response:
        """Take one's own PIN away."""
        actor = actor_of(request)
        pins.take_away(actor, actor.person)
        return Response(status=status.HTTP_204_NO_CONTENT)
