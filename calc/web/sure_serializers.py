"""The shapes of the calculations on how sure, which loads, whom a spring suits and what rate and preload leave."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from calc.asking import LONGEST_LIST
from calc.bands import BANDS
from calc.cases import MOST_CASES
from calc.loads import LOAD_BANDS, WAYS
from calc.origins import FIELDS, MOST_U, ORIGINS
from calc.suits import SHARE
from calc.uncertainty import MOST_SPRINGS, RESULTS
from calc.web import serializers as shapes
from calc.web.fields import ByKind, Choice, Number, NumberList, Scalar, StrictSerializer, Text
from calc.web.serializers import Shape, shape

Fields = dict[str, Any]

_LOOSE: Fields = {"required": False, "allow_null": True}
_SPRINGS = {"front": shapes.LEG_SPRINGS, "rear": shapes.SHOCK_SPRINGS}
_ENDS: dict[str, Shape] = {"front": shapes.FrontSerializer, "rear": shapes.RearSerializer}


def _range(key: str, **options: Any) -> NumberList:
    return NumberList(BANDS[key], min_length=2, max_length=2, **options)


def _targets(**options: Any) -> Fields:
    return {f"target_{sag}": _range(f"target.{sag}", **options) for sag in ("static_sag_mm", "rider_sag_mm")}


def _listed(end: str) -> Shape:
    return shape(
        f"Suitable{end.title()}Spring",
        StrictSerializer,
        "One spring of a list; the id is the caller's own and comes back with the answer.",
        id=Scalar(allow_null=True),
        label=Text(max_length=200, allow_blank=True),
        spring=ByKind(_SPRINGS[end]),
    )


LISTED = {end: _listed(end) for end in _ENDS}


def _list(end: str, most: int = LONGEST_LIST, **options: Any) -> Any:
    many: Fields = {"many": True, "allow_empty": False, "max_length": most}
    return LISTED[end](**many, **options)


def _each_end(name: str, doc: str, **fields: Any) -> dict[str, Shape]:
    """Return one shape for each end: the end itself, and fields that may depend on which it is."""
    made = {}
    for end, given in _ENDS.items():
        own = {key: of(end) if callable(of) else of for key, of in fields.items()}
        made[end] = shape(f"{name}{end.title()}", StrictSerializer, doc, **{end: given()}, **own)
    return made


SourceSerializer = shape(
    "Source",
    StrictSerializer,
    "Where a figure comes from, and its own standard uncertainty where it is known better than usual.",
    **{"from": Choice(list(ORIGINS))},
    u=Number(MOST_U, **_LOOSE),
)


def _source_shape(end: str) -> Shape:
    each = {field: SourceSerializer(**_LOOSE) for field in FIELDS[end]}
    doc = "Where each figure comes from; what is left out is assumed. Spring and leverage: u in per cent."
    return shape(f"{end.title()}Sources", StrictSerializer, doc, **each)


SOURCES = {end: _source_shape(end) for end in _ENDS}


def _sources(end: str) -> Any:
    return SOURCES[end](**_LOOSE)


UNCERTAINTY = _each_end(
    "Uncertainty",
    "One end with where its figures come from; with sag bands and a list, which spring and how sure.",
    sources=_sources,
    **_targets(**_LOOSE),
    adjuster_mm=_range("adjuster_mm", **_LOOSE),
    springs=lambda end: _list(end, MOST_SPRINGS, **_LOOSE),
)


class IntervalSerializer(serializers.Serializer[Any]):
    """A result: with no errors, its standard uncertainty, and the interval that holds 95 % of the samples."""

    value = Number(what="the result with no errors")
    u = Number(what="its standard uncertainty")
    low = Number(what="the lower end of the 95 % interval")
    high = Number(what="the upper end of the 95 % interval")


ShareSerializer = shape(
    "Share",
    serializers.Serializer,
    "The input's part of each result's variance, 0 to 1; null where the result does not vary or is not asked.",
    **{key: Number(what="part of the variance, 0 to 1", allow_null=True) for key in RESULTS},
)


DoubtSerializer = shape(
    "Doubt",
    serializers.Serializer,
    "One input and what it adds to the spread.",
    field=serializers.CharField(),
    what=serializers.CharField(),
    **{"from": serializers.CharField(help_text="Where it comes from.")},
    u=Number(what="its standard uncertainty, in the unit beside it"),
    unit=serializers.CharField(),
    share=ShareSerializer(),
)


ChanceSerializer = shape(
    "Chance",
    serializers.Serializer,
    "One spring of the list and the probability that both sags land in band.",
    id=Scalar(allow_null=True),
    label=serializers.CharField(),
    preload_mm=Number(unit="mm", what="the preload it would be set to"),
    probability=Number(what="the probability that both sags land in band, 0 to 1"),
)


NextReadingSerializer = shape(
    "NextReading",
    serializers.Serializer,
    "The reading worth taking next.",
    field=serializers.CharField(),
    worth=Number(what="the rise of probability, or the part of the rider sag's variance, 0 to 1"),
    text=serializers.CharField(help_text="One sentence."),
)


UncertaintyAnswerSerializer = shape(
    "UncertaintyAnswer",
    serializers.Serializer,
    "How sure, and what to read next. Needed rate and preload are null without sag bands or where none exists.",
    static_sag_mm=IntervalSerializer(help_text="Static sag, mm."),
    rider_sag_mm=IntervalSerializer(help_text="Rider sag, mm."),
    wheel_rate_n_per_mm=IntervalSerializer(help_text="Vertical wheel rate at rider sag, N/mm."),
    rate_n_per_mm=IntervalSerializer(help_text="The needed rate, N/mm.", allow_null=True),
    preload_mm=IntervalSerializer(help_text="The needed preload, mm.", allow_null=True),
    inputs=DoubtSerializer(many=True),
    springs=ChanceSerializer(many=True, allow_null=True),
    next_reading=NextReadingSerializer(allow_null=True),
    undecided=serializers.CharField(allow_null=True, help_text="Which two springs the readings cannot separate."),
    notes=shapes.NoteSerializer(many=True),
)


def _unloaded(end: str) -> Shape:
    doc = "An end without its loads, which are asked for; springs, preload and leverage as they are."
    return shape(f"Unloaded{end.title()}", _ENDS[end], doc, load_static_kg=None, load_rider_kg=None)


def _load_number(key: str, **options: Any) -> Number:
    return Number(LOAD_BANDS[key], **options)


def _scales(end: str) -> Any:
    read = {key: Number(BANDS[f"{end}.load_{key}"], **_LOOSE) for key in ("static_kg", "rider_kg")}
    doc = "Axle scale readings, unsprung mass included; either may be left out."
    return shape(f"{end.title()}Scales", StrictSerializer, doc, **read, u_kg=_load_number("scales.u_kg", **_LOOSE))(
        **_LOOSE
    )


RiderPartSerializer = shape(
    "RiderPart",
    StrictSerializer,
    "The rider's mass and the share of it on this axle, on top of the load of the bike alone.",
    mass_kg=_load_number("rider.mass_kg"),
    share=_load_number("rider.share"),
    **{key: _load_number(f"rider.{key}", **_LOOSE) for key in ("alone_kg", "u_kg", "share_u")},
)

ReadSagsSerializer = shape(
    "ReadSags",
    StrictSerializer,
    "Sags as read, along the fork in front, vertical behind; either may be left out.",
    **{key: _load_number(f"sags.{key}", **_LOOSE) for key in ("static_sag_mm", "rider_sag_mm", "u_mm")},
)


def _loads(end: str) -> Shape:
    return shape(
        f"Loads{end.title()}",
        StrictSerializer,
        "One end, and its loads by scales, by the rider's mass and share, by the sags: one way or more.",
        **{end: _unloaded(end)()},
        sources=_sources(end),
        scales=_scales(end),
        rider=RiderPartSerializer(**_LOOSE),
        sags=ReadSagsSerializer(**_LOOSE),
    )


LOADS = {end: _loads(end) for end in _ENDS}


class ToldLoadsSerializer(serializers.Serializer[Any]):
    """Axle loads as one way tells them; null where it does not."""

    static_kg = Number(unit="kg", what="the axle load of the bike alone", allow_null=True)
    static_u_kg = Number(unit="kg", what="its standard uncertainty", allow_null=True)
    rider_kg = Number(unit="kg", what="the axle load with the rider", allow_null=True)
    rider_u_kg = Number(unit="kg", what="its standard uncertainty", allow_null=True)


class BestLoadsSerializer(serializers.Serializer[Any]):
    """The surest load of each state, and which way told it."""

    static_kg = Number(unit="kg", what="the axle load of the bike alone", allow_null=True)
    static_from = serializers.CharField(allow_null=True)
    rider_kg = Number(unit="kg", what="the axle load with the rider", allow_null=True)
    rider_from = serializers.CharField(allow_null=True)


class CauseSerializer(serializers.Serializer[Any]):
    """What alone would best explain the difference."""

    code = serializers.CharField()
    change = Number(what="by how much the true figure would differ from the stated one, in the unit beside it")
    unit = serializers.CharField()
    times_u = Number(what="that change over its standard uncertainty")
    left_kg = Number(unit="kg", what="the difference that would stay unexplained")
    misfit = Number(what="what ranks it: squares of all that stays, over their uncertainties; least first")
    text = serializers.CharField(help_text="One sentence.")


class ComparedSerializer(serializers.Serializer[Any]):
    """Two ways held against each other."""

    ways = serializers.ListField(child=serializers.CharField())
    static_apart_kg = Number(unit="kg", what="the second way's load less the first's, bike alone", allow_null=True)
    rider_apart_kg = Number(unit="kg", what="the second way's load less the first's, rider on", allow_null=True)
    times_u = Number(what="the worse difference over its standard uncertainty")
    verdict = serializers.ChoiceField(choices=["agree", "differ", "contradict"])
    text = serializers.CharField(help_text="One sentence or two.")
    causes = CauseSerializer(many=True)


WaysSerializer = shape(
    "LoadWays",
    serializers.Serializer,
    "Each way that was given.",
    **{way: ToldLoadsSerializer(required=False) for way in WAYS},
)


class AxleLoadsAnswerSerializer(serializers.Serializer[Any]):
    """An axle's loads, each way given, and how the ways agree."""

    ways = WaysSerializer()
    best = BestLoadsSerializer()
    compared = ComparedSerializer(many=True)
    notes = shapes.NoteSerializer(many=True)


SUITS = _each_end(
    "Suits",
    "One end, the sags wanted, the rider's share of this axle, and a list of springs. The rider load is not used.",
    rider_share=Number(SHARE),
    rider_mass_kg=Number(BANDS["person.mass_kg"], **_LOOSE),
    **_targets(),
    adjuster_mm=_range("adjuster_mm", **_LOOSE),
    springs=_list,
)


def _pair(unit: str, what: str, **options: Any) -> NumberList:
    return NumberList(unit=unit, what=what, min_length=2, max_length=2, **options)


SuitedSerializer = shape(
    "Suited",
    serializers.Serializer,
    "Whom one spring suits.",
    id=Scalar(allow_null=True),
    label=serializers.CharField(),
    rider_mass_kg=_pair("kg", "the lightest and the heaviest rider it suits", allow_null=True),
    preload_mm=_pair("mm", "the preload for either", allow_null=True),
    why=serializers.CharField(allow_null=True, help_text="Why it suits nobody."),
    text=serializers.CharField(help_text="One sentence."),
)


class SuitsAnswerSerializer(serializers.Serializer[Any]):
    """The list by the lightest rider, and its ladder."""

    bands = SuitedSerializer(many=True)
    svg = serializers.CharField(help_text="The list as a ladder over rider mass, SVG.")
    notes = shapes.NoteSerializer(many=True)


def _case(end: str) -> Any:
    each = shape(
        f"{end.title()}LoadCase",
        StrictSerializer,
        "One way of loading the bike, by the axle scale's reading with everything on.",
        label=Text(max_length=200, allow_blank=True),
        load_kg=Number(BANDS[f"{end}.load_rider_kg"]),
    )
    many: Fields = {"many": True, "allow_empty": False, "max_length": MOST_CASES}
    return each(**many)


CASES = _each_end(
    "Cases",
    "One end with its springs as fitted, and the loads that it has to carry.",
    cases=_case,
    target_rider_sag_mm=_range("target.rider_sag_mm"),
    adjuster_mm=_range("adjuster_mm", **_LOOSE),
)

CaseAnswerSerializer = shape(
    "CaseAnswer",
    serializers.Serializer,
    "The preload of one load, and what the nearest one on the adjuster gives.",
    label=serializers.CharField(),
    load_kg=Number(unit="kg", what="the axle load"),
    preload_mm=Number(unit="mm", what="the preload that gives the sag; null where none does", allow_null=True),
    set_to_mm=Number(unit="mm", what="the nearest preload that the adjuster has"),
    rider_sag_mm=Number(unit="mm", what="the rider sag there"),
    static_sag_mm=Number(unit="mm", what="the static sag there"),
    reached=serializers.BooleanField(help_text="Whether the adjuster reaches the preload."),
    in_band=serializers.BooleanField(help_text="Whether the rider sag there is in band."),
)


class CasesAnswerSerializer(serializers.Serializer[Any]):
    """What one spring does for every load."""

    cases = CaseAnswerSerializer(many=True)
    reaches_all = serializers.BooleanField()
    text = serializers.CharField(help_text="One sentence.")
    notes = shapes.NoteSerializer(many=True)


WINDOW = _each_end(
    "Window",
    "One end, the sags wanted, and the ranges of rate and preload to look at.",
    **_targets(),
    adjuster_mm=_range("adjuster_mm", **_LOOSE),
    rates_n_per_mm=lambda end: _range(
        "leg_spring.rate_n_per_mm" if end == "front" else "shock_spring.rate_n_per_mm", **_LOOSE
    ),
)


class RegionSerializer(serializers.Serializer[Any]):
    """Where both sags are in band: for each rate, the preloads that serve. Empty where none does."""

    rate_n_per_mm = NumberList(unit="N/mm", what="the rates")
    least_preload_mm = NumberList(unit="mm", what="the least preload that serves at each")
    most_preload_mm = NumberList(unit="mm", what="the most preload that serves at each")


def _grid(unit: str, what: str) -> Any:
    return serializers.ListField(child=NumberList(unit=unit, what=what))


class WindowAnswerSerializer(serializers.Serializer[Any]):
    """Both sags over rate and preload; grids have one row per preload, one value per rate."""

    rate_n_per_mm = NumberList(unit="N/mm", what="the grid's rates")
    preload_mm = NumberList(unit="mm", what="the grid's preloads")
    static_sag_mm = _grid("mm", "static sag")
    rider_sag_mm = _grid("mm", "rider sag")
    in_band = serializers.ListField(child=serializers.ListField(child=serializers.BooleanField()))
    region = RegionSerializer()
    svg = serializers.CharField(help_text="The region and the bands' edges, SVG.")
    notes = shapes.NoteSerializer(many=True)
