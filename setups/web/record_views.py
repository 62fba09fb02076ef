"""Sealing, amending, sharing and reading records: parsed here, done by `setups.record`."""

from __future__ import annotations

from typing import Any, ClassVar, TypeVar

from django.http import Http404, HttpResponse
from django.utils.http import content_disposition_header
from drf_spectacular.utils import extend_schema
from rest_framework import status
from rest_framework.negotiation import DefaultContentNegotiation
from rest_framework.permissions import AllowAny
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from calc.words import say
from setups import former_owner
from setups.models import CustomerLink, SealedRecord
from setups.record import erase, links, page, pdf, reading, seal, validity
from setups.web import record_serializers as shapes
from setups.web.card_views import CardsView, doing
from shops.refusals import wrong
from shops.web.base import checked
from shops.web.errors import problems
from shops.web.permissions import EVERYBODY, MANAGERS
from shops.web.serializers import ProblemsAnswer
from shops.web.throttle import AddressThrottle

NO_PDF = {503: ProblemsAnswer}
REFUSED = {400: ProblemsAnswer, 404: ProblemsAnswer}
R = TypeVar("R", bound=HttpResponse)


class CardRecordView(CardsView):
    """What is done with a card's record."""

    roles: ClassVar = {
        "seal": EVERYBODY,
        "amend": EVERYBODY,
        "erase": MANAGERS,
        "share": EVERYBODY,
        "revoke": EVERYBODY,
        "record": EVERYBODY,
        "record_pdf": EVERYBODY,
    }
    full: ClassVar = frozenset({"seal", "amend", "erase"})
    # Its answer holds a secret that nobody may keep.
    keeps_no_reply: ClassVar = frozenset({"share"})

    @doing("record_seal")
    def seal(self, request: Request, pk: int) -> Response:
        """Seal the card into the shop's chain; 409 with everything that is missing."""
        card = self.get_object()
        seal.seal(self.actor(), card)
        return self.whole(card)

    @doing("record_amend", shapes.AmendmentBody)
    def amend(self, request: Request, pk: int) -> Response:
        """Add an amendment to the sealed record; what was sealed stays."""
        card = self.get_object()
        former_owner.refuse(card, self.person, say("This record"))
        seal.amend(self.actor(), card, **self.body(shapes.AmendmentBody))
        return self.whole(card)

    @doing("record_erase", shapes.ErasureBody)
    def erase(self, request: Request, pk: int) -> Response:
        """Erase the personal values of the sealed record; its digests hold on, and its PDF is laid out anew."""
        card = self.get_object()
        erase.erase(self.actor(), card, **self.body(shapes.ErasureBody))
        return self.whole(card)

    @extend_schema(
        operation_id="record_share",
        request=shapes.LinkBody,
        responses={201: shapes.LinkAnswer, **REFUSED, 403: ProblemsAnswer, 409: ProblemsAnswer},
    )
    def share(self, request: Request, pk: int) -> Response:
        """Make a customer link; its secret is answered this once and never again."""
        card = self.get_object()
        former_owner.refuse(card, self.person, say("This record"))
        link, secret = links.share(self.actor(), card, **self.body(shapes.LinkBody))
        body = {"id": link.pk, "url": f"/record#{secret}", "expires_at": link.expires_at}
        return private(Response(shapes.LinkAnswer(body).data, status.HTTP_201_CREATED))

    @doing("record_revoke_link")
    def revoke(self, request: Request, pk: int, lid: int) -> Response:
        """Revoke a customer link at once."""
        card = self.get_object()
        links.revoke(self.actor(), self.part_of(CustomerLink, lid, card=card))
        return self.whole(card)

    @extend_schema(operation_id="record_show", responses={200: shapes.RecordAnswer, **REFUSED})
    def record(self, request: Request, pk: int) -> Response:
        """Show the sealed record with its amendments: both documents, as they were frozen."""
        card = self.get_object()
        found = reading.links_of(card)
        if not found:
            raise Http404
        first, *later = found
        told = _record(first, later)
        if former_owner.hidden_from(card, self.person):
            told = former_owner.record_without_person(told)
        return private(Response(shapes.RecordAnswer(told).data))

    @extend_schema(
        operation_id="record_pdf",
        parameters=[shapes.PdfQuery],
        responses={**shapes.PDF, **REFUSED, **NO_PDF},
    )
    def record_pdf(self, request: Request, pk: int) -> HttpResponse:
        """Give the record's PDF, stored at the first request; `number` asks for an older one of this
        card's."""
        number = self.query(shapes.PdfQuery).get("number")
        stored = pdf.stored_for(self.person, pk, number)
        if stored is not None:
            return _file(stored[1], f"record-{stored[0]}.pdf")
        card = self.get_object()
        former_owner.refuse(card, self.person, say("This PDF"))
        return _pdf(request, pdf.record_to_print(card, number), f"record-{card.number}.pdf")


class AnyAccept(DefaultContentNegotiation):
    """Takes every Accept header: these views answer a PDF, and a refusal as JSON."""

    def select_renderer(self, request: Request, renderers: Any, format_suffix: str | None = None) -> Any:
        """Return the renderer of refusals; a PDF needs none."""
        return renderers[0], renderers[0].media_type


class OpeningThrottle(AddressThrottle):
    """Slows down whoever tries secrets: so many openings a minute from one address."""

    scope = "record"
    rate = "30/min"


class PublicView(APIView):
    """A view for people who sign in nowhere: no session is read, so no CSRF token is needed."""

    authentication_classes = ()
    permission_classes = (AllowAny,)
    throttle_classes = (OpeningThrottle,)


class OpenRecordView(PublicView):
    """The customer's page."""

    @extend_schema(
        operation_id="record_open",
        auth=[],
        request=shapes.SecretBody,
        responses={200: shapes.PageAnswer, **REFUSED, 429: ProblemsAnswer},
    )
    def post(self, request: Request) -> Response:
        """Exchange a link's secret for the page; unknown, expired and revoked ones are answered alike."""
        return private(Response(page.page_of(_link(request))))


class RecordPdfView(PublicView):
    """The customer's PDF."""

    content_negotiation_class = AnyAccept

    @extend_schema(
        operation_id="record_open_pdf",
        auth=[],
        request=shapes.SecretBody,
        responses={**shapes.PDF, **REFUSED, 429: ProblemsAnswer, **NO_PDF},
    )
    def post(self, request: Request) -> HttpResponse:
        """Exchange a link's secret for the PDF."""
        card = _link(request).card
        return _pdf(request, pdf.record_to_print(card, None), "suspension-record.pdf")


class CheckRecordView(PublicView):
    """Whether a printed record is valid."""

    @extend_schema(
        operation_id="record_check",
        auth=[],
        request=shapes.PrintedBody,
        responses={200: shapes.PageAnswer, 400: ProblemsAnswer, 429: ProblemsAnswer},
    )
    def post(self, request: Request) -> Response:
        """Say whether the record of this number and head is valid; nothing personal is told."""
        body = checked(shapes.PrintedBody, request.data, request=request)
        if not (body["number"].isascii() and body["number"].isdigit()):
            raise wrong("number", "not_a_number", say("Give the number as the PDF prints it."), body["number"])
        return private(Response(validity.validity(int(body["number"]), body["head"])))


def _link(request: Request) -> CustomerLink:
    """Return the link that the request's secret opens; 404 where it opens none."""
    secret = checked(shapes.SecretBody, request.data, request=request)["secret"]
    link = links.open_link(secret, request.META.get("REMOTE_ADDR") or None)
    if link is None:
        raise Http404
    return link


def _record(first: SealedRecord, later: list[SealedRecord]) -> dict[str, Any]:
    names = ("number", "head", "public_digest", "internal_digest", "previous_head")
    return {
        **{name: getattr(first, name) for name in names},
        "public": reading.frozen(first, "public", first),
        "internal": reading.frozen(first, "internal", first),
        "personal": reading.kept(first),
        "texts": reading.texts(first),
        "withheld": [],
        "amendments": [
            {
                "number": one.number,
                "head": one.head,
                "public": reading.frozen(one, "public", first),
                "internal": reading.frozen(one, "internal", first),
                "personal": reading.kept(one),
            }
            for one in later
        ],
    }


def _pdf(request: Request, record: SealedRecord, name: str) -> HttpResponse:
    """Answer with a record's PDF, or 503 with the packages that the machine lacks."""
    try:
        content = pdf.pdf_of(record, request.build_absolute_uri("/record"))
    except pdf.NoPrinterError as error:
        body = problems("no_pdf_library", str(error))
        return Response(body, status.HTTP_503_SERVICE_UNAVAILABLE)
    return _file(content, name)


def _file(content: bytes, name: str) -> HttpResponse:
    disposition = content_disposition_header(False, name) or "inline"
    headers = {"Content-Disposition": disposition, "X-Content-Type-Options": "nosniff"}
    return private(HttpResponse(content, content_type="application/pdf", headers=headers))


def private(response: R) -> R:
    """Keep an answer out of every cache and search index, and its address out of every referrer."""
    response["Cache-Control"] = "no-store"
    response["X-Robots-Tag"] = "noindex, nofollow"
    response["Referrer-Policy"] = "no-referrer"
    return response
