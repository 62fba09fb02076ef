"""The audit over HTTP: its lists a page at a time or as a file, and the check of a shop's chain."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, ClassVar

from django.http import Http404, StreamingHttpResponse
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from setups.audit import chain
from setups.audit.asked import Asked
from setups.audit.lists import LISTS, AuditList
from setups.audit.row import cell
from setups.web import audit_serializers as shapes
from shops import spreadsheet, trail
from shops.access import rows
from shops.models import Shop
from shops.web.base import RowsView
from shops.web.permissions import MANAGERS

ABOUT = OpenApiParameter("about", OpenApiTypes.STR, OpenApiParameter.PATH, enum=list(LISTS))
CHUNK = 500


class AuditView(RowsView):
    """What a manager looks for across the business's cards."""

    model = Shop
    serializer_class = shapes.AuditRow
    roles: ClassVar = dict.fromkeys(("list", "give_out", "chain"), MANAGERS)
    full: ClassVar = frozenset({"give_out"})
    keeps_no_reply: ClassVar = frozenset({"give_out"})

    @extend_schema(
        operation_id="audit_list",
        parameters=[ABOUT, shapes.AuditQuery],
        responses={200: shapes.AuditRow(many=True)},
    )
    def list(self, request: Request, about: str) -> Response:
        """List one page of what was asked about."""
        chosen, asked = self._chosen(about), self._asked()
        page = self.page_of(chosen.find(asked), gathered=chosen.gathered)
        return self.get_paginated_response(shapes.AuditRow(chosen.tell(asked, page), many=True).data)

    @extend_schema(
        operation_id="audit_give_out",
        parameters=[ABOUT, shapes.AuditQuery],
        request=None,
        responses={(200, "text/csv"): OpenApiTypes.STR},
    )
    def give_out(self, request: Request, about: str) -> StreamingHttpResponse:
        """Give the whole list as a file, all pages of it; the trail notes who took what."""
        chosen, asked = self._chosen(about), self._asked()
        found = chosen.find(asked)
        narrowed = {name: value for name, value in request.query_params.items() if name != "page"}
        trail.record(self.actor(), "give list out", self.person.shop, None, {"list": about, **narrowed})
        content = spreadsheet.lines([*chosen.columns.values()], _cells(chosen, asked, found))
        headers = {
            "Content-Disposition": f'attachment; filename="audit-{about}.csv"',
            "X-Content-Type-Options": "nosniff",
            "Cache-Control": "no-store",
        }
        return StreamingHttpResponse(content, content_type="text/csv; charset=utf-8", headers=headers)

    @extend_schema(
        operation_id="audit_chain", parameters=[shapes.ChainQuery], responses={200: shapes.ChainAnswer}, filters=False
    )
    def chain(self, request: Request) -> Response:
        """Check a part of a shop's chain of records, and name the first one that fails."""
        query = self.query(shapes.ChainQuery)
        shop = rows(Shop, self.person).filter(pk=query.get("shop", self.person.shop_id)).first()
        if shop is None:
            raise Http404
        return Response(shapes.ChainAnswer(chain.check(shop, query.get("after", 0))).data)

    def _chosen(self, about: str) -> AuditList:
        if about not in LISTS:
            raise Http404
        return LISTS[about]

    def _asked(self) -> Asked:
        query = {name: value for name, value in self.query(shapes.AuditQuery).items() if name != "page"}
        return Asked(self.person, **query)


def _cells(chosen: AuditList, asked: Asked, found: Any) -> Iterator[list[Any]]:
    """Yield a file's rows, fetched and told so many at a time."""
    for chunk in _chunks(found):
        for row in chosen.tell(asked, chunk):
            yield [cell(row, column) for column in chosen.columns]


def _chunks(found: Any) -> Iterator[list[Any]]:
    held: list[Any] = []
    for one in found.iterator(chunk_size=CHUNK):
        held.append(one)
        if len(held) == CHUNK:
            yield held
            held = []
    if held:
        yield held
