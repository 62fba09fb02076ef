"""Dragging over HTTP: values under the hand and around it, answered together, with no database behind it."""

from __future__ import annotations

from django.urls import path
from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from calc.web.views import REFUSALS, Calculation
from setups import following
from setups.figures import as_read, in_readers_units
from setups.web import follow_serializers as shapes
from setups.writing import writing_of
from shops.language import here
from shops.web.base import person_of


class FollowView(Calculation):
    """What an end does with values that a hand is dragging."""

    shape = shapes.FollowBody

    @extend_schema(operation_id="follow", request=shapes.FollowBody, responses={200: shapes.FollowAnswer, **REFUSALS})
    def post(self, request: Request) -> Response:
        """Give pictures, sags and verdicts of a basis with the dragged values in it; nothing is read or saved."""
        asked = self.parsed(request)
        units = person_of(request).units
        with as_read(here(), units):
            picture, tries = following.follow(asked["basis"], asked["tries"], writing_of(units))
            told = [{**in_readers_units(tried.side.as_dict()), "changes": tried.changes} for tried in tries]
        return Response({"picture": picture, "tries": told})


follow_urls = [path("follow/", FollowView.as_view(), name="follow")]
