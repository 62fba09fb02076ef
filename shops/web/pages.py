"""Lists come in pages of fifty: {"count", "next": the next page's number or null, "results"}."""

from __future__ import annotations

import re
from typing import Any

from django.core.paginator import InvalidPage
from django.http import Http404
from rest_framework.pagination import PageNumberPagination
from rest_framework.response import Response

from shops.refusals import wrong


class Pages(PageNumberPagination):
    """Page numbers in `?page=`."""

    page_size = 50

    def paginate_queryset(self, queryset: Any, request: Any, view: Any = None) -> list[Any]:
        """Return the page asked for: 400 if that is no page number, 404 if the list ends before it."""
        number = request.query_params.get(self.page_query_param, "1")
        if not re.fullmatch("0*[1-9][0-9]{0,8}", number):
            text = f"{number[:20]} is no page number: pages are counted from 1."
            raise wrong("page", "no_page_number", text, number[:20])
        paginator = self.django_paginator_class(queryset, self.page_size)
        try:
            page = paginator.page(int(number))
        except InvalidPage:
            raise Http404 from None
        self.page, self.request = page, request
        return list(page)

    def get_schema_operation_parameters(self, view: Any) -> list[dict[str, Any]]:
        """Describe the page number for OpenAPI."""
        schema = {"type": "integer", "minimum": 1, "maximum": 999_999_999}
        described = {"description": "Page number, from 1.", "required": False, "schema": schema}
        return [{"name": self.page_query_param, "in": "query", **described}]

    def get_paginated_response(self, data: Any) -> Response:
        """Return the answer's body."""
        page = self.page
        if page is None:
            raise RuntimeError("paginate_queryset comes first")
        return Response({
            "count": page.paginator.count,
            "next": page.next_page_number() if page.has_next() else None,
            "results": data,
        })

    def get_paginated_response_schema(self, schema: dict[str, Any]) -> dict[str, Any]:
        """Describe the body for OpenAPI."""
        return {
            "type": "object",
            "required": ["count", "next", "results"],
            "properties": {
                "count": {"type": "integer", "minimum": 0},
                "next": {"type": "integer", "nullable": True, "description": "The next page's number."},
                "results": schema,
            },
        }
