"""What the looks ahead take and answer, field by field; each answers what is wrong and what is missing with it."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from calc import chassis, contact
from calc.each_rider import TOLD
from calc.web.fields import Choice, Number, StrictSerializer
from calc.web.riding import BrakingAnswerSerializer, RideSerializer, SquatAtSerializer, SquatStateSerializer
from calc.web.serializers import NoteSerializer, ProblemSerializer, shape
from calc.web.sure_serializers import DoubtSerializer, IntervalSerializer, NextReadingSerializer
from setups import sums
from setups.web.serializers import EndBody

UNITS = {
    "preload_mm": "mm",
    "static_sag_mm": "mm",
    "rider_sag_mm": "mm",
    "wheel_rate_n_per_mm": "N/mm",
    "breakaway_n": "N",
    "full_stroke_n": "N",
}


class LookAnswer(serializers.Serializer[Any]):
    """What every look ahead says beside its own."""

    notes = NoteSerializer(many=True)
    problems = ProblemSerializer(many=True)
    missing = serializers.ListField(child=serializers.CharField())


def _pair(unit: str, what: str) -> serializers.ListField:
    return serializers.ListField(
        child=Number(unit=unit, what=what), min_length=2, max_length=2, allow_null=True
    )


class RungAnswer(serializers.Serializer[Any]):
    """One rung of the ladder: springs of one rate that suit the same riders."""

    label = serializers.CharField()  # type: ignore[assignment]  # the field, over DRF's own
    where = serializers.ListField(child=serializers.CharField(), help_text="In the bike, chosen, or nothing.")
    codes = serializers.ListField(child=serializers.CharField(), help_text="Their codes in the shop's list.")
    rider_mass_kg = _pair("kg", "rider mass in full kit")
    preload_mm = _pair("mm", "the preload at both")
    why = serializers.CharField(allow_null=True, help_text="Why it suits nobody.")
    text = serializers.CharField(help_text="One sentence.")


SpringFigures = shape(
    "SpringFigures",
    serializers.Serializer,
    "What a spring does for one rider.",
    **{key: Number(unit=UNITS[key], what=key.rsplit("_", 1)[0].replace("_", " ")) for key in TOLD},
)
StraightFigures = shape(
    "StraightFigures", SpringFigures, "What a straight spring chosen for a rider does.",
    rate_n_per_mm=Number(unit="N/mm", what="its rate"),
)  # fmt: skip


class EachRiderAnswer(serializers.Serializer[Any]):
    """One rider on the spring in the bike, and on a straight one chosen for that rider."""

    rider_kg = Number(unit="kg", what="rider mass in full kit")
    fitted = SpringFigures(allow_null=True)
    straight = StraightFigures(allow_null=True)
    text = serializers.CharField(help_text="One sentence.")


class WhomAnswer(LookAnswer):
    """Whom the springs suit."""

    svg = serializers.CharField(allow_null=True, help_text="The ladder of rates over rider mass, SVG.")
    bands = RungAnswer(many=True)
    present = serializers.CharField(allow_null=True, help_text="The spring in the bike, in one sentence.")
    riders = EachRiderAnswer(many=True)
    share = Number(what="the part of the rider's mass on this axle, 0 to 1", allow_null=True)
    share_from = serializers.CharField(allow_null=True)
    basis = serializers.CharField(allow_null=True, help_text="What the bands rest on.")


class RoomRow(serializers.Serializer[Any]):
    """The preloads that serve at one rate."""

    rate_n_per_mm = Number(unit="N/mm", what="rate, per leg or shock")
    least_preload_mm = Number(unit="mm", what="least preload")
    most_preload_mm = Number(unit="mm", what="most preload")


class RoomAnswer(LookAnswer):
    """The room for rate and preload."""

    svg = serializers.CharField(allow_null=True, help_text="Preload over rate, SVG.")
    rows = RoomRow(many=True)
    rates_n_per_mm = _pair("N/mm", "the softest and the stiffest straight spring that can serve")
    text = serializers.CharField(allow_null=True, help_text="One sentence.")


class ReadSpread(serializers.Serializer[Any]):
    """How sure the sags that were read are, by the tape alone."""

    static_sag_mm = IntervalSerializer(allow_null=True)
    rider_sag_mm = IntervalSerializer(allow_null=True)


class ComputedSpread(serializers.Serializer[Any]):
    """How sure the computed figures are, and what makes them unsure."""

    static_sag_mm = IntervalSerializer()
    rider_sag_mm = IntervalSerializer()
    wheel_rate_n_per_mm = IntervalSerializer(help_text="Vertical wheel rate at rider sag, N/mm.")
    rate_n_per_mm = IntervalSerializer(allow_null=True, help_text="The needed rate, N/mm.")
    preload_mm = IntervalSerializer(allow_null=True, help_text="The needed preload, mm.")
    inputs = DoubtSerializer(many=True)
    next_reading = NextReadingSerializer(allow_null=True)
    notes = NoteSerializer(many=True)


class SpreadAnswer(serializers.Serializer[Any]):
    """How sure one end is at one stage."""

    measured = ReadSpread(allow_null=True)
    computed = ComputedSpread(allow_null=True)


SpreadEnds = shape(
    "SpreadEnds", serializers.Serializer, "Both ends.",
    **{end: SpreadAnswer(allow_null=True) for end in ("front", "rear")},
)  # fmt: skip
SpreadsAnswer = shape(
    "SpreadsAnswer", serializers.Serializer, "How sure every sag and rate of the card is.",
    **{stage: SpreadEnds() for stage in sums.STAGES},
)  # fmt: skip


class CaseRow(serializers.Serializer[Any]):
    """One load case with the springs of the newest setting."""

    label = serializers.CharField()  # type: ignore[assignment]  # the field, over DRF's own
    preload_mm = Number(unit="mm", what="the preload that gives the rider sag aimed at", allow_null=True)
    set_to_mm = Number(unit="mm", what="the nearest preload that the adjuster has")
    rider_sag_mm = Number(unit="mm", what="the sag there with everything on")
    static_sag_mm = Number(unit="mm", what="the static sag there")
    reached = serializers.BooleanField()
    in_band = serializers.BooleanField()


class LoadCasesAnswer(LookAnswer):
    """The preload for each load, and whether the adjuster reaches them all."""

    stage = serializers.CharField(allow_null=True)
    cases = CaseRow(many=True)
    reaches_all = serializers.BooleanField(allow_null=True)
    text = serializers.CharField(allow_null=True, help_text="One sentence.")


class GripBody(EndBody):
    """Which end, and what is known of road, speed, tyre and damper; what is left out is assumed."""

    road_class = Choice(list(contact.ROAD_CLASSES), required=False, allow_null=True)
    speed_km_per_h = Number(contact.BANDS["speed_km_per_h"], required=False, allow_null=True)
    tyre_rate_n_per_mm = Number(contact.BANDS["tyre_rate_n_per_mm"], required=False, allow_null=True)
    damping_ratio = Number(contact.BANDS["damping_ratio"], required=False, allow_null=True)


class GripAnswer(LookAnswer):
    """Grip and ride before, and after with the damper left alone or set to match."""

    stage = serializers.CharField(allow_null=True)
    before = RideSerializer(allow_null=True)
    after_same_damping = RideSerializer(allow_null=True)
    after_matched_damping = RideSerializer(allow_null=True)
    assumed = serializers.ListField(child=serializers.CharField(), help_text="Which of the inputs nobody gave.")


class SittingBody(StrictSerializer):
    """How hard is braked; what is left out is assumed."""

    deceleration_m_per_s2 = Number(chassis.BANDS["deceleration_m_per_s2"], required=False, allow_null=True)
    front_share = Number(chassis.BANDS["front_share"], required=False, allow_null=True)


class SitsAt(serializers.Serializer[Any]):
    """How the bike sits at one stage."""

    stage = serializers.CharField()
    label = serializers.CharField()  # type: ignore[assignment]  # the field, over DRF's own
    pitch_deg = Number(unit="°", what="pitch against as received, nose up positive")
    rake_deg = Number(unit="°", what="rake")
    trail_mm = Number(unit="mm", what="trail")
    wheelbase_mm = Number(unit="mm", what="wheelbase")


_STAGE = {"stage": serializers.CharField(), "label": serializers.CharField()}
BrakesAt = shape("BrakesAt", BrakingAnswerSerializer, "What a steady braking uses of the fork at a stage.", **_STAGE)
DrivesAt = shape("DrivesAt", SquatStateSerializer, "The squat line at a stage.", **_STAGE)


class SittingAnswer(LookAnswer):
    """How the bike sits, brakes and drives."""

    svg = serializers.CharField(allow_null=True, help_text="The bike from the side, SVG.")
    stages = SitsAt(many=True)
    text = serializers.CharField(allow_null=True, help_text="One sentence.")
    braking: Any = BrakesAt(many=True)
    squat: Any = DrivesAt(many=True)
    over_sag: Any = SquatAtSerializer(many=True)
    assumed = serializers.ListField(child=serializers.CharField(), help_text="Which of the inputs nobody gave.")


class DraftAnswer(serializers.Serializer[Any]):
    """A draft of what the rider is told."""

    text = serializers.CharField(help_text="Paragraphs, a blank line between them.")
    language = serializers.CharField(help_text="The shop's: the code of the language that it is in.")
