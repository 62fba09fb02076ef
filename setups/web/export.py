"""The whole business as a file over HTTP."""

from __future__ import annotations

import tempfile
from typing import ClassVar

from django.conf import settings
from django.http import FileResponse
from django.utils import timezone
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework.request import Request

from setups.verbs.leaving import export_business
from setups.web.lists import AnyAccept
from shops.models import Business, Shop
from shops.web.base import RowsView
from shops.web.permissions import OWNERS


class ExportView(RowsView):
    """The owner's way out with everything."""

    model = Shop
    content_negotiation_class = AnyAccept
    roles: ClassVar = {"export": OWNERS}
    full: ClassVar = frozenset({"export"})
    keeps_no_reply: ClassVar = frozenset({"export"})

    @extend_schema(
        operation_id="business_export", request=None, responses={(200, "application/zip"): OpenApiTypes.BINARY}
    )
    def export(self, request: Request) -> FileResponse:
        """Give the whole business as a ZIP file of open files; nothing of it stays on the server."""
        # Without a name from the start, and gone with the answer, or with the process.
        file = tempfile.TemporaryFile(dir=settings.DATA)  # noqa: SIM115  # the answer closes it
        export_business(self.actor(), file)
        file.seek(0)
        name = f"{file_name(self.person.business)}-{timezone.now():%Y-%m-%d}.zip"
        answer = FileResponse(file, as_attachment=True, filename=name, content_type="application/zip")
        answer["X-Content-Type-Options"] = "nosniff"
        return answer


def file_name(business: Business) -> str:
    """Return the business's name as a file may have it."""
    kept = "".join(sign if sign.isascii() and sign.isalnum() else "-" for sign in business.name.lower())
    return "-".join(part for part in kept.split("-") if part) or "business"
