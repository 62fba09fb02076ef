"""Lists come in pages of fifty: {"count", "more_than_count", "next": the next page's number or null, "results"}.

Rows are counted up to a thousand: nobody leafs through more, and counting a million takes longer than finding them.
"""

from __future__ import annotations

import re
from typing import Any

from django.http import Http404
from django.utils.translation import gettext as _
from rest_framework.pagination import PageNumberPagination
from rest_framework.response import Response

from shops.refusals import wrong

COUNTED = 1000


class Pages(PageNumberPagination):
    """Page numbers in `?page=`."""

    page_size = 50
    number, counted, has_next = 1, 0, False

    def paginate_queryset(self, queryset: Any, request: Any, view: Any = None) -> list[Any]:
        """Return the page asked for: 400 if that is no page number, 404 if the list ends before it."""
        number = request.query_params.get(self.page_query_param, "1")
        if not re.fullmatch("0*[1-9][0-9]{0,8}", number):
            text = _("{number} is no page number: pages are counted from 1.").format(number=number[:20])
            raise wrong("page", "no_page_number", text, number[:20])
        start = (int(number) - 1) * self.page_size
        found = list(queryset[start : start + self.page_size + 1])
        if start and not found:
            raise Http404
        self.number, self.has_next = int(number), len(found) > self.page_size
        page = found[: self.page_size]
        self.counted = start + len(page)
        if self.has_next:
            self.counted = max(self.counted, queryset.order_by()[: COUNTED + 1].count())
        return page

    def get_schema_operation_parameters(self, view: Any) -> list[dict[str, Any]]:
        """Describe the page number for OpenAPI."""
        schema = {"type": "integer", "minimum": 1, "maximum": 999_999_999}
        described = {"description": "Page number, from 1.", "required": False, "schema": schema}
        return [{"name": self.page_query_param, "in": "query", **described}]

    def get_paginated_response(self, data: Any) -> Response:
        """Return the answer's body."""
        return Response({
            "count": min(self.counted, COUNTED) if self.has_next else self.counted,
            "more_than_count": self.has_next and self.counted > COUNTED,
            "next": self.number + 1 if self.has_next else None,
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
                "next": {"type": "integer", "nullable": True, "description": "The next page's number."},
                "results": schema,
            },
        }
