"""Who is signed in: in and out, the full sign-in, one's own units, language and password."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.contrib import auth
from django.middleware.csrf import get_token
from django.utils.translation import gettext as _
from drf_spectacular.utils import extend_schema
from rest_framework import status
from rest_framework.exceptions import APIException
from rest_framework.permissions import AllowAny
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from shops import hands, language, pins, second_factor, trail, verbs
from shops.models import Person
from shops.refusals import wrong
from shops.sign_in import LOCKED, LOCKED_ADDRESS, LOCKED_CODE, lock
from shops.trail import Actor
from shops.web import serializers as shapes
from shops.web.base import actor_of, checked, person_of
from shops.web.permissions import SignedIn
from shops.web.sign_in import CookieAuthentication
from shops.web.tablet_cookie import tablet_here
from shops.web.throttle import WrongSignIns


def session_answer(request: Request, person: Person | None) -> Response:
    """Return the answer that says who is signed in, and speak to them in their language from here on."""
    if person is not None:
        language.speak_to(person)
    body = {
        "person": person,
        "full": hands.is_full(request._request.session),
        "tablet": tablet_here(request),
        "lock_after_s": settings.IDLE_S,
        "language": language.here(),
    }
    return Response(shapes.SessionAnswer(body).data)


def enter(request: Request, person: Person) -> None:
    """Begin a session of `person`, who has shown the password: a full one, under a key of its own."""
    auth.login(request._request, person, backend=hands.BY_PASSWORD)
    fully_known(request, person)
    trail.record(Actor(person, request.META.get("REMOTE_ADDR") or None), "sign in", person, None, None)


def fully_known(request: Request, person: Person) -> None:
    """Note what follows from a full sign-in: on a tablet it locks when left alone, and counted PINs begin anew."""
    tablet = tablet_here(request)
    if tablet is not None:
        hands.put_on_tablet(request._request.session, tablet.pk)
    pins.let_try_again(person, None if tablet is None else tablet.pk)


class TooManyTries(APIException):
    """One try too many."""

    status_code = status.HTTP_429_TOO_MANY_REQUESTS
    default_code = "locked"
    default_detail = LOCKED


def confirmed_password(request: Request, password: str, field: str = "password") -> Person:
    """Return who is signed in if this is their password; refused otherwise, and counted as a sign-in would be."""
    person = auth.authenticate(request._request, username=person_of(request).email, password=password)
    if isinstance(person, Person):
        return person
    if getattr(request._request, "axes_locked_out", False):
        raise TooManyTries
    raise wrong(field, "wrong_password", _("That is not your password."))


def too_many(text: Any) -> Response:
    """Return the answer to one try too many, in the words of `text`."""
    return Response({"problems": [lock(text).as_dict()]}, status.HTTP_429_TOO_MANY_REQUESTS)


def ask_second_factor(request: Request, person: Person, code: str | None) -> None:
    """Let pass whoever has no second factor or sent its code; the password has been right already."""
    if not person.has_second_factor:
        return
    if code is None:
        raise wrong("second_factor", "code_needed", _("Type the six digits that your device shows now."))
    try:
        right = second_factor.is_right(person, code, request.META.get("REMOTE_ADDR") or None)
    except second_factor.TooManyCodes:
        raise TooManyTries(LOCKED_CODE) from None
    if not right:
        text = _("That is not the code of this moment; each one is taken once, so wait for the next.")
        raise wrong("second_factor", "wrong_code", text)


class SessionView(APIView):
    """Who is signed in; signing in and out."""

    permission_classes = (AllowAny,)

    @extend_schema(operation_id="session_show", responses=shapes.SessionAnswer)
    def get(self, request: Request) -> Response:
        """Tell who is signed in, and set the CSRF cookie that every change needs."""
        get_token(request)
        return session_answer(request, request.user if isinstance(request.user, Person) else None)

    @extend_schema(
        operation_id="sign_in",
        request=shapes.SignInBody,
        responses={200: shapes.SessionAnswer, 429: shapes.ProblemsAnswer},
    )
    def post(self, request: Request) -> Response:
        """Sign in by e-mail and password, and the second factor's code of whoever has one."""
        # DRF asks signed-in people only for the CSRF token; without this a foreign page could sign one in.
        CookieAuthentication().enforce_csrf(request)
        body = checked(shapes.SignInBody, request.data, request=request)
        wrong_ones = WrongSignIns()
        if not wrong_ones.allow_request(request, self):
            return too_many(LOCKED_ADDRESS)
        person = auth.authenticate(
            request._request, username=body["email"].strip().lower(), password=body["password"]
        )
        if not isinstance(person, Person):
            if getattr(request._request, "axes_locked_out", False):
                return too_many(LOCKED)
            raise wrong("", "wrong_sign_in", _("E-mail address or password is not right."))
        wrong_ones.was_right()
        ask_second_factor(request, person, body.get("second_factor"))
        enter(request, person)
        return session_answer(request, person)

    @extend_schema(operation_id="sign_out", request=None, responses={204: None})
    def delete(self, request: Request) -> Response:
        """Sign out."""
        auth.logout(request._request)
        return Response(status=status.HTTP_204_NO_CONTENT)


class SessionFullView(APIView):
    """The full sign-in, where a session does not count as one."""

    permission_classes = (SignedIn,)

    @extend_schema(
        operation_id="sign_in_fully",
        request=shapes.FullBody,
        responses={200: shapes.SessionAnswer, 429: shapes.ProblemsAnswer},
    )
    def post(self, request: Request) -> Response:
        """Confirm the own password and second factor: for ten minutes the session counts as a full sign-in."""
        person = person_of(request)
        body = checked(shapes.FullBody, request.data, request=request)
        confirmed_password(request, body["password"])
        ask_second_factor(request, person, body.get("second_factor"))
        hands.confirm(request._request.session)
        fully_known(request, person)
        return session_answer(request, person)


class SessionUnitsView(APIView):
    """The units that the signed-in person sees."""

    permission_classes = (SignedIn,)

    @extend_schema(operation_id="choose_units", request=shapes.UnitsBody, responses=shapes.SessionAnswer)
    def patch(self, request: Request) -> Response:
        """Choose units; quantities left out stay."""
        body = checked(shapes.UnitsBody, request.data, request=request)
        return session_answer(request, verbs.choose_units(actor_of(request), body))


class SessionLanguageView(APIView):
    """The language that the signed-in person is spoken to in."""

    permission_classes = (SignedIn,)

    @extend_schema(operation_id="choose_language", request=shapes.LanguageBody, responses=shapes.SessionAnswer)
    def patch(self, request: Request) -> Response:
        """Choose a language; a blank one stands for the shop's."""
        body = checked(shapes.LanguageBody, request.data, request=request)
        return session_answer(request, verbs.choose_language(actor_of(request), body["language"]))


class SessionPasswordView(APIView):
    """The signed-in person's own password."""

    permission_classes = (SignedIn,)

    @extend_schema(
        operation_id="change_password",
        request=shapes.PasswordBody,
        responses={204: None, 429: shapes.ProblemsAnswer},
    )
    def post(self, request: Request) -> Response:
        """Change one's own password; all other sessions of the person end."""
        body = checked(shapes.PasswordBody, request.data, request=request)
        confirmed_password(request, body["current"], "current")
        person = verbs.change_own_password(actor_of(request), **body)
        auth.update_session_auth_hash(request._request, person)
        return Response(status=status.HTTP_204_NO_CONTENT)
