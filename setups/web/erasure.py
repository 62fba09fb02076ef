"""Erasing a customer's personal data over HTTP, and the list by which tablets forget their copies."""

from __future__ import annotations

from typing import Any, ClassVar

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from calc.web.fields import StrictSerializer
from setups.data.forgetting import ids_of
from setups.models import Customer, Erasure
from setups.verbs import erasure
from setups.web.record_serializers import ErasureBody
from setups.web.serializers import CustomerAnswer
from shops.web.base import RowsView
from shops.web.permissions import EVERYBODY, MANAGERS
from shops.web.serializers import ID_LIMIT


class AfterQuery(StrictSerializer):
    """Which erasures a tablet has followed already: all up to this one."""

    after = serializers.IntegerField(min_value=0, max_value=ID_LIMIT, required=False)


class ErasureAnswer(serializers.Serializer[Any]):
    """One erasure: the ids of which nothing may be kept on a device. No value is among them."""

    id = serializers.IntegerField()
    customers = serializers.ListField(child=serializers.IntegerField())
    riders = serializers.ListField(child=serializers.IntegerField())
    bikes = serializers.ListField(child=serializers.IntegerField())
    cards = serializers.ListField(child=serializers.IntegerField())


class CustomerErasureView(RowsView):
    """A customer whose personal data are to go."""

    model = Customer
    serializer_class = CustomerAnswer
    roles: ClassVar = {"erase": MANAGERS}
    full: ClassVar = frozenset({"erase"})

    @extend_schema(operation_id="customers_erase", request=ErasureBody, responses={200: CustomerAnswer})
    def erase(self, request: Request, pk: int) -> Response:
        """Erase all that is personal of a customer; what is sealed holds on without it."""
        customer = self.get_object()
        return self.answer(erasure.erase_customer(self.actor(), customer, **self.body(ErasureBody)))


class ErasuresView(RowsView):
    """What was erased in the business."""

    model = Erasure
    serializer_class = ErasureAnswer
    roles: ClassVar = {"list": EVERYBODY}

    def represent(self, row: Erasure) -> Any:
        """Return the ids that an erasure is about."""
        return {"id": row.pk, **ids_of(row)}

    @extend_schema(
        operation_id="erasures_list", parameters=[AfterQuery], responses={200: ErasureAnswer(many=True)}
    )
    def list(self, request: Request) -> Response:
        """List the erasures, oldest first, those after one that is known."""
        after = self.query(AfterQuery).get("after", 0)
        return self.answer_page(self.get_queryset().filter(pk__gt=after))
