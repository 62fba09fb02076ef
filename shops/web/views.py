"""Session, shops, people, tools, the spring list and the trail: parsed here, done by `shops.verbs`."""

from __future__ import annotations

from typing import Any, ClassVar

from django.contrib import auth
from django.db.models import Q
from django.middleware.csrf import get_token
from drf_spectacular.utils import extend_schema
from rest_framework import status
from rest_framework.permissions import AllowAny
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from shops import verbs
from shops.models import AuditEntry, Person, Shop, StockSpring, Tool
from shops.refusals import wrong
from shops.sign_in import LOCKED, LOCKED_ADDRESS
from shops.web import serializers as shapes
from shops.web.base import RowsView, actor_of, checked
from shops.web.permissions import EVERYBODY, MANAGERS, OWNERS, SignedIn
from shops.web.sign_in import CookieAuthentication
from shops.web.throttle import WrongSignIns


def _session(person: Any) -> Response:
    found = person if isinstance(person, Person) else None
    return Response(shapes.SessionAnswer({"person": found}).data)


class SessionView(APIView):
    """Who is signed in; signing in and out."""

    permission_classes = (AllowAny,)

    @extend_schema(operation_id="session_show", responses=shapes.SessionAnswer)
    def get(self, request: Request) -> Response:
        """Tell who is signed in, and set the CSRF cookie that every change needs."""
        get_token(request)
        return _session(request.user)

    @extend_schema(
        operation_id="sign_in",
        request=shapes.SignInBody,
        responses={200: shapes.SessionAnswer, 429: shapes.ProblemsAnswer},
    )
    def post(self, request: Request) -> Response:
        """Sign in by e-mail and password."""
        # DRF asks signed-in people only for the CSRF token; without this a foreign page could sign one in.
        CookieAuthentication().enforce_csrf(request)
        body = checked(shapes.SignInBody, request.data, request=request)
        wrong_ones = WrongSignIns()
        if not wrong_ones.allow_request(request, self):
            return Response({"problems": [LOCKED_ADDRESS.as_dict()]}, status.HTTP_429_TOO_MANY_REQUESTS)
        person = auth.authenticate(
            request._request, username=body["email"].strip().lower(), password=body["password"]
        )
        if person is None:
            wrong_ones.count(request, self)
            if getattr(request._request, "axes_locked_out", False):
                return Response({"problems": [LOCKED.as_dict()]}, status.HTTP_429_TOO_MANY_REQUESTS)
            raise wrong("", "wrong_sign_in", "E-mail address or password is not right.")
        auth.login(request._request, person)
        return _session(person)

    @extend_schema(operation_id="sign_out", request=None, responses={204: None})
    def delete(self, request: Request) -> Response:
        """Sign out."""
        auth.logout(request._request)
        return Response(status=status.HTTP_204_NO_CONTENT)


class SessionUnitsView(APIView):
    """The units that the signed-in person sees."""

    permission_classes = (SignedIn,)

    @extend_schema(operation_id="choose_units", request=shapes.UnitsBody, responses=shapes.SessionAnswer)
    def patch(self, request: Request) -> Response:
        """Choose units; quantities left out stay."""
        body = checked(shapes.UnitsBody, request.data, request=request)
        return _session(verbs.choose_units(actor_of(request), body))


class SessionPasswordView(APIView):
    """The signed-in person's own password."""

    permission_classes = (SignedIn,)

    @extend_schema(operation_id="change_password", request=shapes.PasswordBody, responses={204: None})
    def post(self, request: Request) -> Response:
        """Change one's own password; all other sessions of the person end."""
        body = checked(shapes.PasswordBody, request.data, request=request)
        person = verbs.change_own_password(actor_of(request), **body)
        auth.update_session_auth_hash(request._request, person)
        return Response(status=status.HTTP_204_NO_CONTENT)


class ShopsView(RowsView):
    """The shops of the business."""

    model = Shop
    serializer_class = shapes.ShopAnswer
    roles: ClassVar = {
        "list": EVERYBODY, "retrieve": EVERYBODY, "create": OWNERS, "partial_update": MANAGERS,
    }

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
    related = ("shop",)
    roles: ClassVar = {
        "list": EVERYBODY, "retrieve": EVERYBODY, "create": MANAGERS, "partial_update": MANAGERS,
    }

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
        "create": MANAGERS, "partial_update": MANAGERS, "destroy": MANAGERS,
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
