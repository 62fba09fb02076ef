"""The stateless calculations over HTTP: parse strictly, call the one function, answer."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, ClassVar

from django.http import HttpResponse
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiResponse, PolymorphicProxySerializer, extend_schema
from rest_framework.permissions import IsAuthenticated
from rest_framework.renderers import JSONRenderer
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.serializers import Serializer
from rest_framework.views import APIView

from calc import units
from calc.bands import BANDS
from calc.choose import choose
from calc.coil import coil
from calc.evaluate import evaluate
from calc.gap import gap
from calc.needed import needed
from calc.picture import picture
from calc.sag import sag
from calc.web import serializers as shapes
from calc.web.fields import ByKind, reader

REFUSALS = {
    400: OpenApiResponse(shapes.ProblemsSerializer, "What was sent cannot be computed with; every problem found."),
    401: OpenApiResponse(shapes.ProblemsSerializer, "Not signed in."),
    403: OpenApiResponse(shapes.ProblemsSerializer, "Not allowed, or the CSRF token is missing."),
}
"""The refusals that every calculation documents."""


class PictureRenderer(JSONRenderer):
    """Lets a client ask for image/svg+xml alone; a refusal in the picture's place stays JSON."""

    media_type = "image/svg+xml"
    format = "svg"


class Calculation(APIView):
    """A calculation for anybody signed in; `shape` parses its body."""

    permission_classes = (IsAuthenticated,)
    shape: ClassVar[type[Serializer[Any]] | ByKind]

    def parsed(self, request: Request) -> Any:
        """Return the body in the shape asked for, or raise what `problems_handler` words."""
        shape = self.shape if isinstance(self.shape, ByKind) else reader(self.shape)
        return shape.run_validation(request.data)


class EvaluateView(Calculation):
    """What the springs, air and leverage of a bike's ends do."""

    shape = shapes.EvaluateSerializer

    @extend_schema(
        operation_id="calc_evaluate",
        request=shapes.EvaluateSerializer,
        responses={200: shapes.EvaluateAnswerSerializer, **REFUSALS},
    )
    def post(self, request: Request) -> Response:
        """Sags, rates, forces, energy and curve of each end given."""
        return Response(evaluate(self.parsed(request)))


class NeededView(Calculation):
    """The spring that gives two target sags."""

    shape = shapes.NeededSerializer

    @extend_schema(
        operation_id="calc_needed",
        request=shapes.NeededSerializer,
        responses={200: shapes.NeededAnswerSerializer, **REFUSALS},
    )
    def post(self, request: Request) -> Response:
        """Rate and preload of the straight spring that gives both target sags, or why none does."""
        return Response(needed(self.parsed(request)))


class ChooseView(APIView):
    """A list of springs, ranked for one end."""

    permission_classes = (IsAuthenticated,)

    @extend_schema(
        operation_id="calc_choose",
        request=PolymorphicProxySerializer(
            "Choose",
            [shapes.ChooseFrontSerializer, shapes.ChooseRearSerializer],
            resource_type_field_name=None,
        ),
        responses={200: shapes.ChooseAnswerSerializer, **REFUSALS},
    )
    def post(self, request: Request) -> Response:
        """Rank a list of springs for one end, with the probability that both sags land in band."""
        rear = isinstance(request.data, Mapping) and "rear" in request.data and "front" not in request.data
        shape = shapes.ChooseRearSerializer if rear else shapes.ChooseFrontSerializer
        return Response(choose(reader(shape).run_validation(request.data)))


class CoilView(Calculation):
    """What a coil's dimensions say."""

    shape = shapes.CoilSerializer

    @extend_schema(
        operation_id="calc_coil",
        request=shapes.CoilSerializer,
        responses={200: shapes.CoilAnswerSerializer, **REFUSALS},
    )
    def post(self, request: Request) -> Response:
        """Rate, stress, solid length, displaced volume, mass and surge of a coil."""
        return Response(coil(self.parsed(request)))


class GapView(Calculation):
    """The air gap to set, the oil to add, or the spacer to cut."""

    shape = ByKind(shapes.GAP_SHAPES, key="use")

    @extend_schema(
        operation_id="calc_gap",
        request=PolymorphicProxySerializer("Gap", dict(shapes.GAP_SHAPES), resource_type_field_name="use"),
        responses={200: shapes.GapAnswerSerializer, **REFUSALS},
    )
    def post(self, request: Request) -> Response:
        """Air gap after a spring swap or for a wanted force; spacer for a preload."""
        return Response(gap(self.parsed(request)))


class SagView(Calculation):
    """Sag from raw readings."""

    shape = shapes.SagSerializer

    @extend_schema(
        operation_id="calc_sag",
        request=shapes.SagSerializer,
        responses={200: shapes.SagAnswerSerializer, **REFUSALS},
    )
    def post(self, request: Request) -> Response:
        """Sag, friction band and uncertainty from raw readings."""
        return Response(sag(self.parsed(request)))


class PictureView(Calculation):
    """The one picture."""

    shape = shapes.PictureSerializer
    renderer_classes = (JSONRenderer, PictureRenderer)

    @extend_schema(
        operation_id="calc_picture",
        request=shapes.PictureSerializer,
        responses={(200, "image/svg+xml"): OpenApiResponse(OpenApiTypes.STR, "The SVG's text."), **REFUSALS},
    )
    def post(self, request: Request) -> HttpResponse:
        """Draw force over travel of one end's states, as SVG."""
        return HttpResponse(picture(self.parsed(request)), content_type="image/svg+xml; charset=utf-8")


class UnitsView(APIView):
    """The tables of exact factors and of accepted bands."""

    permission_classes = (IsAuthenticated,)

    @extend_schema(
        operation_id="units",
        responses={200: shapes.UnitsAnswerSerializer, 401: REFUSALS[401], 403: REFUSALS[403]},
    )
    def get(self, request: Request) -> Response:
        """Every unit a person may choose, with its factor to the metric one that travels, and every band."""
        shown = ("unit", "low", "high", "open_low")
        bands = {
            name: {"what": band.named, **{each: getattr(band, each) for each in shown}} for name, band in BANDS.items()
        }
        return Response({"quantities": units.table(), "bands": bands})
