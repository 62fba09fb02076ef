"""What setups' part of the API takes and answers, field by field; accepted numbers are checked by the
verbs.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from drf_spectacular.extensions import OpenApiSerializerFieldExtension
from rest_framework import serializers

from calc.bands import BANDS, Band
from calc.gap import BANDS as GAP_BANDS
from calc.linkage import BANDS as LINKAGE_BANDS
from calc.linkage import POINTS
from calc.web.fields import Choice, Number, NumberList, StrictSerializer, Text
from calc.web.serializers import (
    EndAnswerSerializer,
    NeededEndSerializer,
    NoteSerializer,
    ProblemSerializer,
    RockerSerializer,
    SagAnswerSerializer,
)
from calc.words import say
from setups import bodies, chassis_data, estimates, load_cases, sums
from setups.kinds import source_words
from setups.limits import DISTANCE, FASTENERS, HOURS, PERCENT, QUANTITY, YEAR
from setups.models import Bike, Customer, End, JobCard, Kind, PartLine, Reading, Rider, Setting, SignOff
from setups.verbs.torques import TORQUE
from shops import money
from shops.models import StockSpring, Tool
from shops.web.serializers import ID_LIMIT, Email, Flag, StrictDate, WholeId
from shops.web.spring_shapes import curve

LONG = 4000
_OPEN: dict[str, Any] = {"required": False, "allow_null": True}
_BLANK: dict[str, Any] = {"required": False, "allow_blank": True}


class Kept(serializers.Field[Any, Any, Any, Any]):
    """An object that is kept as it was sent, and checked by the verb; `shapes` describe it in the schema."""

    def __init__(self, *shapes: type[serializers.Serializer[Any]], **options: Any) -> None:
        """Take the shapes that it may have."""
        self.shapes = shapes
        super().__init__(**options)

    def to_internal_value(self, data: Any) -> Mapping[str, Any]:
        """Return the object."""
        if not isinstance(data, Mapping):
            raise serializers.ValidationError(say("An object with named fields is expected."), "not_an_object")
        return data

    def to_representation(self, value: Any) -> Any:
        """Return the object as it is kept."""
        return value


class _KeptSchema(OpenApiSerializerFieldExtension):
    """Describes a `Kept` object in the schema."""

    target_class = Kept

    def map_serializer_field(self, auto_schema: Any, direction: Any) -> dict[str, Any]:
        """Return the schema of the object."""
        found = [auto_schema.resolve_serializer(shape, direction).ref for shape in self.target.shapes]
        if not found:
            return {"type": "object", "additionalProperties": True}
        return found[0] if len(found) == 1 else {"anyOf": found}


# What bikes and settings keep ---------------------------------------------------------------------


class SourceShape(serializers.Serializer[Any]):
    """Where a fact comes from."""

    edition = serializers.CharField(required=False, help_text="The manual's edition.")
    page = serializers.CharField(required=False, help_text="Its page.")

    def get_fields(self) -> dict[str, Any]:
        """Add the field whose name is a word of the language."""
        return {"from": serializers.ChoiceField(choices=bodies.KEPT_ORIGINS), **super().get_fields()}


def _mm(key: str, **options: Any) -> Number:
    return Number(bodies.OWN_BANDS[key], **_OPEN, **options)


def _calc(key: str) -> Number:
    return Number(BANDS[key], **_OPEN)


def _adjuster() -> NumberList:
    return NumberList(BANDS["adjuster_mm"], min_length=2, max_length=2, **_OPEN)


class StopShape(serializers.Serializer[Any]):
    """A top-out spring or a bump stop."""

    rate_n_per_mm = Number(BANDS["stop.rate_n_per_mm"])
    length_mm = Number(BANDS["stop.length_mm"])


class LegShape(serializers.Serializer[Any]):
    """One fork leg as the bike is known; a null spring is an empty leg."""

    spring = curve(**_OPEN)
    preload_mm = _calc("leg.preload_mm")
    air_gap_mm = _calc("leg.air_gap_mm")
    solids_cm3 = _calc("leg.solids_cm3")
    pressure_kpa = _calc("leg.pressure_kpa")


class PourShape(serializers.Serializer[Any]):
    """A measured pour in the bore's place: so many cm³ raise the oil by so many mm."""

    cm3 = Number(GAP_BANDS["pour.cm3"], **_OPEN)
    rise_mm = Number(GAP_BANDS["pour.rise_mm"], **_OPEN)


class FrontShape(serializers.Serializer[Any]):
    """A fork, as far as it is known: every field may be blank."""

    stroke_mm = _calc("front.stroke_mm")
    rake_deg = _calc("front.rake_deg")
    unsprung_kg = _calc("front.unsprung_kg")
    seal_diameter_mm = _calc("leg.seal_diameter_mm")
    bore_diameter_mm = _calc("leg.bore_diameter_mm")
    pour = PourShape(**_OPEN)
    chambers = serializers.ChoiceField(choices=bodies.CHAMBERS, **_OPEN)
    seat_length_mm = _mm("seat_length_mm")
    washers_mm = _mm("washers_mm")
    adjuster_mm = _adjuster()
    spring_outer_max_mm = _mm("spring_outer_max_mm")
    spring_length_mm = _mm("spring_length_mm")
    legs = LegShape(many=True, **_OPEN)
    topout = StopShape(**_OPEN)
    bump = StopShape(**_OPEN)


class PairsShape(serializers.Serializer[Any]):
    """Readings that a smoothed table stands for, and the standard uncertainty of one."""

    wheel_mm = NumberList(unit="mm", what="wheel travel, as read")
    shock_mm = NumberList(unit="mm", what="shock stroke, as read")
    reading_u_mm = Number(unit="mm", what="the standard uncertainty of one reading", **_OPEN)


class LeverageShape(serializers.Serializer[Any]):
    """Shock stroke against wheel travel: a ratio, pairs from (0, 0) over all travel, or a linkage's points [x, z]."""

    kind = serializers.ChoiceField(choices=["ratio", "table", "linkage"])
    wheel_per_shock = Number(BANDS["leverage.wheel_per_shock"], required=False)
    wheel_mm = NumberList(unit="mm", what="wheel travel", required=False)
    shock_mm = NumberList(unit="mm", what="shock stroke", required=False)
    readings = PairsShape(**_OPEN)
    rocker = RockerSerializer(**_OPEN)
    shock_extended_mm = Number(LINKAGE_BANDS["shock_extended_mm"], **_OPEN)

    def get_fields(self) -> dict[str, Any]:
        """Add the linkage's points, by calc's names."""
        points = {name: NumberList(unit="mm", what="x forward, z up", required=False) for name in POINTS}
        return {**super().get_fields(), **points}


class RearShape(serializers.Serializer[Any]):
    """A rear end, as far as it is known: every field may be blank."""

    wheel_travel_mm = _calc("rear.wheel_travel_mm")
    unsprung_kg = _calc("rear.unsprung_kg")
    shocks = Number(BANDS["rear.shocks"], whole=True, **_OPEN)
    leverage = LeverageShape(**_OPEN)
    adjuster_mm = _adjuster()
    spring_inner_min_mm = _mm("spring_inner_min_mm")
    spring_length_mm = _mm("spring_length_mm")
    spring = curve(**_OPEN)
    preload_mm = _calc("rear.preload_mm")
    gas_force_n = _calc("rear.gas_force_n")
    topout = StopShape(**_OPEN)
    bump = StopShape(**_OPEN)


class ClickerShape(serializers.Serializer[Any]):
    """Where one damping adjuster stands."""

    adjuster = serializers.ChoiceField(choices=bodies.ADJUSTERS)
    leg = serializers.ChoiceField(
        choices=[leg for leg in bodies.LEGS if leg], required=False, allow_blank=True
    )
    position = Number(bodies.OWN_BANDS["position"], **_OPEN)
    unit = serializers.ChoiceField(choices=bodies.CLICK_UNITS)
    counted_from = serializers.ChoiceField(choices=bodies.COUNTED_FROM)


class SetLegShape(LegShape):
    """One fork leg as it stands at a stage of the job."""

    stock_spring = serializers.IntegerField(min_value=1, max_value=ID_LIMIT, **_OPEN)
    label = serializers.CharField(max_length=200, **_BLANK)  # type: ignore[assignment]  # the field, over DRF\'s own
    gap_read_with = serializers.ChoiceField(choices=[bodies.SPRING_OUT, bodies.SPRING_IN], required=False)
    spacer_mm = _mm("spacer_mm")


class FrontSettingShape(serializers.Serializer[Any]):
    """How the front stands: legs, clickers, fork height, tyre, oil, and where each value comes from."""

    legs = SetLegShape(many=True)
    clickers = ClickerShape(many=True, required=False)
    fork_height_mm = _mm("fork_height_mm")
    tyre_pressure_kpa = _mm("tyre_pressure_kpa")
    oil_grade = serializers.CharField(max_length=120, **_BLANK)
    oil_batch = serializers.CharField(max_length=40, **_BLANK)
    oil_cm3_per_leg = _mm("oil_cm3_per_leg")
    vented_altitude_m = _calc("front.vented_altitude_m")
    vented_temperature_c = _calc("front.vented_temperature_c")
    temperature_c = _calc("front.temperature_c")
    sources = serializers.DictField(child=SourceShape(), required=False)


class RearSettingShape(serializers.Serializer[Any]):
    """How the rear stands: spring, preload, gas, clickers, ride height, tyre, and where each value comes
    from.
    """

    spring = curve(**_OPEN)
    stock_spring = serializers.IntegerField(min_value=1, max_value=ID_LIMIT, **_OPEN)
    label = serializers.CharField(max_length=200, **_BLANK)  # type: ignore[assignment]  # the field, over DRF\'s own
    preload_mm = _calc("rear.preload_mm")
    gas_force_n = _calc("rear.gas_force_n")
    clickers = ClickerShape(many=True, required=False)
    ride_height_mm = _mm("ride_height_mm")
    tyre_pressure_kpa = _mm("tyre_pressure_kpa")
    sources = serializers.DictField(child=SourceShape(), required=False)


class ChassisShape(serializers.Serializer[Any]):
    """A bike's chassis, as far as it is known; heights from the ground, x forward from the rear axle."""

    measured_at = serializers.ChoiceField(choices=list(chassis_data.STOOD), **_OPEN)

    def get_fields(self) -> dict[str, Any]:
        """Add the numbers, each with its band."""
        return {**super().get_fields(), **{key: Number(band, **_OPEN) for key, band in chassis_data.NUMBERS.items()}}


class SourcesShape(serializers.Serializer[Any]):
    """For each field's dotted path ("front.stroke_mm"), where its value comes from; absent: assumed."""

    def get_fields(self) -> dict[str, Any]:
        """Describe one of the paths; any other may stand there."""
        return {"front.stroke_mm": SourceShape(required=False)}


# Customers, kinds, bikes --------------------------------------------------------------------------


class CustomerBody(StrictSerializer):
    """A customer as typed."""

    name = Text(max_length=120)
    phone = Text(max_length=40, **_BLANK)
    email = Email(max_length=254, **_BLANK)
    notes = Text(max_length=LONG, help_text="Internal.", **_BLANK)


class RiderChange(StrictSerializer):
    """A change of a rider."""

    name = Text(max_length=120)
    mass_in_kit_kg = Number(BANDS["person.mass_kg"], **_OPEN)


class RiderBody(RiderChange):
    """A rider as typed."""

    customer = WholeId(Customer)


class RiderAnswer(serializers.Serializer[Any]):
    """A rider; the mass is taken in full kit."""

    id = serializers.IntegerField()
    version = serializers.IntegerField()
    customer = serializers.IntegerField(source="customer_id")
    name = serializers.CharField()
    mass_in_kit_kg = Number(unit="kg", what="mass in full kit", allow_null=True)


class CustomerAnswer(serializers.Serializer[Any]):
    """A customer with the riders who come with them."""

    id = serializers.IntegerField()
    version = serializers.IntegerField()
    code = serializers.CharField(help_text="The business's own number, from a list that was taken in.")
    erased_at = serializers.DateTimeField(allow_null=True)
    name = serializers.CharField()
    phone = serializers.CharField()
    email = serializers.CharField()
    notes = serializers.CharField()
    riders = RiderAnswer(many=True)


class KindChange(StrictSerializer):
    """A change of what is usual for a kind of bike at one end."""

    static_low_percent = Number(PERCENT)
    static_high_percent = Number(PERCENT)
    rider_low_percent = Number(PERCENT)
    rider_high_percent = Number(PERCENT)
    unsprung_kg = Number(BANDS["front.unsprung_kg"])
    source = Text(max_length=200)  # type: ignore[assignment]  # the field, over DRF\'s own


class KindAnswer(serializers.Serializer[Any]):
    """What is usual for a kind of bike at one end: sag bands in percent of travel, unsprung mass in kg."""

    id = serializers.IntegerField()
    version = serializers.IntegerField()
    kind = serializers.ChoiceField(choices=Kind.choices)
    kind_label = serializers.CharField(source="get_kind_display")
    end = serializers.ChoiceField(choices=End.choices)
    static_low_percent = Number(unit="%", what="static sag, least")
    static_high_percent = Number(unit="%", what="static sag, most")
    rider_low_percent = Number(unit="%", what="rider sag, least")
    rider_high_percent = Number(unit="%", what="rider sag, most")
    unsprung_kg = Number(unit="kg", what="unsprung mass")
    source = serializers.SerializerMethodField()  # type: ignore[assignment]  # the field, over DRF\'s own

    def get_source(self, row: Any) -> str:
        """Return where the numbers come from, in words."""
        return source_words(row.source)


class BikeBody(StrictSerializer):
    """A bike as typed."""

    owner = WholeId(Customer, **_OPEN)
    make = Text(max_length=60)
    model = Text(max_length=60)
    year = Number(YEAR, whole=True, **_OPEN)
    kind = Choice(choices=Kind.choices)
    plate = Text(max_length=20, **_BLANK)
    frame_number = Text(max_length=40, **_BLANK)
    front = Kept(FrontShape, **_OPEN)
    rear = Kept(RearShape, **_OPEN)
    chassis = Kept(ChassisShape, **_OPEN)
    sources = Kept(SourcesShape, required=False)
    notes = Text(max_length=LONG, **_BLANK)


class BikeAnswer(serializers.Serializer[Any]):
    """A bike with what is known of its suspension."""

    id = serializers.IntegerField()
    version = serializers.IntegerField()
    owner = serializers.IntegerField(allow_null=True)
    owner_name = serializers.CharField(allow_null=True)
    title = serializers.CharField()
    make = serializers.CharField()
    model = serializers.CharField()
    year = serializers.IntegerField(allow_null=True)
    kind = serializers.ChoiceField(choices=Kind.choices)
    plate = serializers.CharField()
    frame_number = serializers.CharField()
    front = Kept(FrontShape, allow_null=True)
    rear = Kept(RearShape, allow_null=True)
    chassis = Kept(ChassisShape, allow_null=True)
    sources = Kept(SourcesShape)
    notes = serializers.CharField()
    merged_into = serializers.IntegerField(
        allow_null=True, help_text="The bike that this one, entered twice, is part of; its cards hang there."
    )


# Cards: asked -------------------------------------------------------------------------------------


class SearchQuery(serializers.Serializer[Any]):
    """What a list can be narrowed by."""

    search = serializers.CharField(max_length=100, required=False, allow_blank=True)


class CardQuery(SearchQuery):
    """What the list of cards can be narrowed by."""

    step = serializers.ChoiceField(choices=JobCard.Step.choices, required=False)
    shop = serializers.IntegerField(min_value=1, max_value=ID_LIMIT, required=False)


class ReasonQuery(serializers.Serializer[Any]):
    """Why something is removed."""

    reason = serializers.CharField(max_length=300, required=False, allow_blank=True)


class ReasonBody(StrictSerializer):
    """Why something is removed, for clients that send it in the body."""

    reason = Text(max_length=300, required=False, allow_blank=True)


class CardBody(StrictSerializer):
    """A card to be opened: about a bike, or about a loose fork or shock."""

    bike = WholeId(Bike, **_OPEN)
    customer = WholeId(Customer, **_OPEN)
    rider = WholeId(Rider, **_OPEN)
    complaint = Text(max_length=LONG, **_BLANK)
    loose = Choice(choices=[*JobCard.Loose.values], required=False, allow_blank=True)
    loose_description = Text(max_length=200, **_BLANK)
    loose_front = Kept(FrontShape, **_OPEN)
    loose_rear = Kept(RearShape, **_OPEN)


class SagBands(StrictSerializer):
    """Sag bands at one end in mm, front along the fork, rear vertical: [lower, upper]."""

    static_sag_mm = NumberList(unit="mm", what="static sag, lower and upper", min_length=2, max_length=2)
    rider_sag_mm = NumberList(unit="mm", what="rider sag, lower and upper", min_length=2, max_length=2)


class CardTargets(StrictSerializer):
    """The sag bands aimed at on this job; an end left out or null takes the kind's usual ones."""

    front = SagBands(**_OPEN)
    rear = SagBands(**_OPEN)


class CaseShape(StrictSerializer):
    """What rides along in one load case, and how much of it the rear axle carries."""

    label = Text(max_length=load_cases.LONGEST_LABEL)  # type: ignore[assignment]  # the field, over DRF's own
    mass_kg = Number(load_cases.MASS)
    rear_share = Number(load_cases.REAR_SHARE)


class CardChange(StrictSerializer):
    """A change of what stands on the card's face."""

    step = Choice(choices=JobCard.Step.choices)
    complaint = Text(max_length=LONG, allow_blank=True)
    internal_notes = Text(max_length=LONG, allow_blank=True)
    explanation = Text(max_length=LONG, allow_blank=True)
    rider = WholeId(Rider, allow_null=True)
    distance_km = Number(DISTANCE, allow_null=True)
    hours = Number(HOURS, allow_null=True)
    next_service_on = StrictDate(allow_null=True)
    next_service_note = Text(max_length=200, allow_blank=True)
    targets = CardTargets()
    altitude_m = Number(BANDS["front.altitude_m"])
    cases = serializers.ListField(child=CaseShape(), max_length=load_cases.MOST)
    loose_description = Text(max_length=200, allow_blank=True)
    loose_front = Kept(FrontShape, allow_null=True)
    loose_rear = Kept(RearShape, allow_null=True)


class ReadingBody(StrictSerializer):
    """One raw reading: a length in mm (100 to 1500), or an axle scale's load in kg (up to 400)."""

    stage = Choice(choices=Reading.Stage.choices)
    end = Choice(choices=End.choices)
    quantity = Choice(choices=Reading.Quantity.choices)
    value = Number(Band("the reading", "", 0, 1500, open_low=True))
    instrument = Text(max_length=120, **_BLANK)
    origin = Choice(choices=bodies.ORIGINS, required=False)


class ReadingsBody(StrictSerializer):
    """Readings to keep: all of them or none."""

    readings = serializers.ListField(child=ReadingBody(), min_length=1, max_length=40)


class UnsavedSetting(StrictSerializer):
    """A setting that is being typed."""

    body = Kept(FrontSettingShape, RearSettingShape)


class PreviewBody(StrictSerializer):
    """Unsaved settings to compute; nothing is saved."""

    front = UnsavedSetting(required=False)
    rear = UnsavedSetting(required=False)
    stage = Choice(
        choices=Setting.Stage.choices, required=False, help_text="Which stage is typed; default chosen."
    )
    against = Choice(choices=Setting.Stage.choices, **_OPEN, help_text="The saved stage to draw beside it.")


class EndBody(StrictSerializer):
    """Which end is meant."""

    end = Choice(choices=End.choices)


class FitBody(EndBody):
    """A spring of the shop's list to be written into the chosen setting."""

    stock_spring = WholeId(StockSpring)
    preload_mm = Number(BANDS["leg.preload_mm"], **_OPEN)


class TorqueChange(StrictSerializer):
    """A change of a torque line."""

    fastener = Text(max_length=120)
    count = Number(FASTENERS, whole=True)
    value_nm = Number(TORQUE, allow_null=True)
    source_edition = Text(max_length=120, allow_blank=True)
    source_page = Text(max_length=40, allow_blank=True)
    wrench = WholeId(Tool, allow_null=True)
    needs_second_check = Flag()


class TorqueBody(StrictSerializer):
    """A torque line; all but the fastener may follow later."""

    fastener = Text(max_length=120)
    count = Number(FASTENERS, whole=True, required=False)
    value_nm = Number(TORQUE, **_OPEN)
    source_edition = Text(max_length=120, **_BLANK)
    source_page = Text(max_length=40, **_BLANK)
    wrench = WholeId(Tool, **_OPEN)
    needs_second_check = Flag(required=False)


class PartBody(StrictSerializer):
    """A part fitted, or given back to the customer."""

    direction = Choice(choices=PartLine.Direction.choices)
    description = Text(max_length=200)
    quantity = Number(QUANTITY, whole=True, required=False)
    batch = Text(max_length=40, **_BLANK)
    spring = WholeId(StockSpring, **_OPEN)


class SignOffBody(StrictSerializer):
    """The part of the job that is answered for."""

    part = Choice(choices=SignOff.Part.choices)


# Cards: answered ----------------------------------------------------------------------------------


class CardRow(serializers.Serializer[Any]):
    """A card in the list."""

    id = serializers.IntegerField()
    number = serializers.CharField()
    shop = serializers.IntegerField(source="shop_id")
    shop_name = serializers.CharField(source="shop.name")
    step = serializers.ChoiceField(choices=JobCard.Step.choices)
    step_label = serializers.CharField(source="get_step_display")
    bike_title = serializers.SerializerMethodField()
    plate = serializers.SerializerMethodField()
    customer_name = serializers.SerializerMethodField()
    opened_at = serializers.DateTimeField()
    opened_by_name = serializers.CharField(source="opened_by.name")
    sealed = serializers.SerializerMethodField()

    def get_bike_title(self, card: JobCard) -> str:
        """Return the bike's title, or what the loose part was called."""
        return bike_or_part(card)

    def get_customer_name(self, card: JobCard) -> str:
        """Return the customer's name; blank where a former owner is kept from the asker."""
        return "" if getattr(card, "hidden", False) else card.customer.name

    def get_plate(self, card: JobCard) -> str:
        """Return the bike's plate."""
        return card.bike.plate if card.bike is not None else ""

    def get_sealed(self, card: JobCard) -> bool:
        """Return whether the card is sealed."""
        return card.step == JobCard.Step.SEALED


def bike_or_part(card: JobCard) -> str:
    """Return "Make Model year", or the loose part's description."""
    if card.bike is not None:
        return " ".join(str(word) for word in (card.bike.make, card.bike.model, card.bike.year) if word)
    label = card.get_loose_display()
    return f"{label}: {card.loose_description}" if card.loose_description else str(label)


class VerdictAnswer(serializers.Serializer[Any]):
    """What is said of one end."""

    code = serializers.ChoiceField(
        choices=["suits", "too_soft", "too_stiff", "wind_preload", "back_off_preload", "unknown"]
    )
    text = serializers.CharField(help_text="One sentence in the trade's words.")
    action = serializers.ChoiceField(choices=["change_spring", "set_preload", "none", "measure"])


class DampingAnswer(serializers.Serializer[Any]):
    """How much more rebound damping keeps its ratio at the new wheel rate."""

    percent = Number(unit="%", what="the change of rebound damping")
    text = serializers.CharField(help_text="One sentence, with its limit.")


class SideAnswer(serializers.Serializer[Any]):
    """One end at one stage: what calc computed, the verdict, the picture, and why something is not there."""

    result = EndAnswerSerializer(allow_null=True)
    verdict = VerdictAnswer()
    picture = serializers.CharField(allow_null=True, help_text="SVG.")
    damping = DampingAnswer(allow_null=True, help_text="Against the setting as received, where that was drawn beside.")
    overall_n_per_mm = Number(unit="N/mm", what="overall rate of its tested spring", allow_null=True)
    problems = ProblemSerializer(many=True)
    missing = serializers.ListField(child=serializers.CharField())


class SideEnds(serializers.Serializer[Any]):
    """The sides of both ends."""

    front = SideAnswer(required=False)
    rear = SideAnswer(required=False)


class PictureEnds(serializers.Serializer[Any]):
    """A picture of each end, SVG."""

    front = serializers.CharField(allow_null=True)
    rear = serializers.CharField(allow_null=True)


class SidesAnswer(serializers.Serializer[Any]):
    """Every stage's sides, and the pictures of preload being no cure for a soft spring."""

    received = SideEnds()
    chosen = SideEnds()
    built = SideEnds()
    preload_no_cure = PictureEnds()


class PresentAnswer(serializers.Serializer[Any]):
    """What is in the bike as received."""

    label = serializers.CharField()  # type: ignore[assignment]  # the field, over DRF\'s own
    result = EndAnswerSerializer(allow_null=True)
    verdict = VerdictAnswer()


class RankedRow(serializers.Serializer[Any]):
    """A spring of the shop's list at the preload that reaches the rider sag aimed at."""

    id = serializers.IntegerField(help_text="The line of the spring list.")
    label = serializers.CharField()  # type: ignore[assignment]  # the field, over DRF\'s own
    code = serializers.CharField()
    batch = serializers.CharField()
    spring = curve()
    overall_n_per_mm = Number(unit="N/mm", what="overall rate of a tested spring", allow_null=True)
    stock = serializers.IntegerField(help_text="Pieces on the shelf.")
    preload_mm = Number(unit="mm", what="preload that reaches the rider sag aimed at")
    static_sag_mm = Number(unit="mm", what="static sag")
    rider_sag_mm = Number(unit="mm", what="rider sag")
    breakaway_n = Number(unit="N", what="sprung load at which it first moves, at the wheel")
    wheel_rate_n_per_mm = Number(unit="N/mm", what="vertical wheel rate at rider sag")
    frequency_hz = Number(unit="Hz", what="natural frequency at rider sag", allow_null=True)
    full_stroke_n = Number(unit="N", what="force at the stop in a hard hit")
    energy_to_stop_j = Number(unit="J", what="energy from rider sag to the stop in a hard hit")
    fall_to_stop_mm = Number(unit="mm", what="fall that just reaches the stop, damping left out")
    solid_clearance_mm = Number(unit="mm", what="what is left before solid at full stroke", allow_null=True)
    gap_change_mm = Number(unit="mm", what="change of the air gap, front", required=False, allow_null=True)
    air_gap_mm = Number(unit="mm", what="air gap to set, front", required=False)
    in_band = serializers.BooleanField()
    probability = Number(unit="", what="probability, 0 to 1, that both sags land in band")
    verdict = serializers.ChoiceField(choices=["suits", "too_soft", "too_stiff", "cannot_reach", "binds"])
    text = serializers.CharField(help_text="One sentence.")
    outer_diameter_mm = Number(unit="mm", what="outer diameter", allow_null=True)
    free_length_mm = Number(unit="mm", what="free length", allow_null=True)
    spacer_mm = Number(unit="mm", what="spacer to cut", allow_null=True)
    fits = serializers.BooleanField(allow_null=True, help_text="Whether it goes in; null: not known.")


class CardChoice(serializers.Serializer[Any]):
    """The shop's springs ranked for one end, or why they cannot be."""

    targets = SagBands(allow_null=True)
    needed = NeededEndSerializer(allow_null=True)
    present = PresentAnswer(allow_null=True)
    ranked = RankedRow(many=True)
    notes = NoteSerializer(many=True)
    problems = ProblemSerializer(many=True)
    missing = serializers.ListField(child=serializers.CharField())


class CardCustomer(serializers.Serializer[Any]):
    """Whose job it is."""

    id = serializers.IntegerField()
    name = serializers.CharField()
    phone = serializers.CharField()
    email = serializers.CharField()


class CardRider(serializers.Serializer[Any]):
    """Who rides."""

    id = serializers.IntegerField()
    version = serializers.IntegerField()
    name = serializers.CharField()
    mass_in_kit_kg = Number(unit="kg", what="mass in full kit", allow_null=True)


class CardTargetsAnswer(serializers.Serializer[Any]):
    """The sag bands aimed at, and where they come from."""

    front = SagBands(allow_null=True)
    rear = SagBands(allow_null=True)
    source = serializers.CharField()  # type: ignore[assignment]  # the field, over DRF\'s own


class LoadsAnswer(serializers.Serializer[Any]):
    """Axle loads of one end, unsprung mass included."""

    static_kg = Number(unit="kg", what="bike alone")
    rider_kg = Number(unit="kg", what="with the rider")

    def get_fields(self) -> dict[str, Any]:
        """Add the field whose name is a word of the language."""
        origins = serializers.ChoiceField(choices=["axle scales", "assumed share", "assumed"])
        return {**super().get_fields(), "from": origins}


class ReadingAnswer(serializers.Serializer[Any]):
    """A raw reading; `counts`: it is the latest of its kind that is not struck."""

    id = serializers.IntegerField()
    stage = serializers.ChoiceField(choices=Reading.Stage.choices)
    end = serializers.ChoiceField(choices=End.choices)
    quantity = serializers.ChoiceField(choices=Reading.Quantity.choices)
    label = serializers.CharField()  # type: ignore[assignment]  # the field, over DRF\'s own
    value = Number(what="the reading, in the unit beside it")
    unit = serializers.ChoiceField(choices=["mm", "kg"])
    instrument = serializers.CharField()
    origin = serializers.ChoiceField(choices=bodies.ORIGINS)
    taken_by_name = serializers.CharField()
    taken_at = serializers.DateTimeField()
    struck = serializers.BooleanField()
    counts = serializers.BooleanField()


class SettingAnswer(serializers.Serializer[Any]):
    """A saved setting and the version to change it by."""

    version = serializers.IntegerField()
    body = Kept(FrontSettingShape, RearSettingShape)


class TorqueAnswer(serializers.Serializer[Any]):
    """A torque line."""

    id = serializers.IntegerField()
    version = serializers.IntegerField()
    fastener = serializers.CharField()
    count = serializers.IntegerField(help_text="How many of it: each one tightened is a cycle of the wrench.")
    value_nm = Number(unit="N·m", what="torque from the bike's own manual", allow_null=True)
    source_edition = serializers.CharField()
    source_page = serializers.CharField()
    wrench = serializers.IntegerField(allow_null=True)
    wrench_name = serializers.CharField(allow_null=True)
    calibrated_on = serializers.DateField(allow_null=True)
    calibration_due = serializers.DateField(
        allow_null=True, help_text="Last day on which the calibration holds that counts for this line."
    )
    wrench_cycles = serializers.IntegerField(allow_null=True, help_text="Cycles since that calibration.")
    needs_second_check = serializers.BooleanField()
    tightened_by_name = serializers.CharField(allow_null=True)
    tightened_at = serializers.DateTimeField(allow_null=True)
    checked_by_name = serializers.CharField(allow_null=True)
    checked_at = serializers.DateTimeField(allow_null=True)


class PartAnswer(serializers.Serializer[Any]):
    """A part's line."""

    id = serializers.IntegerField()
    version = serializers.IntegerField()
    direction = serializers.ChoiceField(choices=PartLine.Direction.choices)
    direction_label = serializers.CharField()
    description = serializers.CharField()
    quantity = serializers.IntegerField()
    batch = serializers.CharField()
    spring = serializers.IntegerField(allow_null=True)


class CautionAnswer(serializers.Serializer[Any]):
    """A caution; the signal word is used by its meaning in ANSI Z535.6."""

    key = serializers.CharField()
    step = serializers.ChoiceField(choices=JobCard.Step.choices)
    word = serializers.ChoiceField(choices=["DANGER", "WARNING", "CAUTION", "NOTICE"])
    text = serializers.CharField()
    read_by_name = serializers.CharField(allow_null=True)
    read_at = serializers.DateTimeField(allow_null=True)


class SignOffAnswer(serializers.Serializer[Any]):
    """Who answers for a part of the job."""

    part = serializers.ChoiceField(choices=SignOff.Part.choices)
    part_label = serializers.CharField()
    statement = serializers.CharField()
    by_name = serializers.CharField()
    at = serializers.DateTimeField()


class BlockerAnswer(serializers.Serializer[Any]):
    """What keeps the card from being sealed, and the step where it is mended."""

    code = serializers.CharField()
    text = serializers.CharField()
    step = serializers.ChoiceField(choices=JobCard.Step.choices)
    about = serializers.CharField(allow_blank=True, help_text="What exactly is meant; an override names it.")
    may_override = serializers.BooleanField(help_text="A manager may override it with a reason.")


class OverrideAnswer(serializers.Serializer[Any]):
    """What a manager overrode, and why."""

    id = serializers.IntegerField()
    code = serializers.CharField()
    text = serializers.CharField(help_text="What stood in the way.")
    reason = serializers.CharField()
    by_name = serializers.CharField()
    at = serializers.DateTimeField()
    stands = serializers.BooleanField(help_text="False: it stands in the way no more, so nothing is overridden.")


class EstimateLine(StrictSerializer):
    """One line of an estimate."""

    kind = Choice(choices=estimates.KINDS)
    text = Text(max_length=200)
    amount_minor = Number(Band("the amount", "", 0, money.LARGEST), whole=True, help_text="In the smallest unit.")


class AskBrief(serializers.Serializer[Any]):
    """A link through which the customer was asked, and the answer."""

    id = serializers.IntegerField()
    made_by_name = serializers.CharField()
    made_at = serializers.DateTimeField()
    expires_at = serializers.DateTimeField()
    revoked_at = serializers.DateTimeField(allow_null=True)
    total_minor = serializers.IntegerField()
    currency = serializers.CharField()
    openings = serializers.IntegerField()
    answer = serializers.ChoiceField(choices=["approved", "declined"], allow_blank=True)
    answered_at = serializers.DateTimeField(allow_null=True)
    answered_from = serializers.CharField(allow_null=True, help_text="The network address; told to managers.")


class EstimateAnswer(serializers.Serializer[Any]):
    """The estimate; version null: none is written yet."""

    version = serializers.IntegerField(allow_null=True)
    needs_approval = serializers.BooleanField(help_text="Work is not signed off before the customer's approval.")
    lines = EstimateLine(many=True)
    total_minor = serializers.IntegerField()
    currency = serializers.CharField(help_text="ISO 4217.")
    minor_digits = serializers.IntegerField(help_text="Decimals of an amount.")
    state = serializers.ChoiceField(choices=["none", "not_asked", "asked", "approved", "declined", "changed"])
    asks = AskBrief(many=True)


class PhotoAnswer(serializers.Serializer[Any]):
    """A photo on the card; the picture itself is at …/photos/{id}/."""

    id = serializers.IntegerField()
    about = serializers.ChoiceField(choices=["reading", "defect", "part"])
    about_label = serializers.CharField()
    reading = serializers.IntegerField(allow_null=True)
    caption = serializers.CharField(allow_blank=True)
    width_px = serializers.IntegerField()
    height_px = serializers.IntegerField()
    sha256 = serializers.CharField()
    taken_by_name = serializers.CharField()
    taken_at = serializers.DateTimeField()
    struck = serializers.BooleanField()
    erased = serializers.BooleanField()


class RecordBrief(serializers.Serializer[Any]):
    """The sealed record of the card."""

    number = serializers.IntegerField()
    head = serializers.CharField()
    sealed_at = serializers.DateTimeField()
    sealed_by_name = serializers.CharField()
    amendments = serializers.IntegerField()


class LinkBrief(serializers.Serializer[Any]):
    """A customer link; its secret was shown once."""

    id = serializers.IntegerField()
    expires_at = serializers.DateTimeField()
    revoked_at = serializers.DateTimeField(allow_null=True)
    share_mass = serializers.BooleanField()
    openings = serializers.IntegerField()
    made_by_name = serializers.CharField()
    made_at = serializers.DateTimeField()


def _by(name: str, doc: str, keys: tuple[str, ...], child: Any) -> type[serializers.Serializer[Any]]:
    """Return a serializer with one field for each of `keys`, made by `child`."""
    return type(
        name,
        (serializers.Serializer,),
        {**{key: child() for key in keys}, "__doc__": doc, "__module__": __name__},
    )


def _by_stage(name: str, doc: str, stages: tuple[str, ...], child: Any) -> type[serializers.Serializer[Any]]:
    ends = _by(f"{name}Ends", doc, ("front", "rear"), child)
    return _by(name, doc, stages, ends)


READ = ("received", "built")
CardLoads = _by_stage("CardLoads", "Axle loads.", READ, lambda: LoadsAnswer(allow_null=True))
CardSag = _by_stage(
    "CardSag",
    "Sags derived from the readings that count.",
    READ,
    lambda: SagAnswerSerializer(allow_null=True),
)
CardSagProblems = _by_stage(
    "CardSagProblems", "What is wrong with the readings.", READ, lambda: ProblemSerializer(many=True)
)
CardSettings = _by_stage(
    "CardSettings", "Saved settings.", sums.STAGES, lambda: SettingAnswer(allow_null=True)
)


class CorrectionAnswer(serializers.Serializer[Any]):
    """What is added to computed sags because earlier cards of this model showed it, and somebody accepted it."""

    cards = serializers.IntegerField(help_text="Sealed cards behind it.")
    static_mm = Number(unit="mm", what="added to the computed static sag")
    rider_mm = Number(unit="mm", what="added to the computed rider sag")
    static_expanded_mm = Number(unit="mm", what="half-width of the 95 % interval of the former")
    rider_expanded_mm = Number(unit="mm", what="half-width of the 95 % interval of the latter")


CardCorrections = _by(
    "CardCorrections", "Accepted corrections.", ("front", "rear"), lambda: CorrectionAnswer(allow_null=True)
)


class CardAnswer(serializers.Serializer[Any]):
    """The whole card."""

    id = serializers.IntegerField()
    version = serializers.IntegerField()
    number = serializers.CharField()
    shop = serializers.IntegerField()
    shop_name = serializers.CharField()
    step = serializers.ChoiceField(choices=JobCard.Step.choices)
    step_label = serializers.CharField()
    may_change = serializers.BooleanField()
    bike = BikeAnswer(allow_null=True)
    loose = serializers.ChoiceField(choices=[part for part in JobCard.Loose.values if part], allow_blank=True)
    loose_description = serializers.CharField()
    loose_front = Kept(FrontShape, allow_null=True)
    loose_rear = Kept(RearShape, allow_null=True)
    customer = CardCustomer(allow_null=True)
    rider = CardRider(allow_null=True)
    complaint = serializers.CharField()
    internal_notes = serializers.CharField()
    explanation = serializers.CharField()
    distance_km = Number(unit="km", what="distance ridden", allow_null=True)
    hours = Number(unit="h", what="hours run", allow_null=True)
    next_service_on = serializers.DateField(allow_null=True)
    next_service_note = serializers.CharField()
    altitude_m = Number(unit="m", what="altitude where the fork is vented and ridden")
    cases = CaseShape(many=True)
    opened_by_name = serializers.CharField()
    opened_at = serializers.DateTimeField()
    targets = CardTargetsAnswer()
    corrections = CardCorrections()
    loads = CardLoads()
    readings = ReadingAnswer(many=True)
    sag = CardSag()
    sag_problems = CardSagProblems()
    settings = CardSettings()
    torques = TorqueAnswer(many=True)
    parts = PartAnswer(many=True)
    cautions = CautionAnswer(many=True)
    sign_offs = SignOffAnswer(many=True)
    blockers = BlockerAnswer(many=True)
    overrides = OverrideAnswer(many=True)
    estimate = EstimateAnswer(allow_null=True)
    photos = PhotoAnswer(many=True)
    record = RecordBrief(allow_null=True)
    links = LinkBrief(many=True)
    former_owner = serializers.BooleanField(
        help_text="The bike has another owner now; a technician does not read whose card it was."
    )
