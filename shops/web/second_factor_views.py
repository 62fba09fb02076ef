"""One's own second factor: turned on in two steps, its recovery codes, turned off."""

from __future__ import annotations

from django.contrib import auth
from drf_spectacular.utils import extend_schema
from rest_framework import status
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from shops import second_factor
from shops.models import Person
from shops.web import serializers as shapes
from shops.web.base import actor_of, checked, person_of
from shops.web.permissions import FullSignIn, SignedIn
from shops.web.session_views import ask_second_factor, confirmed_password

BLOCKED = {409: shapes.ProblemsAnswer}


class SecondFactorView(APIView):
    """One's own second factor."""

    permission_classes = (SignedIn, FullSignIn)

    @extend_schema(operation_id="second_factor_show", responses=shapes.SecondFactorAnswer)
    def get(self, request: Request) -> Response:
        """Show whether a second factor is on, and how many recovery codes are left."""
        person = person_of(request)
        body = {
            "on": person.has_second_factor,
            "due": person.owes_second_factor,
            "codes_left": second_factor.codes_left(person),
        }
        return Response(shapes.SecondFactorAnswer(body).data)

    @extend_schema(
        operation_id="second_factor_begin",
        request=None,
        responses={201: shapes.SecondFactorKeyAnswer, **BLOCKED},
    )
    def post(self, request: Request) -> Response:
        """Make a key for one's device; nothing is asked for until a code of it has come back."""
        begun = second_factor.begin(actor_of(request))
        body = {"picture": second_factor.drawn(begun), "key": second_factor.typed_key(begun)}
        return Response(shapes.SecondFactorKeyAnswer(body).data, status.HTTP_201_CREATED)

    @extend_schema(
        operation_id="second_factor_turn_off",
        request=shapes.FullBody,
        responses={204: None, 429: shapes.ProblemsAnswer},
    )
    def delete(self, request: Request) -> Response:
        """Turn the second factor off: password and code confirm it."""
        body = checked(shapes.FullBody, request.data, request=request)
        person = confirmed_password(request, body["password"])
        ask_second_factor(request, person, body.get("second_factor"))
        actor = actor_of(request)
        second_factor.turn_off(actor, actor.person)
        return Response(status=status.HTTP_204_NO_CONTENT)


class SecondFactorOnView(APIView):
    """The first code, which turns the second factor on."""

    permission_classes = (SignedIn, FullSignIn)

    @extend_schema(
        operation_id="second_factor_turn_on",
        request=shapes.CodeBody,
        responses={200: shapes.RecoveryCodesAnswer, **BLOCKED},
    )
    def post(self, request: Request) -> Response:
        """Turn it on by the device's code; answers the recovery codes this once, and other sessions end."""
        body = checked(shapes.CodeBody, request.data, request=request)
        actor = actor_of(request)
        codes = second_factor.turn_on(actor, body["second_factor"])
        _keep_this_session(request, actor.person)
        return Response(shapes.RecoveryCodesAnswer({"recovery_codes": codes}).data)


class RecoveryCodesView(APIView):
    """New recovery codes."""

    permission_classes = (SignedIn, FullSignIn)

    @extend_schema(
        operation_id="second_factor_renew_codes",
        request=shapes.CodeBody,
        responses={200: shapes.RecoveryCodesAnswer, 429: shapes.ProblemsAnswer, **BLOCKED},
    )
    def post(self, request: Request) -> Response:
        """Replace the recovery codes; the device's code confirms it."""
        body = checked(shapes.CodeBody, request.data, request=request)
        actor = actor_of(request)
        ask_second_factor(request, actor.person, body["second_factor"])
        codes = second_factor.renew_codes(actor)
        return Response(shapes.RecoveryCodesAnswer({"recovery_codes": codes}).data)


def _keep_this_session(request: Request, person: Person) -> None:
    auth.update_session_auth_hash(request._request, person)
