"""Shops, people, tools, the spring list and the trail: parsed here, done by `shops.verbs`."""

from __future__ import annotations

from typing import Any, ClassVar

from django.db.models import Q
from drf_spectacular.utils import extend_schema
from rest_framework import status
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from shops import recoveries, second_factor, verbs
from shops.models import AuditEntry, Person, Shop, StockSpring, Tool
from shops.web import serializers as shapes
from shops.web.base import RowsView
from shops.web.joining_views import link
from shops.web.permissions import EVERYBODY, MANAGERS, OWNERS
from shops.web.spring_shapes import ReadingsShape


class ShopsView(RowsView):
    """The shops of the business."""

    model = Shop
    serializer_class = shapes.ShopAnswer
    roles: ClassVar = {
        "list": EVERYBODY, "retrieve": EVERYBODY, "create": OWNERS, "partial_update": MANAGERS,
    }
    full = frozenset({"create", "partial_update"})

    def list(self, request: Request) -> Response:
        """List the shops by name."""
        return self.answer_page(self.get_queryset().order_by("name", "id"))

    def retrieve(self, request: Request, pk: int) -> Response:
        """Show a shop."""
        return self.answer(self.get_object())

    @extend_schema(request=shapes.ShopBody, responses={201: shapes.ShopAnswer})
    def create(self, request: Request) -> Response:
        """Open a shop."""
        shop = verbs.open_shop(self.actor(), **self.body(shapes.ShopBody))
        return self.answer(shop, status.HTTP_201_CREATED)

    @extend_schema(request=shapes.ShopChange)
    def partial_update(self, request: Request, pk: int) -> Response:
        """Change a shop."""
        shop, version = self.get_object(), self.expected_version()
        wanted = self.body(shapes.ShopChange, partial=True)
        return self.answer(verbs.change_shop(self.actor(), shop, version, wanted))


class PeopleView(RowsView):
    """The people of the business."""

    model = Person
    serializer_class = shapes.PersonAnswer
    related = ("shop", "second_factor")
    roles: ClassVar = {
        "list": EVERYBODY, "retrieve": EVERYBODY, "create": MANAGERS, "partial_update": MANAGERS,
        "recovery": MANAGERS, "second_factor_off": OWNERS,
    }
    full = frozenset({"create", "partial_update", "recovery", "second_factor_off"})
    # Its answer holds a secret.
    keeps_no_reply = frozenset({"recovery"})

    @extend_schema(parameters=[shapes.SearchQuery])
    def list(self, request: Request) -> Response:
        """List the people by name."""
        query = self.query(shapes.SearchQuery)
        people = self.get_queryset().order_by("name", "id")
        if words := query.get("search"):
            people = people.filter(Q(name__icontains=words) | Q(email__icontains=words))
        return self.answer_page(_of_shop(people, query))

    def retrieve(self, request: Request, pk: int) -> Response:
        """Show a person."""
        return self.answer(self.get_object())

    @extend_schema(request=shapes.PersonBody, responses={201: shapes.PersonAnswer})
    def create(self, request: Request) -> Response:
        """Let somebody new sign in."""
        person = verbs.add_person(self.actor(), **self.body(shapes.PersonBody))
        return self.answer(person, status.HTTP_201_CREATED)

    @extend_schema(request=shapes.PersonChange)
    def partial_update(self, request: Request, pk: int) -> Response:
        """Change a person."""
        person, version = self.get_object(), self.expected_version()
        wanted = self.body(shapes.PersonChange, partial=True)
        return self.answer(verbs.change_person(self.actor(), person, version, wanted))

    @extend_schema(request=None, responses={201: shapes.OnceAnswer})
    @action(detail=True, methods=["post"])
    def recovery(self, request: Request, pk: int) -> Response:
        """Make a link for a new password, answered this once, for the manager to hand over."""
        held, secret = recoveries.issue(self.actor(), self.get_object())
        body = {"url": link(request, "recover", secret), "expires_at": held.expires_at}
        return Response(shapes.OnceAnswer(body).data, status.HTTP_201_CREATED)

    @extend_schema(request=None, responses={200: shapes.PersonAnswer})
    @action(detail=True, methods=["post"], url_path="second-factor-off")
    def second_factor_off(self, request: Request, pk: int) -> Response:
        """Turn off the second factor of somebody who lost the device."""
        person = self.get_object()
        second_factor.turn_off(self.actor(), person)
        return self.answer(self.get_queryset().get(pk=person.pk))


class ToolsView(RowsView):
    """The workshop tools."""

    model = Tool
    serializer_class = shapes.ToolAnswer
    related = ("shop",)
    roles: ClassVar = {
        "list": EVERYBODY, "retrieve": EVERYBODY, "create": EVERYBODY, "partial_update": EVERYBODY,
    }

    @extend_schema(parameters=[shapes.SearchQuery])
    def list(self, request: Request) -> Response:
        """List the tools by name."""
        query = self.query(shapes.SearchQuery)
        tools = self.get_queryset().order_by("name", "id")
        if words := query.get("search"):
            tools = tools.filter(Q(name__icontains=words) | Q(serial__icontains=words))
        return self.answer_page(_of_shop(tools, query))

    def retrieve(self, request: Request, pk: int) -> Response:
        """Show a tool."""
        return self.answer(self.get_object())

    @extend_schema(request=shapes.ToolBody, responses={201: shapes.ToolAnswer})
    def create(self, request: Request) -> Response:
        """Enter a tool."""
        tool = verbs.add_tool(self.actor(), **self.body(shapes.ToolBody))
        return self.answer(tool, status.HTTP_201_CREATED)

    @extend_schema(request=shapes.ToolChange)
    def partial_update(self, request: Request, pk: int) -> Response:
        """Change a tool."""
        tool, version = self.get_object(), self.expected_version()
        wanted = self.body(shapes.ToolChange, partial=True)
        return self.answer(verbs.change_tool(self.actor(), tool, version, wanted))


class SpringsView(RowsView):
    """The spring list."""

    model = StockSpring
    serializer_class = shapes.SpringAnswer
    related = ("shop",)
    roles: ClassVar = {
        "list": EVERYBODY, "retrieve": EVERYBODY,
        "create": MANAGERS, "partial_update": MANAGERS, "destroy": MANAGERS, "test": EVERYBODY,
    }

    @extend_schema(parameters=[shapes.SpringQuery])
    def list(self, request: Request) -> Response:
        """List a shop's springs (the own shop's unless another is named), softest first."""
        query = self.query(shapes.SpringQuery)
        springs = _of_shop(self.get_queryset(), {"shop": self.person.shop_id, **query})
        if end := query.get("end"):
            springs = springs.filter(end=end)
        if words := query.get("search"):
            springs = springs.filter(
                Q(code__icontains=words) | Q(label__icontains=words) | Q(batch__icontains=words)
                | Q(material__icontains=words)
            )
        return self.answer_page(springs)

    def retrieve(self, request: Request, pk: int) -> Response:
        """Show a spring."""
        return self.answer(self.get_object())

    @extend_schema(request=shapes.SpringBody, responses={201: shapes.SpringAnswer})
    def create(self, request: Request) -> Response:
        """Put a spring on the list."""
        spring = verbs.add_spring(self.actor(), **self.body(shapes.SpringBody))
        return self.answer(spring, status.HTTP_201_CREATED)

    @extend_schema(request=shapes.SpringChange)
    def partial_update(self, request: Request, pk: int) -> Response:
        """Change a spring's data or stock."""
        spring, version = self.get_object(), self.expected_version()
        wanted = self.body(shapes.SpringChange, partial=True)
        return self.answer(verbs.change_spring(self.actor(), spring, version, wanted))

    @extend_schema(operation_id="springs_test", request=ReadingsShape)
    @action(detail=True, methods=["post"])
    def test(self, request: Request, pk: int) -> Response:
        """Keep tester readings beside the stamp; cards then reckon with the tested spring."""
        return self.answer(verbs.test_spring(self.actor(), self.get_object(), self.body(ReadingsShape)))

    @extend_schema(responses={204: None})
    def destroy(self, request: Request, pk: int) -> Response:
        """Take a spring off the list."""
        spring, version = self.get_object(), self.expected_version()
        verbs.remove_spring(self.actor(), spring, version)
        return Response(status=status.HTTP_204_NO_CONTENT)


class TrailView(RowsView):
    """The audit trail of the business, newest first."""

    model = AuditEntry
    serializer_class = shapes.TrailAnswer
    related = ("shop", "person")
    roles: ClassVar = {"list": MANAGERS}

    @extend_schema(parameters=[shapes.TrailQuery])
    def list(self, request: Request) -> Response:
        """List who did what, newest first."""
        query = self.query(shapes.TrailQuery)
        wanted = {name: query[name] for name in ("subject", "subject_id") if name in query}
        return self.answer_page(_of_shop(self.get_queryset().filter(**wanted), query))


def _of_shop(queryset: Any, query: Any) -> Any:
    return queryset.filter(shop_id=query["shop"]) if query.get("shop") is not None else queryset
