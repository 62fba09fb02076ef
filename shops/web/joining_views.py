"""Coming in for the first time, by an invitation, and again, with a new password."""

from __future__ import annotations

from typing import Any, ClassVar

from django.http import Http404
from drf_spectacular.utils import extend_schema
from rest_framework import status
from rest_framework.decorators import action
from rest_framework.permissions import AllowAny
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from shops import invitations, letters, mail, recoveries, tries
from shops.keys import Invitation
from shops.web import serializers as shapes
from shops.web.base import RowsView, checked
from shops.web.permissions import MANAGERS
from shops.web.session_views import enter, session_answer
from shops.web.sign_in import CookieAuthentication
from shops.web.throttle import AddressThrottle

LETTERS_AN_HOUR = 3
NOT_OPEN = {404: shapes.ProblemsAnswer, 429: shapes.ProblemsAnswer}


class SecretThrottle(AddressThrottle):
    """Slows down whoever tries the secrets of links."""

    scope = "link secret"
    rate = "30/min"


class AskThrottle(AddressThrottle):
    """Slows down whoever asks for new passwords."""

    scope = "new password"
    rate = "10/hour"


def link(request: Request, screen: str, secret: str) -> str:
    """Return the address of a screen of ours; its secret stands in the fragment, which no server sees."""
    return request.build_absolute_uri("/") + f"#/{screen}/{secret}"


class InvitationsView(RowsView):
    """Invitations that nobody has taken up."""

    model = Invitation
    serializer_class = shapes.InvitationAnswer
    related = ("shop__business", "made_by")
    roles: ClassVar = {"list": MANAGERS, "create": MANAGERS, "revoke": MANAGERS}
    full = frozenset({"create", "revoke"})
    keeps_no_reply = frozenset({"create"})

    def list(self, request: Request) -> Response:
        """List the open invitations, newest first."""
        return self.answer_page(self.get_queryset().filter(accepted_at=None, revoked_at=None))

    @extend_schema(request=shapes.InvitationBody, responses={201: shapes.InvitationMadeAnswer})
    def create(self, request: Request) -> Response:
        """Invite somebody by mail; the link is answered this once too, to be handed over in another way."""
        invitation, secret = invitations.invite(self.actor(), **self.body(shapes.InvitationBody))
        address = link(request, "invited", secret)
        mail.post(invitation.email, *letters.invitation(invitation, address))
        body = {**self.represent(invitation), "url": address}
        return Response(body, status.HTTP_201_CREATED, headers={"ETag": f'"{invitation.version}"'})

    @extend_schema(request=None, responses={200: shapes.InvitationAnswer})
    @action(detail=True, methods=["post"])
    def revoke(self, request: Request, pk: int) -> Response:
        """Take an invitation back at once."""
        return self.answer(invitations.revoke(self.actor(), self.get_object()))


class InvitationOpenView(APIView):
    """What an invitation offers."""

    permission_classes = (AllowAny,)
    throttle_classes = (SecretThrottle,)

    @extend_schema(
        operation_id="invitation_open",
        request=shapes.LinkSecretBody,
        responses={200: shapes.InvitedAnswer, **NOT_OPEN},
    )
    def post(self, request: Request) -> Response:
        """Show what the secret's invitation offers; unknown, used, expired and taken back are answered alike."""
        body = checked(shapes.LinkSecretBody, request.data, request=request)
        found = invitations.of_secret(body["secret"])
        if found is None:
            raise Http404
        return Response(shapes.InvitedAnswer(found).data)


class InvitationAcceptView(APIView):
    """Taking an invitation up."""

    permission_classes = (AllowAny,)
    throttle_classes = (SecretThrottle,)

    @extend_schema(
        operation_id="invitation_accept",
        request=shapes.AcceptBody,
        responses={200: shapes.SessionAnswer, **NOT_OPEN},
    )
    def post(self, request: Request) -> Response:
        """Take the invitation up with a name and a password, and be signed in."""
        CookieAuthentication().enforce_csrf(request)
        body: Any = checked(shapes.AcceptBody, request.data, request=request)
        person = invitations.accept(**body, address=request.META.get("REMOTE_ADDR") or None)
        if person is None:
            raise Http404
        enter(request, person)
        return session_answer(request, person)


class RecoveryAskView(APIView):
    """A forgotten password."""

    permission_classes = (AllowAny,)
    throttle_classes = (AskThrottle,)

    @extend_schema(
        operation_id="recovery_ask",
        request=shapes.AskRecoveryBody,
        responses={202: None, 429: shapes.ProblemsAnswer},
    )
    def post(self, request: Request) -> Response:
        """Send a link for a new password, if somebody signs in with this address; the answer is the same if not."""
        CookieAuthentication().enforce_csrf(request)
        email = checked(shapes.AskRecoveryBody, request.data, request=request)["email"].strip().lower()
        asked = tries.count("letter", email, AskThrottle().window)
        person, secret = recoveries.ask(email, request.META.get("REMOTE_ADDR") or None)
        if person is not None and asked <= LETTERS_AN_HOUR:
            mail.post(person.email, *letters.new_password(person, link(request, "recover", secret)))
        return Response(status=status.HTTP_202_ACCEPTED)


class RecoverView(APIView):
    """A new password by a link."""

    permission_classes = (AllowAny,)
    throttle_classes = (SecretThrottle,)

    @extend_schema(operation_id="recovery_use", request=shapes.RecoverBody, responses={204: None, **NOT_OPEN})
    def post(self, request: Request) -> Response:
        """Set a new password; all sessions end, and the sign-in asks for it and for the second factor."""
        CookieAuthentication().enforce_csrf(request)
        body: Any = checked(shapes.RecoverBody, request.data, request=request)
        person = recoveries.use(**body, address=request.META.get("REMOTE_ADDR") or None)
        if person is None:
            raise Http404
        return Response(status=status.HTTP_204_NO_CONTENT)
