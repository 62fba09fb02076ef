"""What every routed set of rows has in common: whose rows, which roles, which version, once only."""

from __future__ import annotations

import re
from functools import partial
from typing import Any, ClassVar, TypeVar

from django.http import Http404
from django.utils.translation import gettext as _
from rest_framework import status
from rest_framework.exceptions import NotAuthenticated, PermissionDenied
from rest_framework.generics import GenericAPIView
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.serializers import BaseSerializer
from rest_framework.viewsets import ViewSetMixin

from shops.access import Scoped, rows, rows_to_change
from shops.models import Person
from shops.refusals import wrong
from shops.trail import Actor
from shops.versions import Stale
from shops.web.errors import PreconditionRequired, problems
from shops.web.idempotency import once
from shops.web.permissions import DeclaredRoles, FullSignIn

SAFE = frozenset({"GET", "HEAD", "OPTIONS"})
S = TypeVar("S", bound=Scoped)


def person_of(request: Request) -> Person:
    """Return who is signed in; nobody is answered 401."""
    if not isinstance(request.user, Person):
        raise NotAuthenticated
    return request.user


def actor_of(request: Request) -> Actor:
    """Return who makes this request, and from which address."""
    return Actor(person_of(request), request.META.get("REMOTE_ADDR") or None)


def checked(
    serializer_class: type[BaseSerializer[Any]], data: Any, *, request: Request, partial: bool = False
) -> Any:
    """Return `data` parsed by the serializer; what it does not accept is answered 400."""
    serializer = serializer_class(data=data, partial=partial, context={"request": request})
    serializer.is_valid(raise_exception=True)
    return serializer.validated_data


class RowsView(ViewSetMixin, GenericAPIView[Any]):
    """Base of every set of rows in the API.

    `model` names the rows, `roles` the roles for each action: an action not named there refuses everybody.
    `serializer_class` represents a row, `related` is what that needs joined. `versionless` names the PATCH,
    PUT and DELETE actions that need no If-Match (the row may be new). `reads` names the POST actions that
    change nothing, and so are allowed on a sister shop's rows; `keeps_no_reply` those whose answer holds a
    secret, which must not be stored for retries. `full` names the actions that ask for the full sign-in
    (`shops.web.permissions.FullSignIn`): sealing, second checks, overrides, exports, and whatever gives access;
    in a session begun with a PIN they are answered 403 with the code `full_sign_in` until it is confirmed.
    """

    model: ClassVar[type[Scoped]]
    roles: ClassVar[dict[str, frozenset[str]]] = {}
    versionless: ClassVar[frozenset[str]] = frozenset()
    reads: ClassVar[frozenset[str]] = frozenset()
    keeps_no_reply: ClassVar[frozenset[str]] = frozenset()
    full: ClassVar[frozenset[str]] = frozenset()
    related: ClassVar[tuple[str, ...]] = ()
    permission_classes = (DeclaredRoles, FullSignIn)
    lookup_value_converter = "int"

    @property
    def person(self) -> Person:
        """Return who is signed in."""
        return person_of(self.request)

    def actor(self) -> Actor:
        """Return who acts, for the trail."""
        return actor_of(self.request)

    def get_queryset(self) -> Any:
        """Return the rows that the person may read."""
        if getattr(self, "swagger_fake_view", False):
            return self.model.objects.none()
        return rows(self.model, self.person).select_related(*self.related)

    def get_object(self) -> Any:
        """Return the row of this address: 404 if foreign or missing, 403 to change a sister shop's."""
        row = self.get_queryset().filter(pk=self.kwargs["pk"]).first()
        if row is None:
            raise Http404
        if self.request.method not in SAFE and self.action not in self.reads:
            self.require_change(row)
        return row

    def require_change(self, row: Scoped) -> None:
        """Answer 403 unless the person may change `row`."""
        if not rows_to_change(type(row), self.person).filter(pk=row.pk).exists():
            text = _("This belongs to the shop {shop}; only its own people change it.").format(shop=_shop_name(row))
            raise PermissionDenied(text)

    def part_of(self, model: type[S], pk: int, **owner: Any) -> S:
        """Return the row `pk` of `model` that hangs on `owner` (card=…), or answer 404."""
        row = rows(model, self.person).filter(pk=pk, **owner).first()
        if row is None:
            raise Http404
        return row

    def expected_version(self) -> int:
        """Return the version in If-Match: 428 without the header, 400 if it holds none."""
        header = self.request.headers.get("If-Match")
        if header is None:
            raise PreconditionRequired
        found = re.fullmatch(r'"(\d{1,9})"', header.strip(), re.ASCII)
        if found is None:
            text = _('{header} is no version; write it as "3".').format(header=header[:40])
            raise wrong("If-Match", "if_match", text, header[:40])
        return int(found[1])

    def body(self, serializer_class: type[BaseSerializer[Any]], *, partial: bool = False) -> Any:
        """Return the request's body, checked."""
        return checked(serializer_class, self.request.data, request=self.request, partial=partial)

    def query(self, serializer_class: type[BaseSerializer[Any]]) -> Any:
        """Return the address's query part, checked."""
        return checked(serializer_class, self.request.query_params.dict(), request=self.request)

    def represent(self, row: Any) -> Any:
        """Return what the API answers for `row`."""
        return self.get_serializer(row).data

    def answer(self, row: Any, code: int = status.HTTP_200_OK) -> Response:
        """Answer with `row` and its version."""
        return Response(self.represent(row), code, headers={"ETag": f'"{row.version}"'})

    def page_of(self, queryset: Any, count: int | None = None, *, gathered: bool = False) -> list[Any]:
        """Return the rows of the page asked for; `count` is how many the whole list has, where that is known, and
        `gathered` says that no index holds it in its order (see `shops.web.pages`).
        """
        pages: Any = self.paginator
        pages.known, pages.gathered = count, gathered
        return list(self.paginate_queryset(queryset) or ())

    def answer_page(self, queryset: Any, count: int | None = None) -> Response:
        """Answer with one page of `queryset`."""
        page = self.page_of(queryset, count)
        return self.get_paginated_response([self.represent(row) for row in page])

    def represent_stale(self, row: Any) -> Any:
        """Return the row that could not be saved, as it stands now."""
        current = rows(type(row), self.person).filter(pk=row.pk).first()
        return None if current is None else self.represent(current)

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> None:
        """Check who asks, then see to it that a retried POST is done once."""
        super().initial(request, *args, **kwargs)
        if request.method == "POST" and self.action is not None and self.kept(self.action):
            # DRF looks the handler up on the view after this, and so calls the one put in its place.
            vars(self)["post"] = partial(self._post_once, getattr(self, self.action))

    @classmethod
    def kept(cls, action: str) -> bool:
        """Tell whether a POST's answer is kept for retries: not if it holds a secret or nothing changed."""
        return action not in cls.keeps_no_reply and action not in cls.reads

    def _post_once(self, do: Any, request: Request, *args: Any, **kwargs: Any) -> Response:
        return once(request, self.person, partial(do, request, *args, **kwargs))

    def handle_exception(self, exc: Exception) -> Response:
        """Answer 412 with both sides when the row was changed meanwhile."""
        if not isinstance(exc, Stale):
            return super().handle_exception(exc)
        theirs = self.represent_stale(exc.row)
        if theirs is None:
            return super().handle_exception(Http404())
        text = _("Somebody else has changed this meanwhile; compare both versions.")
        body = problems("changed_meanwhile", text)
        both = {**body, "theirs": theirs, "yours": self.request.data}
        response = Response(both, status.HTTP_412_PRECONDITION_FAILED)
        response.exception = True
        return response


def _shop_name(row: Any) -> str:
    found = row
    for step in (row.shop_path or "").split("__"):
        if step and step != "id":
            found = getattr(found, step)
    return str(found)
