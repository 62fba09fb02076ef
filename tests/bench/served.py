"""The service with one more address: a view that does nothing, signed in to like every other."""

from __future__ import annotations

from typing import Any

from django.urls import path

from shops.site.wsgi import application


def with_empty_view() -> Any:
    """Return the service's WSGI application with POST /api/empty/ added."""
    # Models may be imported only once the application has been made.
    from rest_framework.permissions import IsAuthenticated  # noqa: PLC0415
    from rest_framework.response import Response  # noqa: PLC0415
    from rest_framework.views import APIView  # noqa: PLC0415

    from shops.site import urls  # noqa: PLC0415

    class Empty(APIView):
        """Answers nothing to whoever is signed in, the body unread."""

        permission_classes = (IsAuthenticated,)

        def post(self, request: Any) -> Response:
            """Answer an empty object."""
            return Response({})

    urls.urlpatterns.insert(0, path("api/empty/", Empty.as_view()))
    return application
