"""The shapes of the stateless calculations, asked and answered; accepted numbers stand in `calc.bands`."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from calc import coil, gap, linkage, sag, tester
from calc.bands import BANDS, Band
from calc.checks import FEWEST_PARTS, MOST_PARTS, MOST_TURNS, PARTS, SPRING_FIELDS, TEMPERATURES
from calc.materials import MATERIALS
from calc.picture import ROLES
from calc.springs import COMBINED
from calc.units import FACTORS
from calc.web.fields import ByKind, Choice, Number, NumberList, Scalar, StrictSerializer, Text

Fields = dict[str, Any]
Shape = type[serializers.Serializer[Any]]

_LOOSE: Fields = {"required": False, "allow_null": True}
_READING = Band("a reading of the leverage table", "mm", 0, 600)


def shape(name: str, base: Shape, doc: str, **fields: Any) -> Shape:
    """Return a serializer class `name` with `fields` on top of those of `base`."""
    return type(name, (base,), {**fields, "__doc__": doc, "__module__": __name__})


def _list(of: Shape, **options: Any) -> Any:
    return of(many=True, **options)


def _number(key: str, **options: Any) -> Number:
    return Number(BANDS[key], **options)


class TurnSerializer(StrictSerializer):
    """One turn of a wound spring."""

    wire_mm = _number("turn.wire_mm")
    mean_diameter_mm = _number("turn.mean_diameter_mm")
    gap_mm = _number("turn.gap_mm")


def readings() -> Fields:
    """Return the two columns of a spring tester."""
    return {
        key: NumberList(tester.BANDS[key], min_length=tester.FEWEST, max_length=tester.MOST) for key in tester.COLUMNS
    }


def _springs(place: str, title: str, *, loose: bool = False) -> dict[str, Shape]:
    """Return the shape of each kind of spring; `loose` lets every number be left open: it is asked for."""
    wanted = _LOOSE if loose else {}
    shapes = {}
    for kind, names in SPRING_FIELDS.items():
        numbers: Fields = {name: _number(f"{place}.{name}", **wanted) for name in names}
        numbers["solid_deflection_mm"] = _number(f"{place}.solid_deflection_mm", **_LOOSE)
        numbers["kind"] = Choice([kind])
        doc = f"A {kind} spring; deflections count from its free length, preload included."
        shapes[kind] = shape(f"{title}{kind.title()}", StrictSerializer, doc, **numbers)
    shapes["wound"] = shape(
        f"{title}Wound",
        StrictSerializer,
        "A spring turn by turn: each yields until its gap shuts. Straight and tapered windings are cases of it.",
        kind=Choice(["wound"]),
        shear_modulus_gpa=_number("wound.shear_modulus_gpa"),
        turns=_list(TurnSerializer, allow_empty=False, max_length=MOST_TURNS),
        solid_deflection_mm=_number(f"{place}.solid_deflection_mm", **_LOOSE),
    )
    shapes["tested"] = shape(
        f"{title}Tested",
        StrictSerializer,
        "A spring tester's readings from the free length; the curve fitted to them is the spring.",
        kind=Choice(["tested"]),
        **readings(),
        solid_deflection_mm=_number(f"{place}.solid_deflection_mm", **_LOOSE),
    )
    return shapes if place not in PARTS else {**shapes, **_together(place, title)}


def _together(place: str, title: str) -> dict[str, Shape]:
    """Return the shapes of springs stacked and side by side in `place`."""
    parts = _springs(PARTS[place], f"{title}Part")
    able = {"stacked": {kind: part for kind, part in parts.items() if kind != "progressive"}, "side_by_side": parts}
    words = {
        "stacked": "Springs one on another: one force through all, until one is solid.",
        "side_by_side": "Springs beside or inside each other: one deflection of all.",
    }
    return {
        kind: shape(
            f"{title}{kind.title().replace('_', '')}",
            StrictSerializer,
            f"{words[kind]} Deflections are those of the whole.",
            kind=Choice([kind]),
            springs=serializers.ListField(child=ByKind(able[kind]), min_length=FEWEST_PARTS, max_length=MOST_PARTS),
            solid_deflection_mm=_number(f"{place}.solid_deflection_mm", **_LOOSE),
        )
        for kind in COMBINED
    }


LEG_SPRINGS = _springs("leg_spring", "LegSpring")
OPEN_LEG_SPRINGS = _springs("leg_spring", "OpenLegSpring", loose=True)
SHOCK_SPRINGS = _springs("shock_spring", "ShockSpring")
OPEN_SHOCK_SPRINGS = _springs("shock_spring", "OpenShockSpring", loose=True)
FITTED_SPRINGS = {kind: SHOCK_SPRINGS[kind] for kind in SPRING_FIELDS}


class StopSerializer(StrictSerializer):
    """A top-out spring or a bump stop: its force grows with its rate over its length."""

    rate_n_per_mm = _number("stop.rate_n_per_mm")
    length_mm = _number("stop.length_mm")


class RatioSerializer(StrictSerializer):
    """A constant leverage."""

    kind = Choice(["ratio"])
    wheel_per_shock = _number("leverage.wheel_per_shock")


class TableSerializer(StrictSerializer):
    """A leverage measured in pairs, from (0, 0), rising, over all wheel travel."""

    kind = Choice(["table"])
    wheel_mm = NumberList(_READING, min_length=2, max_length=200)
    shock_mm = NumberList(_READING, min_length=2, max_length=200)


def _point() -> NumberList:
    return NumberList(linkage.BANDS["point_mm"], min_length=2, max_length=2)


RockerSerializer = shape(
    "Rocker",
    StrictSerializer,
    "The rocker: what it turns on, its pivot, the rod's eye on it and the rod's eye on the other body.",
    on=Choice(list(linkage.CARRIERS)),
    **{name: _point() for name in linkage.ROCKER_POINTS},
    rod_length_mm=Number(linkage.BANDS["rod_length_mm"], **_LOOSE),
)

LinkageSerializer = shape(
    "Linkage",
    StrictSerializer,
    "A leverage by the linkage's points [x forward, z up] at one attitude: the shock's foot on the rocker, else on"
    " the swingarm. Full extension is as drawn, or where the shock has its extended length.",
    kind=Choice(["linkage"]),
    **{name: _point() for name in linkage.POINTS},
    rocker=RockerSerializer(**_LOOSE),
    shock_extended_mm=Number(linkage.BANDS["shock_extended_mm"], **_LOOSE),
)

LEVERAGES: dict[str, Shape] = {"ratio": RatioSerializer, "table": TableSerializer, "linkage": LinkageSerializer}


class PourSerializer(StrictSerializer):
    """A measured pour: so much oil raised the level so far."""

    cm3 = Number(gap.BANDS["pour.cm3"])
    rise_mm = Number(gap.BANDS["pour.rise_mm"])


def _bore() -> Fields:
    return {
        "bore_diameter_mm": _number("leg.bore_diameter_mm", **_LOOSE),
        "pour": PourSerializer(required=False, allow_null=True),
    }


_TWO_LEGS = "A fork has one or two legs; give each its own entry."
_LEGS = {"min_length": _TWO_LEGS, "max_length": _TWO_LEGS, "required": _TWO_LEGS, "null": _TWO_LEGS}


def _leg(name: str, *, loose: bool) -> Shape:
    wanted: Fields = _LOOSE if loose else {"required": False}
    return shape(
        name,
        StrictSerializer,
        "One fork leg. A null spring is an empty leg. The solids are those put in after the gap was read. Give the bore"
        " or a pour; a pour goes before.",
        spring=ByKind(OPEN_LEG_SPRINGS if loose else LEG_SPRINGS, allow_null=True),
        preload_mm=_number("leg.preload_mm", **wanted),
        seal_diameter_mm=_number("leg.seal_diameter_mm"),
        **_bore(),
        air_gap_mm=_number("leg.air_gap_mm"),
        solids_cm3=_number("leg.solids_cm3"),
        pressure_kpa=_number("leg.pressure_kpa", required=False),
    )


def _loads(end: str) -> Fields:
    return {key: _number(f"{end}.{key}") for key in ("unsprung_kg", "load_static_kg", "load_rider_kg")}


def _stops() -> Fields:
    return {key: StopSerializer(required=False, allow_null=True) for key in ("topout", "bump")}


LegSerializer = _leg("Leg", loose=False)
OpenLegSerializer = _leg("OpenLeg", loose=True)


def _front(name: str, leg: Shape, **more: Any) -> Shape:
    return shape(
        name,
        StrictSerializer,
        "A fork. Loads are the front axle scale's readings, unsprung mass included.",
        stroke_mm=_number("front.stroke_mm"),
        rake_deg=_number("front.rake_deg"),
        **_loads("front"),
        altitude_m=_number("front.altitude_m", required=False),
        **{key: _number(f"front.{key}", **_LOOSE) for key in ("vented_altitude_m", *TEMPERATURES)},
        legs=_list(leg, min_length=1, max_length=2, error_messages=_LEGS),
        **_stops(),
        **more,
    )


def _rear(name: str, *, loose: bool, **more: Any) -> Shape:
    return shape(
        name,
        StrictSerializer,
        "A rear end. Loads are the axle scale's readings, unsprung mass included; the rest is per shock.",
        wheel_travel_mm=_number("rear.wheel_travel_mm"),
        **_loads("rear"),
        shocks=_number("rear.shocks", whole=True, required=False),
        leverage=ByKind(LEVERAGES),
        spring=ByKind(OPEN_SHOCK_SPRINGS, **_LOOSE) if loose else ByKind(SHOCK_SPRINGS),
        preload_mm=_number("rear.preload_mm", **(_LOOSE if loose else {})),
        gas_force_n=_number("rear.gas_force_n", required=False),
        **_stops(),
        **more,
    )


FrontSerializer = _front("Front", LegSerializer)
RearSerializer = _rear("Rear", loose=False)


class EvaluateSerializer(StrictSerializer):
    """A bike's ends; one may be left out."""

    front = FrontSerializer(required=False, allow_null=True)
    rear = RearSerializer(required=False, allow_null=True)


class NoteSerializer(serializers.Serializer[Any]):
    """A remark beside a result."""

    code = serializers.CharField()
    severity = serializers.ChoiceField(choices=["info", "warning", "stop"])
    text = serializers.CharField(help_text="One sentence.")
    value = Number(what="the number meant, if one is", allow_null=True)
    unit = serializers.CharField(help_text="The value's unit.", allow_null=True)


class CurveSerializer(serializers.Serializer[Any]):
    """Force over travel; vertical at the wheel, summed over legs or shocks, unsprung weight left out."""

    travel_mm = NumberList(unit="mm", what="travel, along the fork in front, vertical at the rear")
    spring_n = NumberList(unit="N", what="the springs' part")
    air_n = NumberList(unit="N", what="the air's or gas's part, settling slowly (n = 1)")
    total_n = NumberList(unit="N", what="the whole force, settling slowly (n = 1)")
    air_hard_n = NumberList(unit="N", what="the air's or gas's part in a hard hit (n = 1.4)")
    total_hard_n = NumberList(unit="N", what="the whole force in a hard hit (n = 1.4)")


_FIGURES = {
    "static_sag_mm": ("mm", "static sag, along the fork in front, vertical at the rear"),
    "rider_sag_mm": ("mm", "rider sag, along the fork in front, vertical at the rear"),
    "breakaway_n": ("N", "the sprung load at which the suspension first moves, at the wheel"),
    "wheel_rate_n_per_mm": ("N/mm", "the vertical wheel rate at rider sag"),
    "frequency_hz": ("Hz", "the natural frequency at rider sag; null where the force falls"),
    "full_stroke_n": ("N", "the force at the stop in a hard hit"),
    "energy_to_stop_j": ("J", "the energy from rider sag to the stop in a hard hit"),
    "fall_to_stop_mm": ("mm", "the fall from full extension that just reaches the stop, damping left out"),
}


def _figures() -> Fields:
    return {
        name: Number(unit=unit, what=what, allow_null=name == "frequency_hz") for name, (unit, what) in _FIGURES.items()
    }


_CLEARANCE = "what the springs keep before solid at full stroke, least over legs; null if unknown"

EndAnswerSerializer = shape(
    "EndAnswer",
    serializers.Serializer,
    "What one end does.",
    **_figures(),
    solid_clearance_mm=Number(unit="mm", what=_CLEARANCE, allow_null=True),
    curve=CurveSerializer(),
    notes=NoteSerializer(many=True),
)


class EvaluateAnswerSerializer(serializers.Serializer[Any]):
    """What each end asked for does."""

    front = EndAnswerSerializer(required=False)
    rear = EndAnswerSerializer(required=False)


def _range(key: str, **options: Any) -> NumberList:
    return NumberList(BANDS[key], min_length=2, max_length=2, required=False, allow_null=True, **options)


def _targets() -> Fields:
    return {
        "target_static_sag_mm": _number("target.static_sag_mm", required=False),
        "target_rider_sag_mm": _number("target.rider_sag_mm", required=False),
        "adjuster_mm": _range("adjuster_mm"),
    }


NeededFrontSerializer = _front("NeededFront", OpenLegSerializer, **_targets())
NeededRearSerializer = _rear("NeededRear", loose=True, **_targets())

NeededSerializer = shape(
    "Needed",
    StrictSerializer,
    "The ends, with target sags: each end's own, or else those beside the ends.",
    front=NeededFrontSerializer(required=False, allow_null=True),
    rear=NeededRearSerializer(required=False, allow_null=True),
    **_targets(),
)


class NearestSerializer(serializers.Serializer[Any]):
    """The nearest spring and preload that can be had, and the sags that they give."""

    rate_n_per_mm = Number(unit="N/mm", what="the rate of each spring")
    preload_mm = Number(unit="mm", what="the preload of each spring")
    static_sag_mm = Number(unit="mm", what="the static sag it gives")
    rider_sag_mm = Number(unit="mm", what="the rider sag it gives")


class NeededEndSerializer(serializers.Serializer[Any]):
    """The straight spring, per leg or per shock, that gives both target sags."""

    rate_n_per_mm = Number(unit="N/mm", what="the rate of each spring, null where none exists", allow_null=True)
    preload_mm = Number(unit="mm", what="the preload of each spring, null where none exists", allow_null=True)
    feasible = serializers.BooleanField()
    why = serializers.CharField(allow_null=True, help_text="Why not, in one sentence.")
    nearest = NearestSerializer(allow_null=True)
    notes = NoteSerializer(many=True)


class NeededAnswerSerializer(serializers.Serializer[Any]):
    """The needed spring of each end asked for."""

    front = NeededEndSerializer(required=False)
    rear = NeededEndSerializer(required=False)


def _listed(end: str, springs: dict[str, Shape]) -> Shape:
    return shape(
        f"Listed{end}Spring",
        StrictSerializer,
        "One spring that can be had; the id is the caller's own and comes back with the answer.",
        id=Scalar(allow_null=True),
        label=Text(max_length=200, allow_blank=True),
        spring=ByKind(springs),
        displaced_cm3=_number("displaced_cm3", **_LOOSE),
    )


def _choose(end: str, listed: Shape, given: Fields) -> Shape:
    return shape(
        f"Choose{end}",
        StrictSerializer,
        "One end with its present spring, the sags wanted, and a list of springs.",
        **given,
        target_static_sag_mm=_range("target.static_sag_mm"),
        target_rider_sag_mm=_range("target.rider_sag_mm"),
        aim_static_sag_mm=_number("target.static_sag_mm", **_LOOSE),
        aim_rider_sag_mm=_number("target.rider_sag_mm", **_LOOSE),
        adjuster_mm=_range("adjuster_mm"),
        displaced_cm3=_number("displaced_cm3", **_LOOSE),
        air=Choice(["same_gap", "same_curve"], required=False),
        springs=_list(listed, allow_empty=False, max_length=2000),
    )


ChooseFrontSerializer = _choose("Front", _listed("Front", LEG_SPRINGS), {"front": FrontSerializer()})
ChooseRearSerializer = _choose("Rear", _listed("Rear", SHOCK_SPRINGS), {"rear": RearSerializer()})

RankedSerializer = shape(
    "RankedSpring",
    serializers.Serializer,
    "One spring of the list, at the preload that gives the rider sag aimed at.",
    id=Scalar(allow_null=True),
    label=serializers.CharField(),
    spring=serializers.JSONField(help_text="The spring as it was given."),
    preload_mm=Number(unit="mm", what="the preload it would be set to", allow_null=True),
    **_figures(),
    solid_clearance_mm=Number(unit="mm", what=_CLEARANCE, allow_null=True),
    gap_change_mm=Number(unit="mm", what="the air gap's change; null if unknown", allow_null=True, required=False),
    air_gap_mm=Number(unit="mm", what="the air gap to set, in front", allow_null=True, required=False),
    in_band=serializers.BooleanField(),
    probability=Number(what="the probability that both sags land in band, 0 to 1"),
    verdict=serializers.ChoiceField(choices=["suits", "too_soft", "too_stiff", "cannot_reach", "binds"]),
    text=serializers.CharField(help_text="One sentence."),
)


class ChooseAnswerSerializer(serializers.Serializer[Any]):
    """The list, best first."""

    ranked = RankedSerializer(many=True)
    best = Scalar(allow_null=True)
    notes = NoteSerializer(many=True)


CoilSerializer = shape(
    "Coil",
    StrictSerializer,
    "A coil's dimensions, and its material or shear modulus (which goes first).",
    wire_mm=Number(coil.BANDS["wire_mm"]),
    mean_diameter_mm=Number(coil.BANDS["mean_diameter_mm"]),
    active_turns=Number(coil.BANDS["active_turns"]),
    total_turns=Number(coil.BANDS["total_turns"]),
    ends=Choice(list(coil.ENDS)),
    material=Choice(list(MATERIALS), **_LOOSE),
    shear_modulus_gpa=Number(coil.BANDS["shear_modulus_gpa"], **_LOOSE),
    free_length_mm=Number(coil.BANDS["free_length_mm"], **_LOOSE),
    force_n=Number(coil.BANDS["force_n"], **_LOOSE),
)


class CoilAnswerSerializer(serializers.Serializer[Any]):
    """What a coil's dimensions say."""

    rate_n_per_mm = Number(unit="N/mm", what="the rate")
    index = Number(what="mean coil diameter over wire diameter")
    stress_factor = Number(what="the curvature factor of EN 13906-1")
    stress_mpa = Number(unit="MPa", what="the corrected shear stress at the force; null without one", allow_null=True)
    solid_length_mm = Number(unit="mm", what="the length with all turns closed")
    displaced_cm3 = Number(unit="cm³", what="the volume of oil that the coil displaces")
    mass_g = Number(unit="g", what="the mass; null where the density is unknown", allow_null=True)
    surge_hz = Number(unit="Hz", what="the first surge frequency; null where the density is unknown", allow_null=True)
    notes = NoteSerializer(many=True)


GapSwapSerializer = shape(
    "GapSwap",
    StrictSerializer,
    "After a spring swap: the gap that keeps the air curve. Give the bore or a pour.",
    use=Choice(["swap"]),
    **_bore(),
    air_gap_mm=_number("leg.air_gap_mm"),
    solids_old_cm3=_number("leg.solids_cm3"),
    solids_new_cm3=_number("leg.solids_cm3"),
    read_with=Choice(["spring_out", "spring_in"]),
)

GapEndForceSerializer = shape(
    "GapEndForce",
    StrictSerializer,
    "The gap that gives one leg's air force at a stroke. Give the bore or a pour.",
    use=Choice(["end_force"]),
    **_bore(),
    seal_diameter_mm=_number("leg.seal_diameter_mm"),
    air_gap_mm=_number("leg.air_gap_mm", **_LOOSE),
    solids_cm3=_number("leg.solids_cm3"),
    pressure_kpa=_number("leg.pressure_kpa", required=False),
    altitude_m=_number("front.altitude_m", required=False),
    stroke_mm=_number("front.stroke_mm"),
    wanted_force_n=Number(gap.BANDS["wanted_force_n"]),
    at_stroke_mm=Number(gap.BANDS["at_stroke_mm"]),
    n=Number(gap.BANDS["n"], required=False),
)

GapSpacerSerializer = shape(
    "GapSpacer",
    StrictSerializer,
    "The spacer to cut for a preload.",
    use=Choice(["spacer"]),
    seat_length_mm=Number(gap.BANDS["seat_length_mm"]),
    free_length_mm=Number(gap.BANDS["free_length_mm"]),
    preload_mm=_number("leg.preload_mm"),
    washers_mm=Number(gap.BANDS["washers_mm"], required=False),
)

GAP_SHAPES: dict[str, Shape] = {
    "swap": GapSwapSerializer,
    "end_force": GapEndForceSerializer,
    "spacer": GapSpacerSerializer,
}


class GapAnswerSerializer(serializers.Serializer[Any]):
    """The gap to set and the oil to add, or the spacer to cut."""

    air_gap_mm = Number(unit="mm", what="the air gap to set", required=False)
    gap_change_mm = Number(unit="mm", what="its change, negative for a smaller gap", allow_null=True, required=False)
    oil_to_add_cm3 = Number(
        unit="cm³", what="oil to add to the leg, negative to take out", allow_null=True, required=False
    )
    spacer_mm = Number(unit="mm", what="the spacer's length", required=False)
    notes = NoteSerializer(many=True)


def _pair(who: str) -> Fields:
    return {
        f"{who}_from_{side}_mm": Number(sag.BANDS[f"{who}_from_{side}_mm"], **_LOOSE) for side in ("above", "below")
    }


SagSerializer = shape(
    "Sag",
    StrictSerializer,
    "Raw readings of one end: wheel free, bike alone and ridden, settled from above and from below.",
    end=Choice(["front", "rear"]),
    wheel_free_mm=Number(sag.BANDS["wheel_free_mm"]),
    **_pair("alone"),
    **_pair("rider"),
    travel_mm=Number(sag.BANDS["travel_mm"], **_LOOSE),
    rate_n_per_mm=Number(sag.BANDS["rate_n_per_mm"], **_LOOSE),
    reading_u_mm=Number(sag.BANDS["reading_u_mm"], required=False),
)


class SagAnswerSerializer(serializers.Serializer[Any]):
    """Sag, friction band and standard uncertainty; null where the reading is missing."""

    static_sag_mm = Number(unit="mm", what="static sag", allow_null=True)
    rider_sag_mm = Number(unit="mm", what="rider sag", allow_null=True)
    static_band_mm = Number(unit="mm", what="half the gap of the static pair", allow_null=True)
    rider_band_mm = Number(unit="mm", what="half the gap of the ridden pair", allow_null=True)
    friction_n = Number(unit="N", what="the friction force along the readings' axis", allow_null=True)
    static_u_mm = Number(unit="mm", what="standard uncertainty of the static sag", allow_null=True)
    rider_u_mm = Number(unit="mm", what="standard uncertainty of the rider sag", allow_null=True)
    notes = NoteSerializer(many=True)


_FORCE = Band("a force of the curve", "N", -100_000, 1_000_000)
_TRAVEL = Band("a travel of the curve", "mm", 0, 600)
_LOAD = Band("a sprung load at the wheel", "N", 0, 5000)


def _forces(**options: Any) -> NumberList:
    return NumberList(_FORCE, min_length=2, max_length=500, **options)


class DrawnCurveSerializer(StrictSerializer):
    """A curve as `evaluate/` answers it; all lists of one length."""

    travel_mm = NumberList(_TRAVEL, min_length=2, max_length=500)
    spring_n = _forces(required=False)
    air_n = _forces(required=False)
    total_n = _forces()
    air_hard_n = _forces(required=False)
    total_hard_n = _forces(required=False)


TraceSerializer = shape(
    "Trace",
    StrictSerializer,
    "One state of the end.",
    role=Choice(list(ROLES)),
    label=Text(max_length=200),
    curve=DrawnCurveSerializer(),
    static_sag_mm=Number(_TRAVEL, **_LOOSE),
    rider_sag_mm=Number(_TRAVEL, **_LOOSE),
)


class PictureUnitsSerializer(StrictSerializer):
    """The units in which a picture writes its numbers; metric without them."""

    length = Choice(list(FACTORS["length"]), required=False)
    force = Choice(list(FACTORS["force"]), required=False)


class PictureSerializer(StrictSerializer):
    """What to draw: up to four states of one end, each role once."""

    end = Choice(["front", "rear"])
    title = Text(max_length=200)
    description = Text(max_length=2000, allow_blank=True)
    traces = _list(TraceSerializer, allow_empty=False, max_length=len(ROLES))
    load_static_n = Number(_LOAD, **_LOOSE)
    load_rider_n = Number(_LOAD, **_LOOSE)
    units = PictureUnitsSerializer(required=False)
    decimal = Choice([".", ","], required=False)


class BandAnswerSerializer(serializers.Serializer[Any]):
    """What is accepted for one field: `low` to `high`, in `unit`; `open_low`: above low."""

    what = serializers.CharField()
    unit = serializers.CharField()
    low = serializers.FloatField()
    high = serializers.FloatField()
    open_low = serializers.BooleanField()


class UnitsAnswerSerializer(serializers.Serializer[Any]):
    """Quantity → unit → factor to the quantity's metric unit; field → accepted band."""

    quantities = serializers.DictField(child=serializers.DictField(child=serializers.FloatField()))
    bands = serializers.DictField(child=BandAnswerSerializer())


class ProblemSerializer(serializers.Serializer[Any]):
    """One reason for a refusal."""

    field = serializers.CharField(help_text="The dotted path of the value refused; empty for the whole request.")
    code = serializers.CharField()
    text = serializers.CharField(help_text="One sentence: what was read, unit, accepted band, likely cause.")
    value = serializers.JSONField(allow_null=True, help_text="What was read.")
    unit = serializers.CharField(allow_null=True)
    low = serializers.FloatField(allow_null=True)
    high = serializers.FloatField(allow_null=True)


class ProblemsSerializer(serializers.Serializer[Any]):
    """Every refusal of this API has this shape."""

    problems = ProblemSerializer(many=True)
