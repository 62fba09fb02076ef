"""The air gap: after a spring swap, for a wanted force near the end of the stroke; and the spacer's length.

All for one leg, gap read from the top of the tube to the oil, fork collapsed, spring out, damper bled of air.

Sources: [1] The gas laws of `calc.gas`. [2] Elementary geometry of the tube. How the gap is read, and that twice-read
gaps are truer, is common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from types import MappingProxyType
from typing import Any

from calc.bands import BANDS as ALL_BANDS
from calc.bands import Band, wrong
from calc.gas import atmosphere
from calc.refusal import Note, Problem, Refusal
from calc.words import mark, say

BANDS: MappingProxyType[str, Band] = MappingProxyType(
    {
        "pour.cm3": Band(mark("the measured pour"), "cm³", 1, 500),
        "pour.rise_mm": Band(mark("the rise of the oil by the pour"), "mm", 1, 400),
        "wanted_force_n": Band(mark("the wanted air force of the leg"), "N", 1, 50_000),
        "at_stroke_mm": Band(mark("the stroke at which the force is wanted"), "mm", 1, 400),
        "n": Band(mark("the exponent of the air's compression"), "", 1.0, 1.4),
        "seat_length_mm": Band(mark("the length from cap to seat at full extension"), "mm", 50, 1200),
        "free_length_mm": Band(mark("the spring's free length"), "mm", 50, 1000),
        "washers_mm": Band(mark("the washers' thickness"), "mm", 0, 50),
    }
)
"""Accepted bands of the fields that only these calculations take (common practice, no source)."""

_FROM = MappingProxyType(
    {
        "bore_diameter_mm": "leg.bore_diameter_mm",
        "air_gap_mm": "leg.air_gap_mm",
        "seal_diameter_mm": "leg.seal_diameter_mm",
        "solids_cm3": "leg.solids_cm3",
        "solids_old_cm3": "leg.solids_cm3",
        "solids_new_cm3": "leg.solids_cm3",
        "pressure_kpa": "leg.pressure_kpa",
        "preload_mm": "leg.preload_mm",
        "altitude_m": "front.altitude_m",
        "stroke_mm": "front.stroke_mm",
    }
)
HARD_HIT = 1.4


def gap(request: Mapping[str, Any]) -> dict[str, Any]:
    """Return the gap to set and the oil to add, or the spacer to cut, as `request["use"]` says.

    `swap`: `air_gap_mm`, `solids_old_cm3`, `solids_new_cm3`, `read_with` ("spring_out"), and
    `bore_diameter_mm` or `pour` (`cm3` that raised the oil by `rise_mm`). Answers the gap that keeps the air
    curve: `Δgap = ΔV_solids / A_bore`; `oil_to_add_cm3` is what must go in (negative: out), spring out.

    `end_force`: one leg's `seal_diameter_mm`, bore or pour, `solids_cm3`, `stroke_mm`, optional
    `pressure_kpa` and `altitude_m`, with `wanted_force_n` of its air, along the fork and above
    atmosphere, at `at_stroke_mm`, and the exponent `n` (1 settling to 1.4 hard hit, the default).
    `air_gap_mm`, where given, is today's.

    `spacer`: `seat_length_mm`, `free_length_mm`, `preload_mm`, optional `washers_mm`.

    Raises `Refusal` with every problem found.

    Source: [1] for a wanted force, [2] for the rest.

    >>> answer = gap({"use": "swap", "bore_diameter_mm": 42, "air_gap_mm": 110, "solids_old_cm3": 80,
    ...               "solids_new_cm3": 70, "read_with": "spring_out"})
    >>> round(answer["air_gap_mm"], 2), round(answer["oil_to_add_cm3"], 6)
    (102.78, 10.0)
    """
    _check_bands(request)
    answer, notes = {"swap": _swap, "end_force": _end_force, "spacer": _spacer}[request["use"]](request)
    rounded = {key: value if value is None else float(f"{value:.6g}") for key, value in answer.items()}
    return {**rounded, "notes": [note.as_dict() for note in notes]}


def spacer_length(seat_length_mm: float, free_length_mm: float, preload_mm: float, washers_mm: float) -> float:
    """Return the spacer to cut, mm: cap to seat at full extension − free length + preload − washers.

    `seat_length_mm`, `free_length_mm`, `preload_mm` and `washers_mm` are in mm. Raises nothing. Source: [2].

    >>> spacer_length(520.0, 460.0, 12.0, 2.0)
    70.0
    """
    return seat_length_mm - free_length_mm + preload_mm - washers_mm


def _check_bands(request: Mapping[str, Any]) -> None:
    values = {key: value for key, value in request.items() if not isinstance(value, Mapping)}
    for key, value in (request.get("pour") or {}).items():
        values[f"pour.{key}"] = value
    problems = []
    for key, value in values.items():
        band = BANDS.get(key) or (ALL_BANDS[_FROM[key]] if key in _FROM else None)
        if band is not None and value is not None and not band.holds(value):
            text = wrong(float(value), band)
            problems.append(Problem(key, "out_of_band", text, value, band.unit or None, band.low, band.high))
    if request["use"] != "spacer" and request.get("bore_diameter_mm") is None and request.get("pour") is None:
        text = say(
            "Neither the bore nor a measured pour is given, and the gap's volume needs one: give the bore in mm, "
            "or so many cm³ and the rise in mm.",
        )
        problems.append(Problem("bore_diameter_mm", "missing", text, None, "mm"))
    if problems:
        raise Refusal(*problems)


def _area_mm2(request: Mapping[str, Any]) -> float:
    """Return the area of the oil's surface where the gap is read: from a pour, which measures it, or the bore."""
    pour = request.get("pour")
    if pour is not None:
        return float(pour["cm3"]) * 1000 / float(pour["rise_mm"])
    return math.pi / 4 * float(request["bore_diameter_mm"]) ** 2


def pour_notes(request: Mapping[str, Any]) -> list[Note]:
    """Remark where bore and pour disagree by more than a careful pour would.

    Returns a list of one note or none; `request` is the mapping that `gap` takes, or a leg's. Raises nothing. Source:
    [2]; that 3 % is a careful pour is common practice, no source.

    A pour of 27.7 cm³ that rises 20 mm makes 1385 mm², a bore of 42 mm.

    >>> pour_notes({"bore_diameter_mm": 42, "pour": {"cm3": 27.7, "rise_mm": 20}})
    []
    >>> [note.code for note in pour_notes({"bore_diameter_mm": 46, "pour": {"cm3": 27.7, "rise_mm": 20}})]
    ['pour_and_bore_differ']
    """
    bore, pour = request.get("bore_diameter_mm"), request.get("pour")
    if bore is None or pour is None:
        return []
    measured = math.sqrt(4 / math.pi * _area_mm2(request))
    if abs(measured / bore - 1) <= 0.03:
        return []
    text = say(
        "The pour makes the bore {measured:.4g} mm, the bore given is {bore:g} mm; the pour was used. Something "
        "standing in the tube, or a misread level, would explain it.",
        measured=measured, bore=bore,
    )
    return [Note("pour_and_bore_differ", "warning", text, float(f"{measured:.6g}"), "mm")]


def _swap(request: Mapping[str, Any]) -> tuple[dict[str, float | None], list[Note]]:
    if request["read_with"] == "spring_in":
        text = say(
            "The gap of {air_gap_mm:g} mm was read with the spring in, which lifts the oil by what the spring "
            "displaces: take the spring out, collapse the fork, bleed the damper and read again.",
            air_gap_mm=request["air_gap_mm"],
        )
        raise Refusal(Problem("read_with", "spring_in", text, "spring_in"))
    area = _area_mm2(request)
    change = (request["solids_new_cm3"] - request["solids_old_cm3"]) * 1000 / area
    new = request["air_gap_mm"] + change
    if new <= 0:
        text = say(
            "The new parts displace {solids_old_cm3:.4g} cm³ less, so the gap of {air_gap_mm:g} mm would have to "
            "be {new:.4g} mm: check the volumes, in cm³.",
            solids_old_cm3=request["solids_old_cm3"] - request["solids_new_cm3"],
            air_gap_mm=request["air_gap_mm"],
            new=new,
        )
        raise Refusal(Problem("solids_new_cm3", "no_gap_left", text, request["solids_new_cm3"], "cm³"))
    notes = [*pour_notes(request), *_gap_notes(new), _outer_chamber()]
    return {"air_gap_mm": new, "gap_change_mm": change, "oil_to_add_cm3": -change * area / 1000}, notes


def _end_force(request: Mapping[str, Any]) -> tuple[dict[str, float | None], list[Note]]:
    stroke, at, n = request["stroke_mm"], request["at_stroke_mm"], request.get("n", HARD_HIT)
    if at > stroke:
        text = say(
            "The force is wanted at {at:g} mm, past the whole stroke of {stroke:g} mm.",
            at=at, stroke=stroke,
        )
        raise Refusal(Problem("at_stroke_mm", "past_stroke", text, at, "mm", 0, stroke))
    seal_mm2 = math.pi / 4 * request["seal_diameter_mm"] ** 2
    outside = float(atmosphere(request.get("altitude_m", 0.0)))
    start = outside + request.get("pressure_kpa", 0.0) * 1000
    wanted = outside + request["wanted_force_n"] / seal_mm2 * 1e6
    ratio = (wanted / start) ** (1 / n)
    if ratio <= 1:
        floor = (start - outside) * seal_mm2 / 1e6
        text = say(
            "{wanted_force_n:g} N is no more than the {floor:.4g} N that the charge gives at full extension, "
            "whatever the gap: lower the charge or ask for more.",
            wanted_force_n=request["wanted_force_n"], floor=floor,
        )
        raise Refusal(Problem("wanted_force_n", "below_charge", text, request["wanted_force_n"], "N", floor))
    end_mm3 = seal_mm2 * (stroke - ratio * (stroke - at)) / (ratio - 1)
    if end_mm3 <= 0:
        most = (start * (stroke / (stroke - at)) ** n - outside) * seal_mm2 / 1e6
        text = say(
            "No gap gives {wanted_force_n:g} N at {at:g} mm: with no air left at the stop it would be {most:.4g} "
            "N. Ask for less, or at a longer stroke.",
            wanted_force_n=request["wanted_force_n"], at=at, most=most,
        )
        raise Refusal(Problem("wanted_force_n", "out_of_reach", text, request["wanted_force_n"], "N", 0, most))
    area = _area_mm2(request)
    new = (end_mm3 + request["solids_cm3"] * 1000) / area
    old = request.get("air_gap_mm")
    change = None if old is None else new - old
    answer = {
        "air_gap_mm": new,
        "gap_change_mm": change,
        "oil_to_add_cm3": None if change is None else -change * area / 1000,
    }
    return answer, [*pour_notes(request), *_gap_notes(new), _outer_chamber()]


def _spacer(request: Mapping[str, Any]) -> tuple[dict[str, float | None], list[Note]]:
    length = spacer_length(
        request["seat_length_mm"],
        request["free_length_mm"],
        request["preload_mm"],
        request.get("washers_mm", 0.0),
    )
    if length < 0:
        text = say(
            "The spring is {length:.4g} mm too long for a preload of {preload_mm:g} mm with no spacer at all: "
            "were cap-to-seat and free length swapped, or is it a spring for another fork?",
            length=-length, preload_mm=request["preload_mm"],
        )
        raise Refusal(Problem("free_length_mm", "no_room", text, request["free_length_mm"], "mm"))
    notes = [Note("cut_both_alike", "info", say("Cut square, deburr, and measure both legs before fitting."))]
    return {"spacer_mm": length}, notes


def _gap_notes(gap_mm: float) -> list[Note]:
    band = ALL_BANDS["leg.air_gap_mm"]
    if band.holds(gap_mm):
        return []
    text = say(
        "A gap of {gap_mm:.4g} mm is outside {wording}: do not set it without the maker's word.",
        gap_mm=gap_mm, wording=band.wording(),
    )
    return [Note("gap_out_of_band", "warning", text, float(f"{gap_mm:.6g}"), "mm")]


def _outer_chamber() -> Note:
    text = say("In a twin-chamber or closed-cartridge fork this covers the outer chamber's change only.")
    return Note("outer_chamber_only", "info", text)
