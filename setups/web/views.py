"""Customers, riders, kinds of bike, bikes: parsed here, done by the verbs."""

from __future__ import annotations

from typing import Any, ClassVar

from django.db.models import Prefetch
from drf_spectacular.utils import extend_schema
from rest_framework import status
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from setups import former_owner, history, search, whole_card
from setups.bike_models import BikeMerge
from setups.models import Bike, Customer, JobCard, KindOfBike, PartLine, Reading, Rider, SealedRecord
from setups.search_models import SearchWord
from setups.verbs import bikes, customers, kinds, merging, ownership
from setups.web import bike_serializers as bike_shapes
from setups.web import serializers as shapes
from shops.access import rows
from shops.web.base import RowsView
from shops.web.permissions import EVERYBODY, MANAGERS


class CustomersView(RowsView):
    """The customers of the business, with their riders."""

    model = Customer
    serializer_class = shapes.CustomerAnswer
    roles: ClassVar = {
        "list": EVERYBODY,
        "retrieve": EVERYBODY,
        "create": EVERYBODY,
        "partial_update": EVERYBODY,
    }

    def get_queryset(self) -> Any:
        """Return the customers with their riders fetched."""
        queryset = super().get_queryset()
        if getattr(self, "swagger_fake_view", False):
            return queryset
        return queryset.prefetch_related(Prefetch("riders", rows(Rider, self.person)))

    @extend_schema(
        operation_id="customers_list",
        parameters=[shapes.SearchQuery],
        responses={200: shapes.CustomerAnswer(many=True)},
    )
    def list(self, request: Request) -> Response:
        """List the customers by name; `search` looks at the beginnings of words in name, phone,
        e-mail and riders.
        """
        found = self.get_queryset().filter(erased_at=None)
        words = self.query(shapes.SearchQuery).get("search", "")
        narrowed = search.narrowed(found, self.person, words, {SearchWord.Of.CUSTOMER: "pk"})
        return self.answer_page(narrowed.rows, narrowed.count)

    @extend_schema(operation_id="customers_show", responses={200: shapes.CustomerAnswer})
    def retrieve(self, request: Request, pk: int) -> Response:
        """Show a customer."""
        return self.answer(self.get_object())

    @extend_schema(
        operation_id="customers_add", request=shapes.CustomerBody, responses={201: shapes.CustomerAnswer}
    )
    def create(self, request: Request) -> Response:
        """Take in a customer."""
        customer = customers.add_customer(self.actor(), **self.body(shapes.CustomerBody))
        return self.answer(customer, status.HTTP_201_CREATED)

    @extend_schema(
        operation_id="customers_change", request=shapes.CustomerBody, responses={200: shapes.CustomerAnswer}
    )
    def partial_update(self, request: Request, pk: int) -> Response:
        """Change a customer."""
        customer, version = self.get_object(), self.expected_version()
        wanted = self.body(shapes.CustomerBody, partial=True)
        return self.answer(customers.change_customer(self.actor(), customer, version, wanted))


class RidersView(RowsView):
    """The riders of the business's customers."""

    model = Rider
    serializer_class = shapes.RiderAnswer
    roles: ClassVar = {"retrieve": EVERYBODY, "create": EVERYBODY, "partial_update": EVERYBODY}

    @extend_schema(operation_id="riders_show", responses={200: shapes.RiderAnswer})
    def retrieve(self, request: Request, pk: int) -> Response:
        """Show a rider."""
        return self.answer(self.get_object())

    @extend_schema(operation_id="riders_add", request=shapes.RiderBody, responses={201: shapes.RiderAnswer})
    def create(self, request: Request) -> Response:
        """Add a rider to a customer."""
        return self.answer(
            customers.add_rider(self.actor(), **self.body(shapes.RiderBody)), status.HTTP_201_CREATED
        )

    @extend_schema(
        operation_id="riders_change", request=shapes.RiderChange, responses={200: shapes.RiderAnswer}
    )
    def partial_update(self, request: Request, pk: int) -> Response:
        """Change a rider."""
        rider, version = self.get_object(), self.expected_version()
        wanted = self.body(shapes.RiderChange, partial=True)
        return self.answer(customers.change_rider(self.actor(), rider, version, wanted))


class KindsView(RowsView):
    """What the business takes as usual for each kind of bike at each end."""

    model = KindOfBike
    serializer_class = shapes.KindAnswer
    roles: ClassVar = {"list": EVERYBODY, "retrieve": EVERYBODY, "partial_update": MANAGERS}

    @extend_schema(operation_id="kinds_list", responses={200: shapes.KindAnswer(many=True)})
    def list(self, request: Request) -> Response:
        """List the kinds, front and rear."""
        return self.answer_page(self.get_queryset())

    @extend_schema(operation_id="kinds_show", responses={200: shapes.KindAnswer})
    def retrieve(self, request: Request, pk: int) -> Response:
        """Show a kind at one end."""
        return self.answer(self.get_object())

    @extend_schema(operation_id="kinds_change", request=shapes.KindChange, responses={200: shapes.KindAnswer})
    def partial_update(self, request: Request, pk: int) -> Response:
        """Change sag bands, unsprung mass or their source."""
        kind, version = self.get_object(), self.expected_version()
        return self.answer(
            kinds.change_kind(self.actor(), kind, version, self.body(shapes.KindChange, partial=True))
        )


class BikesView(RowsView):
    """The bikes of the business."""

    model = Bike
    serializer_class = shapes.BikeAnswer
    related = ("owner",)
    roles: ClassVar = {
        "list": EVERYBODY,
        "retrieve": EVERYBODY,
        "create": EVERYBODY,
        "partial_update": EVERYBODY,
        "history": EVERYBODY,
        "change_owner": EVERYBODY,
        "merge": EVERYBODY,
        "merges": EVERYBODY,
        "undo_merge": EVERYBODY,
    }

    def represent(self, row: Bike) -> Any:
        """Return what the API answers for a bike."""
        return whole_card.bike(row)

    @extend_schema(
        operation_id="bikes_list",
        parameters=[shapes.SearchQuery],
        responses={200: shapes.BikeAnswer(many=True)},
    )
    def list(self, request: Request) -> Response:
        """List the bikes; `search` looks at the beginnings of words in make, model, plate, frame number
        and the owner's name, all words.
        """
        found = self.get_queryset().filter(merged_into=None)
        places = {SearchWord.Of.BIKE: "pk", SearchWord.Of.CUSTOMER: "owner_id"}
        words = self.query(shapes.SearchQuery).get("search", "")
        narrowed = search.narrowed(found, self.person, words, places)
        return self.answer_page(narrowed.rows, narrowed.count)

    @extend_schema(operation_id="bikes_show", responses={200: shapes.BikeAnswer})
    def retrieve(self, request: Request, pk: int) -> Response:
        """Show a bike."""
        return self.answer(self.get_object())

    @extend_schema(operation_id="bikes_add", request=shapes.BikeBody, responses={201: shapes.BikeAnswer})
    def create(self, request: Request) -> Response:
        """Take in a bike."""
        return self.answer(
            bikes.add_bike(self.actor(), **self.body(shapes.BikeBody)), status.HTTP_201_CREATED
        )

    @extend_schema(operation_id="bikes_change", request=shapes.BikeBody, responses={200: shapes.BikeAnswer})
    def partial_update(self, request: Request, pk: int) -> Response:
        """Change what is known of a bike."""
        bike, version = self.get_object(), self.expected_version()
        return self.answer(
            bikes.change_bike(self.actor(), bike, version, self.body(shapes.BikeBody, partial=True))
        )

    @extend_schema(operation_id="bikes_history", responses={200: bike_shapes.PastCard(many=True)}, filters=False)
    @action(detail=True, methods=["get"], pagination_class=None)
    def history(self, request: Request, pk: int) -> Response:
        """List every card of the bike in all shops of the business, newest first.

        Cards of a former owner come without a complaint to technicians.
        """
        cards = former_owner.mark(rows(JobCard, self.person).filter(bike=self.get_object())).select_related("shop")
        kept = former_owner.is_kept_from(self.person)
        fetched = cards.prefetch_related(
            "settings",
            Prefetch("readings", rows(Reading, self.person)),
            Prefetch("parts", rows(PartLine, self.person)),
            Prefetch("records", rows(SealedRecord, self.person)),
        )
        told = [history.past(card, hidden=card.former and kept, former=card.former) for card in fetched]
        return Response(bike_shapes.PastCard(told, many=True).data)

    @extend_schema(
        operation_id="bikes_change_owner", request=bike_shapes.OwnerBody, responses={200: shapes.BikeAnswer}
    )
    @action(detail=True, methods=["post"], url_path="owner")
    def change_owner(self, request: Request, pk: int) -> Response:
        """Give the bike to another owner; its history stays, the former owner is kept from it."""
        ownership.change_owner(self.actor(), self.get_object(), **self.body(bike_shapes.OwnerBody))
        return self.answer(self.get_object())

    @extend_schema(
        operation_id="bikes_merge",
        request=bike_shapes.MergeBody,
        responses={200: bike_shapes.MergeAnswer},
    )
    @action(detail=True, methods=["post"])
    def merge(self, request: Request, pk: int) -> Response:
        """Make another entry of the same bike part of this one; its cards come here, and it is hidden."""
        made = merging.merge_bikes(self.actor(), self.get_object(), **self.body(bike_shapes.MergeBody))
        return Response(bike_shapes.MergeAnswer(made).data)

    @extend_schema(
        operation_id="bikes_merges", responses={200: bike_shapes.MergeAnswer(many=True)}, filters=False
    )
    @action(detail=True, methods=["get"], pagination_class=None)
    def merges(self, request: Request, pk: int) -> Response:
        """List the entries that were made part of this bike, newest first, undone ones too."""
        made = rows(BikeMerge, self.person).filter(kept=self.get_object())
        return Response(bike_shapes.MergeAnswer(made.select_related("twin", "by", "undone_by"), many=True).data)

    @extend_schema(operation_id="bikes_undo_merge", request=None, responses={200: bike_shapes.MergeAnswer})
    @action(detail=True, methods=["post"], url_path="merges/<int:lid>/undo")
    def undo_merge(self, request: Request, pk: int, lid: int) -> Response:
        """Make two bikes of one again."""
        made = self.part_of(BikeMerge, lid, kept=self.get_object())
        return Response(bike_shapes.MergeAnswer(merging.undo_merge(self.actor(), made)).data)
