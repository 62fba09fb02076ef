"""How sure, which loads, whom a spring suits, over HTTP: parse strictly, call the one function, answer."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, ClassVar

from django.urls import path
from drf_spectacular.utils import PolymorphicProxySerializer, extend_schema
from rest_framework.permissions import IsAuthenticated
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from calc.cases import cases
from calc.loads import loads
from calc.suits import suits
from calc.uncertainty import uncertainty
from calc.web import sure_serializers as shapes
from calc.web.fields import reader
from calc.web.serializers import Shape
from calc.web.views import REFUSALS
from calc.window import window


class OneEnd(APIView):
    """A calculation on one end, for anybody signed in; `ends` parse the body with a front or a rear."""

    permission_classes = (IsAuthenticated,)
    ends: ClassVar[Mapping[str, Shape]]

    def answered(self, request: Request, calculate: Callable[[Any], Any]) -> Response:
        """Return what `calculate` says of the body, or raise what `problems_handler` words."""
        sent = request.data
        rear = isinstance(sent, Mapping) and "rear" in sent and "front" not in sent
        return Response(calculate(reader(self.ends["rear" if rear else "front"]).run_validation(sent)))


def _either(name: str, each: Mapping[str, Shape]) -> PolymorphicProxySerializer:
    return PolymorphicProxySerializer(name, [each["front"], each["rear"]], resource_type_field_name=None)


class UncertaintyView(OneEnd):
    """How sure the sags and the needed spring are."""

    ends = shapes.UNCERTAINTY

    @extend_schema(
        operation_id="calc_uncertainty",
        request=_either("Uncertainty", shapes.UNCERTAINTY),
        responses={200: shapes.UncertaintyAnswerSerializer, **REFUSALS},
    )
    def post(self, request: Request) -> Response:
        """Intervals, what each input adds to the spread, and the reading worth taking next."""
        return self.answered(request, uncertainty)


class LoadsView(OneEnd):
    """An axle's loads, three ways."""

    ends = shapes.LOADS

    @extend_schema(
        operation_id="calc_loads",
        request=_either("Loads", shapes.LOADS),
        responses={200: shapes.AxleLoadsAnswerSerializer, **REFUSALS},
    )
    def post(self, request: Request) -> Response:
        """Loads by scales, by the rider's share and by the sags; how they agree and what would explain it."""
        return self.answered(request, loads)


class SuitsView(OneEnd):
    """Whom springs suit."""

    ends = shapes.SUITS

    @extend_schema(
        operation_id="calc_suits",
        request=_either("Suits", shapes.SUITS),
        responses={200: shapes.SuitsAnswerSerializer, **REFUSALS},
    )
    def post(self, request: Request) -> Response:
        """The rider masses that each spring of a list suits, and the list as a ladder."""
        return self.answered(request, suits)


class CasesView(OneEnd):
    """One spring, several loads."""

    ends = shapes.CASES

    @extend_schema(
        operation_id="calc_cases",
        request=_either("Cases", shapes.CASES),
        responses={200: shapes.CasesAnswerSerializer, **REFUSALS},
    )
    def post(self, request: Request) -> Response:
        """The preload for each load, and whether the adjuster reaches them all."""
        return self.answered(request, cases)


class WindowView(OneEnd):
    """The room for rate and preload."""

    ends = shapes.WINDOW

    @extend_schema(
        operation_id="calc_window",
        request=_either("Window", shapes.WINDOW),
        responses={200: shapes.WindowAnswerSerializer, **REFUSALS},
    )
    def post(self, request: Request) -> Response:
        """Both sags over rate and preload, and the region in which both are in band."""
        return self.answered(request, window)


urlpatterns = [
    path("suits/", SuitsView.as_view()),
    path("cases/", CasesView.as_view()),
    path("window/", WindowView.as_view()),
    path("loads/", LoadsView.as_view()),
    path("uncertainty/", UncertaintyView.as_view()),
]
