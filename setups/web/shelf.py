"""What a card takes, or took, from the shelf, over HTTP."""

from __future__ import annotations

from typing import Any, ClassVar

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from setups.models import JobCard
from setups.verbs.shelf import Taken, taken
from shops.web.base import RowsView
from shops.web.permissions import EVERYBODY


class TakenSpring(serializers.Serializer[Any]):
    """A spring that the card was built with, and what the list says of it now."""

    id = serializers.IntegerField(source="spring.pk")
    code = serializers.CharField(source="spring.code")
    batch = serializers.CharField(source="spring.batch")
    stock = serializers.IntegerField(source="spring.stock")
    count = serializers.IntegerField(help_text="How many were fitted.")
    short = serializers.IntegerField(help_text="How many more than the list has now.")


class ShelfAnswer(serializers.Serializer[Any]):
    """The springs of the list that a card was built with."""

    springs = TakenSpring(many=True)


class ShelfView(RowsView):
    """A card and the shelf."""

    model = JobCard
    roles: ClassVar = {"shelf": EVERYBODY}

    @extend_schema(operation_id="cards_shelf", responses={200: ShelfAnswer})
    def shelf(self, request: Request, pk: int) -> Response:
        """Show which springs of the list the card was built with; their counts fall when it is sealed."""
        found: list[Taken] = taken(self.get_object())
        return Response(ShelfAnswer({"springs": found}).data)
