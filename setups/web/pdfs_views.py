"""The PDFs of many records over HTTP: made a few at a time, then given as one file."""

from __future__ import annotations

import tempfile
from typing import ClassVar

from django.conf import settings
from django.http import FileResponse, HttpResponseBase
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework import status
from rest_framework.request import Request
from rest_framework.response import Response

from setups.audit import records
from setups.audit.asked import Asked
from setups.record import pdf
from setups.verbs.printing import give_pdfs_out
from setups.web import audit_serializers as shapes
from shops.models import Shop
from shops.web.base import RowsView
from shops.web.errors import problems
from shops.web.permissions import MANAGERS
from shops.web.serializers import ProblemsAnswer

NO_PDF = {503: ProblemsAnswer}


class PdfsView(RowsView):
    """What a manager takes away of the sealed records."""

    model = Shop
    roles: ClassVar = {"make": MANAGERS, "give_out": MANAGERS}
    full: ClassVar = frozenset({"give_out"})
    keeps_no_reply: ClassVar = frozenset({"give_out"})

    @extend_schema(
        operation_id="audit_make_pdfs",
        parameters=[shapes.PdfsSliceQuery],
        responses={200: shapes.PdfsSliceAnswer, **NO_PDF},
        filters=False,
    )
    def make(self, request: Request) -> Response:
        """Make the next few PDFs of the records asked for, and say how far it is; asked again until all are made."""
        query = self.query(shapes.PdfsSliceQuery)
        done = query.pop("done", 0)
        try:
            return Response(records.make_slice(Asked(self.person, **query), done, _address(request)))
        except pdf.NoPrinterError as error:
            return _no_printer(error)

    @extend_schema(
        operation_id="audit_give_pdfs_out",
        parameters=[shapes.PdfsQuery],
        request=None,
        responses={(200, "application/zip"): OpenApiTypes.BINARY, 400: ProblemsAnswer, **NO_PDF},
    )
    def give_out(self, request: Request) -> HttpResponseBase:
        """Give the newest PDF of every record asked for as one ZIP file; nothing of it stays on the server."""
        query = self.query(shapes.PdfsQuery)
        # Without a name from the start, and gone with the answer, or with the process.
        file = tempfile.TemporaryFile(dir=settings.DATA)  # noqa: SIM115  # the answer closes it
        try:
            give_pdfs_out(
                self.actor(), Asked(self.person, **query), request.query_params.dict(), _address(request), file
            )
        except pdf.NoPrinterError as error:
            file.close()
            return _no_printer(error)
        except Exception:
            file.close()
            raise
        file.seek(0)
        answer = FileResponse(file, as_attachment=True, filename="records.zip", content_type="application/zip")
        answer["X-Content-Type-Options"] = "nosniff"
        return answer


def _address(request: Request) -> str:
    return request.build_absolute_uri("/record")


def _no_printer(error: pdf.NoPrinterError) -> Response:
    return Response(problems("no_pdf_library", str(error)), status.HTTP_503_SERVICE_UNAVAILABLE)
