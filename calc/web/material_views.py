"""What is known of spring wire, over HTTP: the materials to choose from, and what a coil's dimensions may be."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.permissions import IsAuthenticated
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from calc import coil, wire
from calc.materials import MATERIALS
from calc.web.fields import Number
from calc.web.serializers import BandAnswerSerializer
from calc.web.views import REFUSALS
from calc.words import say

BANDS = {**coil.BANDS, **wire.BANDS}


class MaterialSerializer(serializers.Serializer[Any]):
    """One wire material; the strength's sizes are null where no strength is known."""

    key = serializers.CharField(help_text="What the calculations take for `material`.")
    name = serializers.CharField()
    standard = serializers.CharField(help_text="Empty where no standard is meant.")
    strength_from_mm = Number(unit="mm", what="the thinnest wire whose tensile strength is known", allow_null=True)
    strength_to_mm = Number(unit="mm", what="the thickest wire whose tensile strength is known", allow_null=True)
    source = serializers.CharField()  # type: ignore[assignment]  # the field, over DRF's own
    remark = serializers.CharField()


class MaterialsAnswerSerializer(serializers.Serializer[Any]):
    """The materials, and the accepted band of each of a coil's fields."""

    materials = MaterialSerializer(many=True)
    bands = serializers.DictField(child=BandAnswerSerializer())


class MaterialsView(APIView):
    """The table of wire materials."""

    permission_classes = (IsAuthenticated,)

    @extend_schema(
        operation_id="calc_materials",
        responses={200: MaterialsAnswerSerializer, 401: REFUSALS[401], 403: REFUSALS[403]},
    )
    def get(self, request: Request) -> Response:
        """Every wire material with its source, and what is accepted of a coil's dimensions."""
        shown = ("unit", "low", "high", "open_low")
        materials = [
            {
                "key": key,
                "standard": one.standard,
                **{each: say(getattr(one, each)) for each in ("name", "source", "remark")},
                "strength_from_mm": one.strength.low if one.strength else None,
                "strength_to_mm": one.strength.high if one.strength else None,
            }
            for key, one in MATERIALS.items()
        ]
        bands = {
            name: {"what": band.named, **{each: getattr(band, each) for each in shown}} for name, band in BANDS.items()
        }
        return Response({"materials": materials, "bands": bands})
