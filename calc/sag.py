"""Sag from raw length readings: the mean of a stiction pair, its friction band, and how sure it is.

A length is read twice after settling, from above (lifted, let down: the longer) and from below (pushed
down, let up: the shorter). Sag is the wheel-free length less the pair's mean; half the gap is the
friction band. That pairs more than 15 mm apart hint at binding is common practice, with no source.

Numbered: [1] JCGM 100:2008, 5.1.2. [2] Sag as the mean of a pair read from above and from below: common practice, no
source.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from calc.bands import BANDS as MET
from calc.bands import Band, wrong
from calc.refusal import Note, Problem, Refusal
from calc.words import mark, say


def _length(what: str) -> Band:
    """Return the band of a length read at the wheel, with the slips that any length is read with."""
    return Band(what, "mm", 100.0, 1500.0, guesses=MET["front.stroke_mm"].guesses)


BANDS: MappingProxyType[str, Band] = MappingProxyType(
    {
        "wheel_free_mm": _length(mark("the length with the wheel free")),
        "alone_from_above_mm": _length(mark("the length of the bike alone, settled from above,")),
        "alone_from_below_mm": _length(mark("the length of the bike alone, settled from below,")),
        "rider_from_above_mm": _length(mark("the length of the bike ridden, settled from above,")),
        "rider_from_below_mm": _length(mark("the length of the bike ridden, settled from below,")),
        "travel_mm": Band(mark("the travel along the readings' axis"), "mm", 20, 500),
        "rate_n_per_mm": Band(mark("the rate along the readings' axis"), "N/mm", 0.5, 500),
        "reading_u_mm": Band(mark("the standard uncertainty of one reading"), "mm", 0, 20),
    }
)
"""What is accepted; the lengths suit axle to any fixed point of a bike (common practice, no source)."""

WIDE_PAIR_MM = 15.0
READING_U_MM = 1.0
_SIDES = {"above": mark("from above"), "below": mark("from below")}
_WHO = {"alone": mark("bike-alone"), "rider": mark("ridden")}


@dataclass(frozen=True)
class Pair:
    """One state's `sag` in mm, `band`, half the gap between its two readings in mm (None from one), and its standard
    uncertainty `u` in mm.

    Source: [1], [2].

    >>> Pair(31.0, 3.0, 1.2).band
    3.0
    """

    sag: float
    band: float | None
    u: float


def sag(request: Mapping[str, Any]) -> dict[str, Any]:
    """Return sags, friction bands and standard uncertainties from raw readings, in mm.

    `request` holds `end`, `wheel_free_mm` and, from above and from below, the `alone_…` and `rider_…`
    lengths; one state, or one reading of a state, may be missing. Optional `travel_mm`, `rate_n_per_mm`
    (along the readings' axis; it turns the ridden pair's band, else the other's, into `friction_n`) and
    `reading_u_mm`, the standard uncertainty of one reading (1 mm). A sag's uncertainty is that of its
    readings (JCGM 100, 5.1.2). Raises `Refusal` with every problem found.

    Source: [1], [2].

    >>> answer = sag({"end": "rear", "wheel_free_mm": 640, "alone_from_above_mm": 612,
    ...               "alone_from_below_mm": 606, "rider_from_above_mm": 548, "rider_from_below_mm": 538})
    >>> answer["static_sag_mm"], answer["rider_sag_mm"], answer["rider_band_mm"]
    (31.0, 97.0, 5.0)
    """
    _check(request)
    u = request.get("reading_u_mm", READING_U_MM)
    static, rider = (_pair(request, who, u) for who in _WHO)
    _check_sags(request, static, rider)
    rate = request.get("rate_n_per_mm")
    band = next((pair.band for pair in (rider, static) if pair is not None and pair.band is not None), None)
    answer = {
        "static_sag_mm": static and static.sag,
        "rider_sag_mm": rider and rider.sag,
        "static_band_mm": static and static.band,
        "rider_band_mm": rider and rider.band,
        "friction_n": None if rate is None or band is None else rate * band,
        "static_u_mm": static and static.u,
        "rider_u_mm": rider and rider.u,
    }
    rounded = {key: value if value is None else float(f"{value:.6g}") for key, value in answer.items()}
    return {**rounded, "notes": [note.as_dict() for note in _notes(request)]}


def _readings(request: Mapping[str, Any], who: str) -> tuple[float | None, float | None]:
    """Return a state's length from above and from below, mm, None where not read."""
    return request.get(f"{who}_from_above_mm"), request.get(f"{who}_from_below_mm")


def _pair(request: Mapping[str, Any], who: str, u: float) -> Pair | None:
    """Return a state's sag; None where it was not read at all."""
    above, below = _readings(request, who)
    read = [length for length in (above, below) if length is not None]
    if not read:
        return None
    band = None if above is None or below is None else (above - below) / 2
    return Pair(request["wheel_free_mm"] - sum(read) / len(read), band, u * math.sqrt(1 + 1 / len(read)))


def _check(request: Mapping[str, Any]) -> None:
    """Refuse readings outside their bands, and those that contradict each other."""
    problems = []
    for key, band in BANDS.items():
        value = request.get(key)
        if value is not None and not band.holds(value):
            problems.append(
                Problem(key, "out_of_band", wrong(float(value), band), value, band.unit, band.low, band.high)
            )
    if not problems:
        for who in _WHO:
            problems += _contradictions(request, who)
    if all(length is None for who in _WHO for length in _readings(request, who)):
        text = say("No length with the wheel loaded is given: read the bike alone, the bike ridden, or both.")
        problems.append(Problem("alone_from_above_mm", "missing", text, None, "mm"))
    if problems:
        raise Refusal(*problems)


def _contradictions(request: Mapping[str, Any], who: str) -> list[Problem]:
    """Return what one state's readings say against each other and against the wheel-free length."""
    free = request["wheel_free_mm"]
    above, below = _readings(request, who)
    problems = []
    if above is not None and below is not None and above < below:
        text = say(
            "The {who} length from above, {above:g} mm, is shorter than from below, {below:g} mm; settling from "
            "above leaves the longer length: are the two swapped?",
            who=say(_WHO[who]), above=above, below=below,
        )
        problems.append(Problem(f"{who}_from_above_mm", "pair_swapped", text, above, "mm", below))
    for side, length in (("above", above), ("below", below)):
        if length is not None and length > free:
            text = say(
                "The {who} length {side}, {length:g} mm, is above the wheel-free length of {free:g} mm, but "
                "weight can only shorten it: are the two swapped, or was another point read?",
                who=say(_WHO[who]), side=say(_SIDES[side]), length=length, free=free,
            )
            problems.append(Problem(f"{who}_from_{side}_mm", "longer_than_free", text, length, "mm", None, free))
    return problems


def _check_sags(request: Mapping[str, Any], static: Pair | None, rider: Pair | None) -> None:
    """Refuse sags that cannot be: ridden no more than alone, or past the travel."""
    problems = []
    if static is not None and rider is not None and rider.sag <= static.sag:
        text = say(
            "The rider sag, {sag:g} mm, is not above the static sag, {sag2:g} mm: were the bike-alone and the "
            "ridden readings swapped?",
            sag=rider.sag, sag2=static.sag,
        )
        field = f"rider_from_{'below' if request.get('rider_from_above_mm') is None else 'above'}_mm"
        problems.append(Problem(field, "rider_not_above_static", text, rider.sag, "mm", static.sag))
    travel = request.get("travel_mm")
    for who, name, pair in (("alone", "static", static), ("rider", "rider", rider)):
        if travel is not None and pair is not None and pair.sag > travel:
            text = say(
                "The {name} sag, {sag:g} mm, is above the whole travel of {travel:g} mm: check the wheel-free "
                "length and the travel, both in mm along the same line.",
                name=say(name), sag=pair.sag, travel=travel,
            )
            read = "above" if request.get(f"{who}_from_above_mm") is not None else "below"
            field = f"{who}_from_{read}_mm"
            problems.append(Problem(field, "past_travel", text, pair.sag, "mm", 0, travel))
    if problems:
        raise Refusal(*problems)


def _notes(request: Mapping[str, Any]) -> list[Note]:
    """Remark on wide pairs and on single readings."""
    notes = []
    for who, name in _WHO.items():
        above, below = _readings(request, who)
        if above is not None and below is not None:
            apart = above - below
            if apart > WIDE_PAIR_MM:
                text = say(
                    "The {name} readings lie {apart:.4g} mm apart, more than {wide_pair_mm:g} mm: look for "
                    "binding (axle clamp, fork alignment, linkage bearings, dry seals) before trusting the sag.",
                    name=say(name), apart=apart, wide_pair_mm=WIDE_PAIR_MM,
                )
                notes.append(Note("wide_pair", "warning", text, apart, "mm"))
        elif above is not None or below is not None:
            side = "above" if above is not None else "below"
            text = say(
                "The {name} length was read {side} only: the sag is off by the friction band, which one "
                "reading cannot show. Read it from the other side too.",
                name=say(name), side=say(_SIDES[side]),
            )
            notes.append(Note("single_reading", "warning", text))
    return notes
