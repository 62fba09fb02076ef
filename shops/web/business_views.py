"""The business itself: its name, and the currency that its estimates are in."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from calc.web.fields import StrictSerializer, Text
from shops import money, verbs
from shops.web.base import actor_of, checked, person_of
from shops.web.permissions import FullSignIn, SignedIn


class CurrencyBody(StrictSerializer):
    """A currency to be chosen."""

    currency = Text(max_length=3, help_text="Its code in ISO 4217, as in EUR.")


class BusinessAnswer(serializers.Serializer[Any]):
    """The business of the signed-in person."""

    id = serializers.IntegerField()
    name = serializers.CharField()
    currency = serializers.CharField()
    minor_digits = serializers.SerializerMethodField()

    def get_minor_digits(self, business: Any) -> int:
        """Return how many decimals an amount has."""
        return money.digits(business.currency)


class BusinessView(APIView):
    """The business of the signed-in person."""

    permission_classes = (SignedIn,)

    @extend_schema(operation_id="business_show", responses=BusinessAnswer)
    def get(self, request: Request) -> Response:
        """Show the business."""
        return Response(BusinessAnswer(person_of(request).business).data)


class BusinessCurrencyView(APIView):
    """The currency of the business's estimates."""

    permission_classes = (SignedIn, FullSignIn)

    @extend_schema(operation_id="business_choose_currency", request=CurrencyBody, responses=BusinessAnswer)
    def patch(self, request: Request) -> Response:
        """Choose the currency; only an owner may. Estimates that have lines stay in the one they were written in."""
        body = checked(CurrencyBody, request.data, request=request)
        return Response(BusinessAnswer(verbs.choose_currency(actor_of(request), body["currency"])).data)
