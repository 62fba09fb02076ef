"""What is decided on a card beyond the work: a manager's overrides, the customer's approval of an estimate."""

from __future__ import annotations

from typing import ClassVar

from django.http import Http404
from drf_spectacular.utils import extend_schema
from rest_framework import status
from rest_framework.request import Request
from rest_framework.response import Response

from calc.words import say
from setups import former_owner
from setups.approval_models import EstimateAsk
from setups.record import estimate_page
from setups.verbs import estimating, overriding
from setups.web import approval_serializers as shapes
from setups.web.card_views import IF_MATCH, IF_NONE_MATCH, CardsView, doing
from setups.web.record_serializers import PageAnswer, SecretBody
from setups.web.record_views import REFUSED, PublicView, private
from shops.access import Scoped
from shops.web.base import checked
from shops.web.permissions import EVERYBODY, MANAGERS
from shops.web.serializers import ProblemsAnswer


class CardApprovalView(CardsView):
    """What a manager overrides on a card, and what its customer is asked to agree to."""

    roles: ClassVar = {
        "override": MANAGERS,
        "write": EVERYBODY,
        "ask": EVERYBODY,
        "revoke": EVERYBODY,
    }
    full: ClassVar = frozenset({"override"})
    versionless: ClassVar = frozenset({"write"})
    # Its answer holds a secret that nobody may keep.
    keeps_no_reply: ClassVar = frozenset({"ask"})

    def represent_stale(self, row: Scoped) -> object:
        """Return the card: the estimate stands on it."""
        return self.represent(self.get_queryset().get(pk=self.kwargs["pk"]))

    @doing("cards_override", shapes.OverrideBody)
    def override(self, request: Request, pk: int) -> Response:
        """Override one thing that stands in the way of sealing, with a reason that stays with the record."""
        card = self.get_object()
        overriding.override(self.actor(), card, **self.body(shapes.OverrideBody))
        return self.whole(card)

    @doing("estimate_write", shapes.EstimateBody, parameters=[IF_MATCH, IF_NONE_MATCH])
    def write(self, request: Request, pk: int) -> Response:
        """Write the whole estimate, with the version that it replaces; a changed one needs a new approval."""
        card = self.get_object()
        former_owner.refuse(card, self.person, say("This estimate"))
        version = self.version_or_first()
        estimating.write_estimate(self.actor(), card, version, **self.body(shapes.EstimateBody))
        return self.whole(card)

    @extend_schema(
        operation_id="estimate_ask",
        request=shapes.AskBody,
        responses={201: shapes.AskAnswer, **REFUSED, 403: ProblemsAnswer, 409: ProblemsAnswer},
    )
    def ask(self, request: Request, pk: int) -> Response:
        """Make a link through which the customer agrees; its secret is answered this once and never again."""
        card = self.get_object()
        former_owner.refuse(card, self.person, say("This estimate"))
        made, secret = estimating.ask_approval(self.actor(), card, **self.body(shapes.AskBody))
        body = {"id": made.pk, "url": f"/record#e.{secret}", "expires_at": made.expires_at}
        return private(Response(shapes.AskAnswer(body).data, status.HTTP_201_CREATED))

    @doing("estimate_revoke_link")
    def revoke(self, request: Request, pk: int, lid: int) -> Response:
        """Revoke an estimate's link at once; an answer given through it stands."""
        card = self.get_object()
        estimating.revoke_ask(self.actor(), self.part_of(EstimateAsk, lid, card=card))
        return self.whole(card)


class OpenEstimateView(PublicView):
    """The customer's page of an estimate."""

    @extend_schema(
        operation_id="estimate_open",
        auth=[],
        request=SecretBody,
        responses={200: PageAnswer, **REFUSED, 429: ProblemsAnswer},
    )
    def post(self, request: Request) -> Response:
        """Exchange a link's secret for the estimate; unknown, expired and revoked ones are answered alike."""
        secret = checked(SecretBody, request.data, request=request)["secret"]
        return _page(estimating.open_ask(secret, request.META.get("REMOTE_ADDR") or None))


class AnswerEstimateView(PublicView):
    """The customer's answer to an estimate."""

    @extend_schema(
        operation_id="estimate_answer",
        auth=[],
        request=shapes.AnswerBody,
        responses={200: PageAnswer, **REFUSED, 409: ProblemsAnswer, 429: ProblemsAnswer},
    )
    def post(self, request: Request) -> Response:
        """Approve or decline: once, and only what stands now. It is kept with its time and address."""
        body = checked(shapes.AnswerBody, request.data, request=request)
        return _page(estimating.answer_ask(**body, address=request.META.get("REMOTE_ADDR") or None))


def _page(ask: EstimateAsk | None) -> Response:
    if ask is None:
        raise Http404
    return private(Response(estimate_page.page_of(ask)))
