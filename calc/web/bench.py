"""What is measured at the bench, over HTTP: the spring on its tester."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from calc.tester import BANDS, tester
from calc.web.fields import ByKind, Number, StrictSerializer
from calc.web.serializers import FITTED_SPRINGS, NoteSerializer, readings, shape
from calc.web.views import REFUSALS, Calculation

TesterSerializer = shape(
    "Tester",
    StrictSerializer,
    "A spring tester's readings from the free length, rising, 3 to 200 of them.",
    **readings(),
    force_resolution_n=Number(BANDS["force_resolution_n"], required=False),
    stamped_n_per_mm=Number(BANDS["stamped_n_per_mm"], required=False, allow_null=True),
)


class UncertaintiesSerializer(serializers.Serializer[Any]):
    """Standard uncertainties of the fitted rates; those of the kind that was chosen."""

    rate_n_per_mm = Number(unit="N/mm", what="of a straight spring's rate", required=False)
    soft_n_per_mm = Number(unit="N/mm", what="of a dual spring's soft rate", required=False)
    hard_n_per_mm = Number(unit="N/mm", what="of a dual spring's hard rate", required=False)
    start_n_per_mm = Number(unit="N/mm", what="of a progressive spring's starting rate", required=False)
    end_n_per_mm = Number(unit="N/mm", what="of a progressive spring's end rate", required=False)


class CriteriaSerializer(serializers.Serializer[Any]):
    """The corrected Akaike criterion of each kind, the least being best; null where the kind does not fit."""

    straight = Number(what="of a straight spring", allow_null=True)
    progressive = Number(what="of a progressive spring", allow_null=True)
    dual = Number(what="of a dual spring", allow_null=True)


class TesterAnswerSerializer(serializers.Serializer[Any]):
    """What the readings say."""

    kind = serializers.ChoiceField(choices=list(FITTED_SPRINGS))
    spring = ByKind(FITTED_SPRINGS)
    rate_n_per_mm = Number(unit="N/mm", what="the rate of the straight fit")
    rate_u_n_per_mm = Number(unit="N/mm", what="its standard uncertainty")
    uncertainties = UncertaintiesSerializer()
    residual_n = Number(unit="N", what="what the chosen curve leaves of the readings, rms")
    criteria = CriteriaSerializer()
    stamp_difference_percent = Number(
        unit="%", what="how far the rate lies above the stamp; null without one", allow_null=True
    )
    stamp_within_usual = serializers.BooleanField(
        allow_null=True, help_text="Whether that is within the usual ±5 %; null without a stamp."
    )
    notes = NoteSerializer(many=True)


class TesterView(Calculation):
    """What a spring tester's readings say."""

    shape = TesterSerializer

    @extend_schema(
        operation_id="calc_tester",
        request=TesterSerializer,
        responses={200: TesterAnswerSerializer, **REFUSALS},
    )
    def post(self, request: Request) -> Response:
        """Kind, rate with its uncertainty, residual and difference from the stamp, from tester readings."""
        return Response(tester(self.parsed(request)))
