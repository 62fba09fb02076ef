"""The service with two more addresses: a view that does nothing and a file, signed in to like every other."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

from django.conf import settings
from django.urls import path

FILE = "COILBOOK_BENCH_FILE"
"""The variable that names the file which GET /api/file/ answers; its folder is served as static files, too."""


def with_bench_views() -> Any:
    """Return the service's WSGI application with POST /api/empty/ and GET /api/file/ added."""
    if FILE in os.environ:
        settings.STATICFILES_DIRS = [*settings.STATICFILES_DIRS, Path(os.environ[FILE]).parent]
    # Settings come first: the application looks the static files up once. Models may be imported only after it.
    from shops.site.wsgi import application  # noqa: PLC0415, I001
    from django.http import FileResponse  # noqa: PLC0415
    from rest_framework.response import Response  # noqa: PLC0415
    from rest_framework.views import APIView  # noqa: PLC0415

    from shops.site import urls  # noqa: PLC0415
    from shops.web.permissions import SignedIn  # noqa: PLC0415

    class Empty(APIView):
        """Answers nothing to whoever is signed in, the body unread."""

        permission_classes = (SignedIn,)

        def post(self, request: Any) -> Response:
            """Answer an empty object."""
            return Response({})

    class File(APIView):
        """Answers one file from the disk to whoever is signed in, and asks nothing about it."""

        permission_classes = (SignedIn,)

        def get(self, request: Any) -> FileResponse:
            """Answer the file."""
            return FileResponse(Path(os.environ[FILE]).open("rb"), content_type="application/pdf")

    urls.urlpatterns[:0] = [path("api/empty/", Empty.as_view()), path("api/file/", File.as_view())]
    return application
