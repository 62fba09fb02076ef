"""Lists come in pages of fifty: {"count", "more_than_count", "next": what asks for the next page or null, "results"}.

Rows are counted up to a thousand: nobody leafs through more, and counting a million takes longer than finding them.
The next page begins after the row that the last one ended with, found by an index: the thousandth page takes no longer
than the second.
"""

from __future__ import annotations

import re
from typing import Any

from django.db.models import F
from django.db.models.expressions import OrderBy
from django.db.models.fields.tuple_lookups import Tuple, TupleGreaterThan, TupleLessThan
from django.http import Http404
from django.utils.translation import gettext as _
from rest_framework.pagination import PageNumberPagination
from rest_framework.response import Response

from shops.access import rows
from shops.refusals import wrong

COUNTED = 1000
MARK = "after-"
"""Begins the name of a page that follows a row: its id comes then, and no value of it, which might be personal."""


class Pages(PageNumberPagination):
    """Pages by number, as far as rows are counted, and on from there by the row that the last one ended with."""

    page_size = 50
    counted, mark = 1, ""
    known: int | None = None
    """How many rows the whole list has, where whoever asks for a page has counted them already."""
    gathered = False
    """Whether no index holds the list in its order, so that all its rows are gathered and sorted for a page: by their
    ids alone, and what is told of the page's rows is fetched then.
    """

    def paginate_queryset(self, queryset: Any, request: Any, view: Any = None) -> list[Any]:
        """Return the page asked for: 400 if that names no page, 404 if the list ends before it."""
        asked = request.query_params.get(self.page_query_param, "1")
        start, rest = 0, queryset
        if re.fullmatch(f"{MARK}[1-9][0-9]{{0,17}}", asked):
            rest = _after(queryset, int(asked.removeprefix(MARK)), view.person)
        else:
            start = (self._number(asked) - 1) * self.page_size
        end = start + self.page_size + 1
        if self.gathered:
            keys = list(rest.values_list("pk", flat=True)[: COUNTED + 1])
            self.known = len(keys) if rest is queryset else None
            found = list(rest.filter(pk__in=keys[start:end]))
        else:
            found = list(rest[start:end])
        if start and not found:
            raise Http404
        page = found[: self.page_size]
        self.mark = f"{MARK}{_id_of(page[-1])}" if len(found) > self.page_size else ""
        self.counted = start + len(page)
        if self.known is not None:
            self.counted = self.known
        elif self.mark or rest is not queryset:
            # In the list's own order, by the index that finds its first page: else a planner may read whole tables.
            counted = queryset.order_by() if self.gathered else queryset
            self.counted = counted[: COUNTED + 1].count()
        return page

    def _number(self, asked: str) -> int:
        last = COUNTED // self.page_size
        if not re.fullmatch("0*[1-9][0-9]{0,8}", asked):
            text = _("{number} is no page number: pages are counted from 1.").format(number=asked[:20])
            raise wrong("page", "no_page_number", text, asked[:20])
        if int(asked) > last:
            text = _("Pages are numbered up to {last}: go on from page {last} by what its “next” says.")
            raise wrong("page", "page_too_far", text.format(last=last), asked[:20])
        return int(asked)

    def get_schema_operation_parameters(self, view: Any) -> list[dict[str, Any]]:
        """Describe the page for OpenAPI."""
        schema = {"type": "string", "pattern": f"^({MARK}[1-9][0-9]{{0,17}}|0*[1-9][0-9]{{0,8}})$"}
        text = f"The page's number, 1 to {COUNTED // self.page_size}, or what the page before says in `next`."
        described = {"description": text, "required": False, "schema": schema}
        return [{"name": self.page_query_param, "in": "query", **described}]

    def get_paginated_response(self, data: Any) -> Response:
        """Return the answer's body."""
        return Response({
            "count": min(self.counted, COUNTED),
            "more_than_count": self.counted > COUNTED,
            "next": self.mark or None,
            "results": data,
        })

    def get_paginated_response_schema(self, schema: dict[str, Any]) -> dict[str, Any]:
        """Describe the body for OpenAPI."""
        return {
            "type": "object",
            "required": ["count", "more_than_count", "next", "results"],
            "properties": {
                "count": {"type": "integer", "minimum": 0},
                "more_than_count": {"type": "boolean", "description": "True where counting ended at `count`."},
                "next": {"type": "string", "nullable": True, "description": "Asks for the next page, as `page`."},
                "results": schema,
            },
        }


def _id_of(row: Any) -> int:
    """Return the id of a row; a group of rows, told as a mapping, names one of its own as its `mark`."""
    return int(row["mark"] if isinstance(row, dict) else row.pk)


def _after(queryset: Any, key: int, person: Any) -> Any:
    """Return the rows of `queryset` that follow the row `key` in its order; 404 where the person has no such row.

    The order ends in a column that no two rows share, and all of it goes one way.
    """
    order = [_ordering(one) for one in queryset.query.order_by or queryset.model._meta.ordering]
    columns, ways = [column for column, down in order], {down for column, down in order}
    if len(ways) > 1:
        raise TypeError(f"{queryset.model.__name__} is put in order both ways: no page follows a row of it.")
    held = rows(queryset.model, person).order_by().filter(pk=key).values_list(*columns).first()
    if held is None:
        raise Http404
    follows = TupleLessThan if ways == {True} else TupleGreaterThan
    return queryset.filter(follows(Tuple(*columns), held))


def _ordering(one: Any) -> tuple[Any, bool]:
    """Return a column to order by, and whether it runs down."""
    if isinstance(one, str):
        return F(one.removeprefix("-")), one.startswith("-")
    if isinstance(one, OrderBy):
        return one.expression, one.descending
    return one, False
