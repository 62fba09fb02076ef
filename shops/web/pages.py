"""Lists come in pages of fifty: {"count", "next": the next page's number or null, "results"}."""

from __future__ import annotations

from typing import Any

from django.core.paginator import InvalidPage
from rest_framework.pagination import PageNumberPagination
from rest_framework.response import Response

from shops.refusals import wrong


class Pages(PageNumberPagination):
    """Page numbers in `?page=`."""

    page_size = 50
    page_query_description = "Page number, from 1."

    def paginate_queryset(self, queryset: Any, request: Any, view: Any = None) -> list[Any]:
        """Return the rows of the page asked for; one that does not exist is refused with its number named."""
        number = request.query_params.get(self.page_query_param, "1")
        paginator = self.django_paginator_class(queryset, self.page_size)
        try:
            if not number.isascii() or not number.isdigit():
                raise InvalidPage
            page = paginator.page(int(number[:9]))
        except InvalidPage:
            text = f"There is no page {number[:20]}: pages are whole numbers from 1 to {paginator.num_pages}."
            raise wrong("page", "no_such_page", text, number[:20]) from None
        self.page, self.request = page, request
        return list(page)

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
