"""What is decided on a card beyond the work: overrides with a reason."""

from __future__ import annotations

from typing import ClassVar

from rest_framework.request import Request
from rest_framework.response import Response

from setups.verbs import overriding
from setups.web import approval_serializers as shapes
from setups.web.card_views import CardsView, doing
from shops.web.permissions import MANAGERS


class CardOverridesView(CardsView):
    """What a manager overrides on a card."""

    roles: ClassVar = {"override": MANAGERS}
    full: ClassVar = frozenset({"override"})

    @doing("cards_override", shapes.OverrideBody)
    def override(self, request: Request, pk: int) -> Response:
        """Override one thing that stands in the way of sealing, with a reason that stays with the record."""
        card = self.get_object()
        overriding.override(self.actor(), card, **self.body(shapes.OverrideBody))
        return self.whole(card)
