"""Learning from as built, on a card: what earlier cards of its model showed, and the correction accepted from it."""

from __future__ import annotations

from typing import ClassVar

from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from setups import learned, whole_card
from setups.verbs import corrections
from setups.web import learned_serializers as shapes
from setups.web.card_views import CardsView, doing
from setups.web.serializers import EndBody
from shops.web.permissions import EVERYBODY


class CardLearnedView(CardsView):
    """What a card's model has taught."""

    roles: ClassVar = dict.fromkeys(("learned", "accept", "withdraw"), EVERYBODY)

    @extend_schema(operation_id="cards_learned", responses={200: shapes.LearnedAnswer})
    def learned(self, request: Request, pk: int) -> Response:
        """Tell what earlier sealed cards of this model showed of computed sags."""
        return Response(learned.answer(whole_card.with_parts(self.get_object())))

    @doing("cards_accept_correction", shapes.CorrectionBody)
    def accept(self, request: Request, pk: int) -> Response:
        """Take it into account: the card's computed sags are corrected from now on, and marked so."""
        card, body = self.get_object(), self.body(shapes.CorrectionBody)
        corrections.accept_correction(self.actor(), card, body["end"], body["cards"])
        return self.whole(card)

    @doing("cards_withdraw_correction", EndBody)
    def withdraw(self, request: Request, pk: int) -> Response:
        """Take the correction of one end back."""
        card = self.get_object()
        corrections.withdraw_correction(self.actor(), card, self.body(EndBody)["end"])
        return self.whole(card)
