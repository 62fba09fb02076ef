"""The bench, over HTTP: the spring on its tester, the leverage on its stand, a spring in a better wire."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import PolymorphicProxySerializer, extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from calc import smoothing, wire
from calc.bands import BANDS as END_BANDS
from calc.coil import BANDS as COIL_BANDS
from calc.coil import ENDS
from calc.materials import MATERIALS
from calc.motion import motion
from calc.tester import BANDS, tester
from calc.web.fields import ByKind, Choice, Number, NumberList, StrictSerializer
from calc.web.serializers import (
    FITTED_SPRINGS,
    LEVERAGES,
    CoilAnswerSerializer,
    NoteSerializer,
    Shape,
    TableSerializer,
    readings,
    shape,
)
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


LeverageCurveSerializer = shape(
    "LeverageCurve",
    StrictSerializer,
    "A leverage to lay out over all wheel travel.",
    use=Choice(["curve"]),
    wheel_travel_mm=Number(END_BANDS["rear.wheel_travel_mm"]),
    leverage=ByKind(LEVERAGES),
)


def _pairs(name: str) -> NumberList:
    return NumberList(smoothing.BANDS[name], min_length=smoothing.FEWEST, max_length=smoothing.MOST)


LeverageSmoothSerializer = shape(
    "LeverageSmooth",
    StrictSerializer,
    "Noisy pairs to smooth, counted from full extension, and how well one reading is known.",
    use=Choice(["smooth"]),
    wheel_mm=_pairs("wheel_mm"),
    shock_mm=_pairs("shock_mm"),
    reading_u_mm=Number(smoothing.BANDS["reading_u_mm"], required=False),
)

LEVERAGE_SHAPES: dict[str, Shape] = {"curve": LeverageCurveSerializer, "smooth": LeverageSmoothSerializer}


class MotionCurveSerializer(serializers.Serializer[Any]):
    """The leverage over wheel travel; null where the shock stands still."""

    travel_mm = NumberList(unit="mm", what="wheel travel")
    shock_mm = NumberList(unit="mm", what="shock stroke")
    leverage_ratio = serializers.ListField(child=Number(what="wheel travel per shock stroke", allow_null=True))
    motion_ratio = NumberList(what="shock stroke per wheel travel")


class LeverageCurveAnswerSerializer(serializers.Serializer[Any]):
    """A leverage laid out."""

    curve = MotionCurveSerializer()
    shock_stroke_mm = Number(unit="mm", what="the shock stroke over all travel")
    reach_mm = Number(unit="mm", what="up to where the leverage is known; null for a ratio", allow_null=True)
    shock_extended_mm = Number(unit="mm", what="the linkage's shock length at full extension", allow_null=True)
    notes = NoteSerializer(many=True)


class SmoothCurveSerializer(serializers.Serializer[Any]):
    """The smoothed curve, each column with its standard uncertainty."""

    travel_mm = NumberList(unit="mm", what="wheel travel")
    shock_mm = NumberList(unit="mm", what="shock stroke")
    shock_u_mm = NumberList(unit="mm", what="its standard uncertainty")
    leverage_ratio = NumberList(what="wheel travel per shock stroke")
    leverage_ratio_u = NumberList(what="its standard uncertainty")


class LeverageSmoothAnswerSerializer(serializers.Serializer[Any]):
    """Smoothed pairs: a table to evaluate with, and how sure it is."""

    table = TableSerializer()
    curve = SmoothCurveSerializer()
    degree = Number(what="the fitted polynomial's degree", whole=True)
    residual_mm = Number(unit="mm", what="what the curve leaves of the readings, rms")
    notes = NoteSerializer(many=True)


class LeverageView(Calculation):
    """The leverage on its own."""

    shape = ByKind(LEVERAGE_SHAPES, key="use")

    @extend_schema(
        operation_id="calc_leverage",
        request=PolymorphicProxySerializer("LeverageUse", dict(LEVERAGE_SHAPES), resource_type_field_name="use"),
        responses={
            200: PolymorphicProxySerializer(
                "LeverageAnswer",
                [LeverageCurveAnswerSerializer, LeverageSmoothAnswerSerializer],
                resource_type_field_name=None,
            ),
            **REFUSALS,
        },
    )
    def post(self, request: Request) -> Response:
        """Leverage and motion ratio over travel and the mechanism's reach; or noisy pairs, smoothed."""
        asked = self.parsed(request)
        return Response(motion(asked) if asked["use"] == "curve" else smoothing.smooth(asked))


_LOOSE: dict[str, Any] = {"required": False, "allow_null": True}


def _stock(name: str, doc: str, **more: Any) -> Shape:
    """Return the shape of a wire as it is bought, with `more` of the spring wound of it."""
    return shape(
        name,
        StrictSerializer,
        doc,
        **more,
        material=Choice(list(MATERIALS)),
        shear_modulus_gpa=Number(wire.BANDS["shear_modulus_gpa"], **_LOOSE),
        strength_mpa=Number(wire.BANDS["strength_mpa"], **_LOOSE),
    )


PresentCoilSerializer = _stock(
    "PresentCoil",
    "The present coil, its material, and what is known better of its wire than the table does.",
    **{name: Number(COIL_BANDS[name]) for name in ("wire_mm", "mean_diameter_mm", "active_turns", "total_turns")},
    ends=Choice(list(ENDS)),
)

WireSerializer = shape(
    "Wire",
    StrictSerializer,
    "A coil, and the wire that it is to be wound of at the same rate and the same share of strength.",
    present=PresentCoilSerializer(),
    new=_stock("NewWire", "The new wire, and what is known better of it than the table does.")(),
    force_n=Number(wire.BANDS["force_n"]),
    keep=Choice(list(wire.KEPT)),
)

WoundCoilSerializer = shape(
    "WoundCoil",
    CoilAnswerSerializer,
    "A coil's dimensions and all that they say.",
    wire_mm=Number(unit="mm", what="the wire diameter"),
    mean_diameter_mm=Number(unit="mm", what="the mean coil diameter"),
    active_turns=Number(what="the number of active turns"),
    total_turns=Number(what="the number of turns in all"),
    strength_mpa=Number(unit="MPa", what="the wire's tensile strength; null where the table ends", allow_null=True),
)


class WireAnswerSerializer(serializers.Serializer[Any]):
    """The same rate in another wire; what is saved is negative where the new wire is the worse."""

    share_of_strength = Number(what="the part of its tensile strength that each wire bears at the force")
    present = WoundCoilSerializer()
    new = WoundCoilSerializer()
    mass_saved_g = Number(unit="g", what="the mass saved per spring")
    oil_to_add_cm3 = Number(unit="cm³", what="the oil that each new spring displaces less")
    solid_length_less_mm = Number(unit="mm", what="by how much the new spring closes shorter")
    notes = NoteSerializer(many=True)


class WireView(Calculation):
    """A spring of the same rate in another wire."""

    shape = WireSerializer

    @extend_schema(
        operation_id="calc_wire",
        request=WireSerializer,
        responses={200: WireAnswerSerializer, **REFUSALS},
    )
    def post(self, request: Request) -> Response:
        """Wire, turns, mass and displaced oil of the same rate in another wire, and what it saves."""
        return Response(wire.better_wire(self.parsed(request)))
