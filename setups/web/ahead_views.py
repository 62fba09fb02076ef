"""Looks ahead of a card, over HTTP: asked for when they are unfolded, and nothing is saved."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, ClassVar

from django.http import HttpResponse
from django.utils import timezone
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import status
from rest_framework.request import Request
from rest_framework.response import Response

from calc.words import say
from calc.writing import Writing
from setups import blockers, former_owner, measured, whole_card
from setups.ahead import cases, ride, spread, stand, suits, wall, window
from setups.figures import as_read, in_readers_units
from setups.models import JobCard
from setups.record import draft
from setups.record.pdf import NoPrinterError
from setups.web import ahead_serializers as shapes
from setups.web.card_views import CardsView
from setups.web.record_serializers import PDF
from setups.web.serializers import EndBody
from setups.writing import written_for
from shops.language import here
from shops.refusals import wrong
from shops.web.errors import problems
from shops.web.permissions import EVERYBODY
from shops.web.serializers import ProblemsAnswer

LOOKS = ("suits", "window", "cases", "ride", "attitude")


class CardAheadView(CardsView):
    """What follows from a card's numbers."""

    roles: ClassVar = dict.fromkeys((*LOOKS, "sure", "draft", "ladder"), EVERYBODY)
    reads: ClassVar = frozenset(LOOKS)

    def held(self) -> JobCard:
        """Return the card of this address with all that hangs on it."""
        card = whole_card.with_parts(self.get_object())
        former_owner.refuse(card, self.person, say("The rider's mass"))
        return card

    def end(self) -> str:
        """Return which end is asked about."""
        return str(self.body(EndBody)["end"])

    def read(self, found: Callable[[Writing], Any]) -> Response:
        """Answer what is found, its words and pictures in the language and units of whoever asks."""
        with as_read(here(), self.person.units):
            return Response(in_readers_units(found(written_for(self.person.units))))

    @extend_schema(operation_id="cards_suits", request=EndBody, responses={200: shapes.WhomAnswer})
    def suits(self, request: Request, pk: int) -> Response:
        """Say which rider masses each spring suits, as a ladder."""
        card, end = self.held(), self.end()
        return self.read(lambda writing: suits.whom(card, end, writing))

    @extend_schema(operation_id="cards_window", request=EndBody, responses={200: shapes.RoomAnswer})
    def window(self, request: Request, pk: int) -> Response:
        """Say which rates and preloads bring both sags into band."""
        card, end = self.held(), self.end()
        return self.read(lambda writing: window.room(card, end, writing))

    @extend_schema(operation_id="cards_cases", request=EndBody, responses={200: shapes.LoadCasesAnswer})
    def cases(self, request: Request, pk: int) -> Response:
        """Say which preload each load case of the card needs."""
        card, end = self.held(), self.end()
        return self.read(lambda _: cases.each_load(card, end))

    @extend_schema(operation_id="cards_ride", request=shapes.GripBody, responses={200: shapes.GripAnswer})
    def ride(self, request: Request, pk: int) -> Response:
        """Compare grip and ride before and after the change of springs."""
        body = self.body(shapes.GripBody)
        card = self.held()
        return self.read(lambda _: ride.grip(card, body["end"], body))

    @extend_schema(
        operation_id="cards_attitude", request=shapes.SittingBody, responses={200: shapes.SittingAnswer}
    )
    def attitude(self, request: Request, pk: int) -> Response:
        """Say how the bike sits, brakes and drives at each stage, from its own chassis figures."""
        body = self.body(shapes.SittingBody)
        card = self.held()
        return self.read(lambda _: stand.sitting(card, body))

    @extend_schema(operation_id="cards_sure", responses={200: shapes.SpreadsAnswer})
    def sure(self, request: Request, pk: int) -> Response:
        """Say how sure every sag and rate of the card is, and the reading worth taking next."""
        card = self.held()
        return self.read(lambda _: spread.spreads(card))

    @extend_schema(operation_id="cards_draft", responses={200: shapes.DraftAnswer})
    def draft(self, request: Request, pk: int) -> Response:
        """Draft what the rider is told, in the shop's language and units."""
        return Response(draft.draft(self.held()))

    @extend_schema(
        operation_id="cards_ladder",
        parameters=[OpenApiParameter("end", OpenApiTypes.STR, OpenApiParameter.PATH, enum=list(measured.ENDS))],
        responses={**PDF, 400: ProblemsAnswer, 404: ProblemsAnswer, 503: ProblemsAnswer},
    )
    def ladder(self, request: Request, pk: int, end: str) -> HttpResponse:
        """Give the ladder of an end as a PDF of one page, to hang on the wall."""
        card = self.held()
        if end not in measured.ENDS:
            raise wrong("end", "unknown_choice", say(
                "{end!r} is none of: {names}.",
                end=end[:40], names=", ".join(measured.ENDS),
            ), end[:40])
        try:
            content = wall.wall_pdf(card, end, blockers.day_in(card.shop, timezone.now()))
        except NoPrinterError as error:
            return Response(problems("no_pdf_library", str(error)), status.HTTP_503_SERVICE_UNAVAILABLE)
        headers: dict[str, Any] = {
            "Content-Disposition": f'inline; filename="springs-{card.number}-{end}.pdf"',
            "Cache-Control": "no-store",
        }
        return HttpResponse(content, content_type="application/pdf", headers=headers)
