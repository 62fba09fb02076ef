"""The bike as it is ridden, over HTTP: attitude, braking, squat, and the tyre's hold on the ground."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from calc import chassis, contact, damping
from calc.web.fields import Choice, Number, StrictSerializer
from calc.web.serializers import FrontSerializer, NoteSerializer, shape
from calc.web.views import REFUSALS, Calculation

_LOOSE: dict[str, Any] = {"required": False, "allow_null": True}


def _chassis(name: str, **options: Any) -> Number:
    return Number(chassis.BANDS[name], **options)


def _contact(name: str) -> Number:
    return Number(contact.BANDS[name])


class SagsSerializer(StrictSerializer):
    """Both sags of one state, with the rider."""

    front_mm = _chassis("front_mm")
    rear_mm = _chassis("rear_mm")


class BrakingSerializer(StrictSerializer):
    """A steady braking. The loads are left out where a front end is given, which has its own."""

    deceleration_m_per_s2 = _chassis("deceleration_m_per_s2")
    front_share = _chassis("front_share", required=False)
    front_load_kg = _chassis("front_load_kg", **_LOOSE)
    front_unsprung_kg = _chassis("front_unsprung_kg", **_LOOSE)


SquatSerializer = shape(
    "Squat",
    StrictSerializer,
    "Swingarm and sprockets at the sag before; heights from the ground, x forward from the rear axle.",
    **{name: _chassis(name) for name in chassis.DRIVE},
)

ChassisSerializer = shape(
    "Chassis",
    StrictSerializer,
    "How the bike sits before and after, measured at the sags before; with braking, squat or both.",
    **{name: _chassis(name) for name in chassis.GEOMETRY},
    before=SagsSerializer(),
    after=SagsSerializer(),
    mass_kg=_chassis("mass_kg", **_LOOSE),
    height_mm=_chassis("height_mm", **_LOOSE),
    front=FrontSerializer(**_LOOSE),
    braking=BrakingSerializer(**_LOOSE),
    squat=SquatSerializer(**_LOOSE),
)


class AttitudeAnswerSerializer(serializers.Serializer[Any]):
    """How the bike sits after, against before."""

    pitch_deg = Number(unit="°", what="the pitch, positive for the nose up")
    rake_deg = Number(unit="°", what="the rake after")
    rake_change_deg = Number(unit="°", what="its change")
    trail_mm = Number(unit="mm", what="the trail after")
    trail_change_mm = Number(unit="mm", what="its change")
    wheelbase_change_mm = Number(unit="mm", what="the wheelbase's change, the rear axle's arc left out")


class BrakingAnswerSerializer(serializers.Serializer[Any]):
    """What a steady braking asks of the fork; lengths along it, null without a front end."""

    load_transfer_n = Number(unit="N", what="the load moved from the rear wheel to the front")
    fork_force_n = Number(unit="N", what="the force along the fork")
    rider_sag_mm = Number(unit="mm", what="the rider sag without braking", allow_null=True)
    stroke_mm = Number(unit="mm", what="the stroke used with the air settled (n = 1)", allow_null=True)
    stroke_hard_mm = Number(unit="mm", what="the stroke used with the air squeezed at once (n = 1.4)", allow_null=True)
    left_mm = Number(unit="mm", what="what is left to the stop at n = 1", allow_null=True)


_SQUAT: dict[str, Any] = {
    "squat_ratio": Number(what="tan τ/tan σ; null where the squat line is level", allow_null=True),
    "anti_squat": Number(what="tan σ/tan τ, the share of load transfer borne by chain and swingarm"),
    "load_transfer_deg": Number(unit="°", what="τ, the load transfer angle"),
    "squat_deg": Number(unit="°", what="σ, the squat line's angle"),
}
SquatStateSerializer = shape("SquatState", serializers.Serializer, "The squat line at one sag.", **_SQUAT)
SquatAtSerializer = shape(
    "SquatAt",
    serializers.Serializer,
    "The squat line at a rear sag near the one before.",
    rear_mm=Number(unit="mm", what="the rear sag"),
    **_SQUAT,
)


class SquatAnswerSerializer(serializers.Serializer[Any]):
    """What driving does, and how sag moves it."""

    before = SquatStateSerializer()
    after = SquatStateSerializer()
    over_sag: Any = SquatAtSerializer(many=True)


class ChassisAnswerSerializer(serializers.Serializer[Any]):
    """Attitude, and braking and squat where they were asked for."""

    attitude = AttitudeAnswerSerializer()
    braking = BrakingAnswerSerializer(allow_null=True)
    squat = SquatAnswerSerializer(allow_null=True)
    notes = NoteSerializer(many=True)


DecaySerializer = shape(
    "Decay",
    StrictSerializer,
    "A swing that dies away: two of its peaks, so many swings apart.",
    **{name: Number(band) for name, band in damping.BANDS.items()},
)


class DampedSerializer(StrictSerializer):
    """The wheel before: its rate, and how it is damped, by the ratio or by a swing that dies away."""

    wheel_rate_n_per_mm = _contact("wheel_rate_n_per_mm")
    damping_ratio = Number(contact.BANDS["damping_ratio"], **_LOOSE)
    decay = DecaySerializer(**_LOOSE)


class RatedSerializer(StrictSerializer):
    """The wheel after."""

    wheel_rate_n_per_mm = _contact("wheel_rate_n_per_mm")


class ContactSerializer(StrictSerializer):
    """One end before and after a change of spring, on a random road of ISO 8608."""

    sprung_kg = _contact("sprung_kg")
    unsprung_kg = _contact("unsprung_kg")
    tyre_rate_n_per_mm = _contact("tyre_rate_n_per_mm")
    speed_km_per_h = _contact("speed_km_per_h")
    road_class = Choice(list(contact.ROAD_CLASSES))
    before = DampedSerializer()
    after = RatedSerializer()


class RideSerializer(serializers.Serializer[Any]):
    """One state's ride; every spread is an rms about the mean."""

    acceleration_m_per_s2 = Number(unit="m/s²", what="the sprung mass's acceleration")
    travel_mm = Number(unit="mm", what="the suspension's travel")
    tyre_load_n = Number(unit="N", what="the tyre load's variation")
    tyre_load_share = Number(what="that over the static load")
    near_leaving_share = Number(what="the share of time below a tenth of the static load")


class ContactAnswerSerializer(serializers.Serializer[Any]):
    """The tyre's hold on the ground before, and after with the damper left alone or set to match."""

    before = RideSerializer()
    after_same_damping = RideSerializer()
    after_matched_damping = RideSerializer()
    rebound_change_percent = Number(unit="%", what="the damping that keeps the damping ratio, as a change")
    notes = NoteSerializer(many=True)


class ChassisView(Calculation):
    """Attitude, braking and squat."""

    shape = ChassisSerializer

    @extend_schema(
        operation_id="calc_chassis",
        request=ChassisSerializer,
        responses={200: ChassisAnswerSerializer, **REFUSALS},
    )
    def post(self, request: Request) -> Response:
        """What a change of sag does to the steering, and braking and driving to the springs."""
        return Response(chassis.chassis(self.parsed(request)))


class ContactView(Calculation):
    """The tyre's hold on the ground."""

    shape = ContactSerializer

    @extend_schema(
        operation_id="calc_contact",
        request=ContactSerializer,
        responses={200: ContactAnswerSerializer, **REFUSALS},
    )
    def post(self, request: Request) -> Response:
        """Tyre load, acceleration and travel on a random road, before and after a change of spring."""
        return Response(contact.contact(self.parsed(request)))
