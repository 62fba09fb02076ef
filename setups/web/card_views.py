"""Job cards and all that hangs on them: parsed here, done by the verbs, answered with the whole card."""

from __future__ import annotations

from typing import Any, ClassVar

from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import status
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from calc.words import say
from setups import following, former_owner, ranking, search, sums, whole_card
from setups.figures import as_read, in_readers_units
from setups.models import JobCard, PartLine, Reading, Setting, TorqueLine
from setups.search_models import SearchWord
from setups.verbs import cards, parts, readings, settings, sign_offs, torques
from setups.web import serializers as shapes
from setups.web.follow_serializers import FollowedEnds
from setups.web.loads_views import LoadsActions
from setups.writing import writing_of
from shops.access import Scoped, rows
from shops.language import here
from shops.refusals import wrong
from shops.web.base import RowsView
from shops.web.errors import PreconditionRequired
from shops.web.permissions import EVERYBODY

PART_OF_CARD = {Setting, TorqueLine, PartLine}
WORK = (
    "create",
    "partial_update",
    "take_readings",
    "strike_reading",
    "take_loads",
    "write_setting",
    "fit",
    "copy_to_built",
    "add_torque",
    "one_torque",
    "remove_torque",
    "tighten",
    "check",
    "add_part",
    "one_part",
    "remove_part",
    "read_caution",
    "sign_off",
)
READ = ("list", "retrieve", "preview", "sides", "choose", "loads")
IF_MATCH = OpenApiParameter(
    "If-Match", OpenApiTypes.STR, OpenApiParameter.HEADER, description='The version, as in "3".'
)
IF_NONE_MATCH = OpenApiParameter(
    "If-None-Match",
    OpenApiTypes.STR,
    OpenApiParameter.HEADER,
    description="* for a first setting, instead of If-Match.",
)


def doing(operation: str, request: Any = None, *, code: int = 200, **more: Any) -> Any:
    """Return the schema of an action that answers with the whole card."""
    return extend_schema(operation_id=operation, request=request, responses={code: shapes.CardAnswer}, **more)


class CardsView(LoadsActions, RowsView):
    """The job cards of the business."""

    model = JobCard
    serializer_class = shapes.CardAnswer
    related = ("shop", "business", "bike", "bike__owner", "customer", "rider", "opened_by")
    roles: ClassVar = dict.fromkeys((*WORK, *READ), EVERYBODY)
    reads: ClassVar = frozenset({"preview", "choose", "loads"})
    versionless: ClassVar = frozenset({"write_setting"})
    full: ClassVar = frozenset({"check"})

    def represent(self, row: JobCard) -> Any:
        """Return the whole card."""
        return whole_card.whole_card(row, self.person)

    def represent_stale(self, row: Scoped) -> Any:
        """Return what was changed meanwhile, as it stands now: the card, or the part of it."""
        if type(row) not in PART_OF_CARD:
            return super().represent_stale(row)
        now: Any = self.part_of(type(row), row.pk)
        if isinstance(now, Setting):
            return {"version": now.version, "body": now.body}
        return whole_card.torque(now) if isinstance(now, TorqueLine) else whole_card.part(now)

    def whole(self, card: JobCard, code: int = status.HTTP_200_OK) -> Response:
        """Answer with the card as it stands now."""
        fresh = self.get_queryset().filter(pk=card.pk).get()
        return self.answer(fresh, code)

    @extend_schema(
        operation_id="cards_list", parameters=[shapes.CardQuery], responses={200: shapes.CardRow(many=True)}
    )
    def list(self, request: Request) -> Response:
        """List the cards, newest first; `search` looks at the beginnings of words in number, bike, plate,
        frame number and customer, all words.
        """
        query = self.query(shapes.CardQuery)
        # No more is joined than a row tells: to plan a join of eight takes a database longer than to do it.
        cards = rows(JobCard, self.person).select_related("shop", "bike", "customer", "opened_by")
        found = former_owner.hide_from(cards, self.person)
        told = former_owner.not_hidden(self.person)
        if query.get("step"):
            found = found.filter(step=query["step"])
        if query.get("shop") is not None:
            found = found.filter(shop_id=query["shop"])
        of = SearchWord.Of
        places = {of.BIKE: "bike_id", of.CUSTOMER: ("customer_id", told), of.CARD: "pk"}
        narrowed = search.narrowed(found, self.person, query.get("search", ""), places)
        page = self.page_of(narrowed.rows, narrowed.count)
        return self.get_paginated_response(shapes.CardRow(page, many=True).data)

    @doing("cards_show")
    def retrieve(self, request: Request, pk: int) -> Response:
        """Show the whole card."""
        return self.answer(self.get_object())

    @doing("cards_open", shapes.CardBody, code=201)
    def create(self, request: Request) -> Response:
        """Open a card in one's own shop; the bike's own data become its settings as received."""
        card = cards.open_card(self.actor(), **self.body(shapes.CardBody))
        return self.whole(card, status.HTTP_201_CREATED)

    @doing("cards_change", shapes.CardChange)
    def partial_update(self, request: Request, pk: int) -> Response:
        """Change what stands on the card's face."""
        card, version = self.get_object(), self.expected_version()
        wanted = self.body(shapes.CardChange, partial=True)
        if {"rider", *former_owner.WITHHELD} & set(wanted):
            former_owner.refuse(card, self.person, say("What this changes"))
        cards.change_card(self.actor(), card, version, wanted)
        return self.whole(card)

    @doing("cards_take_readings", shapes.ReadingsBody)
    @action(detail=True, methods=["post"], url_path="readings")
    def take_readings(self, request: Request, pk: int) -> Response:
        """Keep raw readings, all of them or none; a newer one of a kind replaces an older, which is kept."""
        card = self.get_object()
        readings.take_readings(self.actor(), card, self.body(shapes.ReadingsBody)["readings"])
        return self.whole(card)

    @doing("cards_strike_reading")
    @action(detail=True, methods=["post"], url_path="readings/<int:rid>/strike")
    def strike_reading(self, request: Request, pk: int, rid: int) -> Response:
        """Strike a reading out; it stays, marked."""
        card = self.get_object()
        readings.strike_reading(self.actor(), card, self.part_of(Reading, rid, card=card))
        return self.whole(card)

    @doing(
        "cards_write_setting",
        {
            "application/json": {
                "anyOf": [
                    {"$ref": "#/components/schemas/FrontSettingShapeRequest"},
                    {"$ref": "#/components/schemas/RearSettingShapeRequest"},
                ]
            }
        },
        parameters=[
            IF_MATCH,
            IF_NONE_MATCH,
            OpenApiParameter("stage", OpenApiTypes.STR, OpenApiParameter.PATH, enum=Setting.Stage.values),
            OpenApiParameter("end", OpenApiTypes.STR, OpenApiParameter.PATH, enum=["front", "rear"]),
        ],
    )
    @action(detail=True, methods=["put"], url_path="settings/<str:stage>/<str:end>")
    def write_setting(self, request: Request, pk: int, stage: str, end: str) -> Response:
        """Write how an end stands at a stage: the whole body, with the version it replaces."""
        card = self.get_object()
        for word, known, field in ((stage, Setting.Stage.values, "stage"), (end, ["front", "rear"], "end")):
            if word not in known:
                raise wrong(
                    field, "unknown_choice", say(
                        "{word!r} is none of: {names}.",
                        word=word[:40], names=", ".join(known),
                    ), word[:40]
                )
        settings.write_setting(self.actor(), card, stage, end, request.data, self.version_or_first())
        return self.whole(card)

    def version_or_first(self) -> int | None:
        """Return the version in If-Match, or None for If-None-Match: *; one of the two must be there."""
        if self.request.headers.get("If-None-Match", "").strip() == "*":
            return None
        if self.request.headers.get("If-Match") is None:
            raise PreconditionRequired
        return self.expected_version()

    @extend_schema(operation_id="cards_preview", request=shapes.PreviewBody, responses={200: FollowedEnds})
    @action(detail=True, methods=["post"])
    def preview(self, request: Request, pk: int) -> Response:
        """Compute settings that are being typed; nothing is saved."""
        card = whole_card.with_parts(self.get_object())
        former_owner.refuse(card, self.person, say("The rider's mass"))
        body = self.body(shapes.PreviewBody)
        stage, against = body.get("stage", "chosen"), body.get("against")
        found: dict[str, Any] = {}
        with as_read(here(), self.person.units):
            for end in (end for end in ("front", "rear") if end in body):
                side = sums.preview(card, end, body[end]["body"], stage, against, writing_of(self.person.units))
                ready = stage == following.STAGE and side.result is not None
                basis = following.basis(card, end, side.request or {}, against) if ready else None
                found[end] = {**in_readers_units(side.as_dict()), "basis": basis}
        return Response(found)

    @extend_schema(operation_id="cards_sides", responses={200: shapes.SidesAnswer})
    @action(detail=True, methods=["get"])
    def sides(self, request: Request, pk: int) -> Response:
        """Compute every saved setting: result, verdict and picture per stage and end."""
        card = self.get_object()
        with as_read(here(), self.person.units):
            found = sums.sides(whole_card.with_parts(card), writing_of(self.person.units))
            stages = {
                stage: {end: in_readers_units(side.as_dict()) for end, side in found[stage].items()}
                for stage in sums.STAGES
            }
        if former_owner.hidden_from(card, self.person):
            return Response(former_owner.sides_without_person(stages))
        return Response({**stages, "preload_no_cure": found["preload_no_cure"]})

    @extend_schema(operation_id="cards_choose", request=shapes.EndBody, responses={200: shapes.CardChoice})
    @action(detail=True, methods=["post"])
    def choose(self, request: Request, pk: int) -> Response:
        """Rank the springs of the card's shop for one end; nothing is saved."""
        card = whole_card.with_parts(self.get_object())
        former_owner.refuse(card, self.person, say("The rider's mass"))
        with as_read(here(), self.person.units):
            return Response(in_readers_units(ranking.ranked(card, self.body(shapes.EndBody)["end"]).as_dict()))

    @doing("cards_fit", shapes.FitBody)
    @action(detail=True, methods=["post"])
    def fit(self, request: Request, pk: int) -> Response:
        """Write the chosen setting with a spring of the list: preload, corrected gap, spacer."""
        card, body = self.get_object(), self.body(shapes.FitBody)
        former_owner.refuse(card, self.person, say("The rider's mass"))
        settings.fit(self.actor(), card, body["end"], body["stock_spring"], body.get("preload_mm"))
        return self.whole(card)

    @doing("cards_copy_to_built", shapes.EndBody)
    @action(detail=True, methods=["post"], url_path="as-built")
    def copy_to_built(self, request: Request, pk: int) -> Response:
        """Start the as-built setting from the chosen one."""
        card = self.get_object()
        settings.copy_to_built(self.actor(), card, self.body(shapes.EndBody)["end"])
        return self.whole(card)

    @doing("cards_add_torque", shapes.TorqueBody)
    @action(detail=True, methods=["post"], url_path="torques")
    def add_torque(self, request: Request, pk: int) -> Response:
        """Add a torque line."""
        card = self.get_object()
        torques.add_torque(self.actor(), card, **self.body(shapes.TorqueBody))
        return self.whole(card)

    @doing("cards_change_torque", shapes.TorqueChange)
    @action(detail=True, methods=["patch"], url_path="torques/<int:tid>")
    def one_torque(self, request: Request, pk: int, tid: int) -> Response:
        """Change a torque line; a new value takes tightening and check back."""
        card, version = self.get_object(), self.expected_version()
        line = self.part_of(TorqueLine, tid, card=card)
        torques.change_torque(self.actor(), line, version, self.body(shapes.TorqueChange, partial=True))
        return self.whole(card)

    @doing("cards_remove_torque", parameters=[shapes.ReasonQuery])
    @one_torque.mapping.delete
    def remove_torque(self, request: Request, pk: int, tid: int) -> Response:
        """Remove a line that does not apply; the reason goes into the trail."""
        card, version = self.get_object(), self.expected_version()
        said = self.body(shapes.ReasonBody) if request.data else self.query(shapes.ReasonQuery)
        reason = said.get("reason", "")
        torques.remove_torque(self.actor(), self.part_of(TorqueLine, tid, card=card), version, reason)
        return self.whole(card)

    @doing("cards_tighten")
    @action(detail=True, methods=["post"], url_path="torques/<int:tid>/tighten")
    def tighten(self, request: Request, pk: int, tid: int) -> Response:
        """Note that one has tightened the fastener."""
        card = self.get_object()
        torques.tighten(self.actor(), self.part_of(TorqueLine, tid, card=card))
        return self.whole(card)

    @doing("cards_check")
    @action(detail=True, methods=["post"], url_path="torques/<int:tid>/check")
    def check(self, request: Request, pk: int, tid: int) -> Response:
        """Note that one has checked a fastener that another person tightened."""
        card = self.get_object()
        torques.check(self.actor(), self.part_of(TorqueLine, tid, card=card))
        return self.whole(card)

    @doing("cards_add_part", shapes.PartBody)
    @action(detail=True, methods=["post"], url_path="parts")
    def add_part(self, request: Request, pk: int) -> Response:
        """Note a part fitted or given back."""
        card = self.get_object()
        parts.add_part(self.actor(), card, **self.body(shapes.PartBody))
        return self.whole(card)

    @doing("cards_change_part", shapes.PartBody)
    @action(detail=True, methods=["patch"], url_path="parts/<int:lid>")
    def one_part(self, request: Request, pk: int, lid: int) -> Response:
        """Change a part's line."""
        card, version = self.get_object(), self.expected_version()
        line = self.part_of(PartLine, lid, card=card)
        parts.change_part(self.actor(), line, version, self.body(shapes.PartBody, partial=True))
        return self.whole(card)

    @doing("cards_remove_part")
    @one_part.mapping.delete
    def remove_part(self, request: Request, pk: int, lid: int) -> Response:
        """Remove a part's line."""
        card, version = self.get_object(), self.expected_version()
        parts.remove_part(self.actor(), self.part_of(PartLine, lid, card=card), version)
        return self.whole(card)

    @doing("cards_read_caution")
    @action(detail=True, methods=["post"], url_path="cautions/<slug:key>/read")
    def read_caution(self, request: Request, pk: int, key: str) -> Response:
        """Note that one has read a caution."""
        card = self.get_object()
        sign_offs.read_caution(self.actor(), card, key)
        return self.whole(card)

    @doing("cards_sign_off", shapes.SignOffBody)
    @action(detail=True, methods=["post"], url_path="sign-offs")
    def sign_off(self, request: Request, pk: int) -> Response:
        """Answer for a part of the job."""
        card = self.get_object()
        sign_offs.sign_off(self.actor(), card, self.body(shapes.SignOffBody)["part"])
        return self.whole(card)
