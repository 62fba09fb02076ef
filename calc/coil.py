"""The coil itself: rate, stress, lengths, volume, mass, surge, buckling and yield of a wound round-wire
spring.

Equations: EN 13906-1 and Shigley, Mechanical Engineering Design, ch. 10. The helix angle is neglected
throughout.

Sources: [1] R. G. Budynas and J. K. Nisbett, Shigley's Mechanical Engineering Design, 10th ed., ch. 10. [2] EN
13906-1 (from memory). [3] roymech.co.uk, the standard's buckling equation.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from calc.bands import Band, wrong
from calc.materials import MATERIALS, Material
from calc.refusal import Note, Problem, Refusal
from calc.words import mark, say

BANDS: MappingProxyType[str, Band] = MappingProxyType(
    {
        "wire_mm": Band(mark("the wire diameter"), "mm", 0.2, 40),
        "mean_diameter_mm": Band(mark("the mean coil diameter"), "mm", 1, 400),
        "active_turns": Band(mark("the number of active turns"), "", 0.5, 200),
        "total_turns": Band(mark("the number of turns in all"), "", 0.5, 210),
        "shear_modulus_gpa": Band(mark("the shear modulus"), "GPa", 10, 120),
        "free_length_mm": Band(mark("the free length"), "mm", 2, 2000),
        "force_n": Band(mark("the force"), "N", 0, 200_000),
    }
)
"""What is accepted (common practice, no source); wide enough for the handbooks' small examples."""


@dataclass(frozen=True)
class Ends:
    """One end style: solid length in wire diameters is turns in all plus `extra`; `dead` turns carry nothing (both a
    number of turns).

    Source: [1], table 10-1.

    >>> ENDS["closed_ground"]
    Ends(extra=0, dead=2)
    """

    extra: int
    dead: int


ENDS: MappingProxyType[str, Ends] = MappingProxyType(
    {"plain": Ends(1, 0), "plain_ground": Ends(0, 1), "closed": Ends(1, 2), "closed_ground": Ends(0, 2)}
)
"""End style → its row of Shigley's table 10-1."""

STEEL_GPA = (65.0, 90.0)
STEEL_DENSITY = 7850.0


def rate_n_per_mm(shear_modulus_gpa: float, wire_mm: float, mean_diameter_mm: float, active_turns: float) -> float:
    """Return the rate `G d⁴ / (8 D³ n)` in N/mm (Shigley eq. 10-9; EN 13906-1).

    `shear_modulus_gpa`, `wire_mm` d and `mean_diameter_mm` D as their names say, `active_turns` n without a unit, all
    above 0. Raises ZeroDivisionError where D or n is 0. Source: [1], eq. 10-9; [2].

    D. 30 mm, 12 turns, d 3 mm, G 80 GPa make 2500 N/m (B. K. Sarkar, Strength of Materials, problem 8.7).

    >>> round(rate_n_per_mm(80.0, 3.0, 30.0, 12), 6)
    2.5
    """
    return shear_modulus_gpa * 1000 * wire_mm**4 / (8 * mean_diameter_mm**3 * active_turns)


def stress_factor(index: float) -> float:
    """Return the curvature factor `(w + 0.5)/(w − 0.75)` of an index w (EN 13906-1, memory; =
    Bergsträsser's).

    `index` w = D/d is a number without a unit, 4 to 20 as a rule, above 0.75. Raises ZeroDivisionError at 0.75.
    Source: [2]; identical to Bergsträsser's of [1], eq. 10-5.

    Shigley's example 10-1 prints 1.124:

    >>> round(stress_factor(0.400 / 0.037), 3)
    1.124
    """
    return (index + 0.5) / (index - 0.75)


def stress_mpa(force_n: float, wire_mm: float, mean_diameter_mm: float) -> float:
    """Return the corrected shear stress `K·8FD/(πd³)` in MPa (Shigley eq. 10-7).

    `force_n`, `wire_mm` d and `mean_diameter_mm` D are plain numbers; d and D above 0, D/d above 0.75. Raises
    ZeroDivisionError where d is 0. Source: [1], eq. 10-7.

    Shigley's example 10-2, 23 lbf on 0.080 in wire, prints 108.7 kpsi:

    >>> round(stress_mpa(23 * 4.4482216, 0.080 * 25.4, 0.8424 * 25.4) / 6.894757, 1)
    108.7
    """
    plain = 8 * force_n * mean_diameter_mm / (math.pi * wire_mm**3)
    return stress_factor(mean_diameter_mm / wire_mm) * plain


def solid_length_mm(wire_mm: float, total_turns: float, ends: str) -> float:
    """Return the length with all turns closed, mm (Shigley table 10-1).

    `wire_mm` and `total_turns` (a number of turns) are plain numbers, `ends` a key of `ENDS`. Raises KeyError for
    another. Source: [1], table 10-1.

    >>> solid_length_mm(4.0, 12.0, "closed_ground")
    48.0
    """
    return wire_mm * (total_turns + ENDS[ends].extra)


def volume_cm3(wire_mm: float, mean_diameter_mm: float, turns: float) -> float:
    """Return the volume of wire in so many turns, `π² d² D n/4`, which it displaces when submerged, cm³.

    `wire_mm` d, `mean_diameter_mm` D and `turns` n (a number of turns) are plain numbers. Raises nothing. Source:
    elementary geometry: the wire's section times its length π D n, the helix angle left out.

    >>> round(volume_cm3(4.0, 100.0, 1.0), 3), round(3.14159265**2 * 16 * 100 / 4000, 3)
    (3.948, 3.948)
    """
    return math.pi**2 * wire_mm**2 * mean_diameter_mm * turns / 4 / 1000


def least_gaps_mm(wire_mm: float, mean_diameter_mm: float, active_turns: float) -> float:
    """Return the sum of gaps to keep before solid, cold-coiled, mm (EN 13906-1, memory).

    The equation is `n (0.0015 D²/d + 0.1 d)`.

    `wire_mm` d, `mean_diameter_mm` D and `active_turns` n (a number of turns) are plain numbers, d above 0. Raises
    ZeroDivisionError where d is 0. Source: [2].

    >>> round(least_gaps_mm(4.0, 40.0, 10.0), 9)  # 10 (0.0015·1600/4 + 0.1·4)
    10.0
    """
    return active_turns * (0.0015 * mean_diameter_mm**2 / wire_mm + 0.1 * wire_mm)


def buckling(
    free_length_mm: float, mean_diameter_mm: float, shear_gpa: float, young_gpa: float, alpha: float
) -> float | None:
    """Return the deflection in mm at which the spring buckles, None where it cannot (Shigley eq. 10-10).

    `alpha` is the seating: 0.5 both ends held parallel, 0.707 one held and one hinged, 1 both hinged, 2 one
    end free.

    `free_length_mm` and `mean_diameter_mm` are in mm, `shear_gpa` and `young_gpa` in GPa; `alpha` is a factor without
    a unit. Raises ZeroDivisionError where a length is 0 or both moduli are equal. Source: [1], eq. 10-10; [3].

    Steel does not buckle where L0 < 2.63 D/α ([1], eq. 10-13):

    >>> [buckling(part * 50 / 0.5, 50.0, 79.3, 206.8, 0.5) is None for part in (2.62, 2.64)]
    [True, False]
    """
    c1 = young_gpa / (2 * (young_gpa - shear_gpa))
    c2 = 2 * math.pi**2 * (young_gpa - shear_gpa) / (2 * shear_gpa + young_gpa)
    slenderness = alpha * free_length_mm / mean_diameter_mm
    under_root = 1 - c2 / slenderness**2
    return free_length_mm * c1 * (1 - math.sqrt(under_root)) if under_root >= 0 else None


def coil(request: Mapping[str, Any]) -> dict[str, Any]:
    """Return all that a coil's dimensions say, in the shape that `coil/` answers.

    `request` holds `wire_mm`, `mean_diameter_mm`, `active_turns`, `total_turns`, `ends` (a key of `ENDS`)
    and `material` (a key of `MATERIALS`) or `shear_modulus_gpa` (which goes first), optionally
    `free_length_mm` and `force_n`. `stress_mpa` is None without a force; `mass_g` and `surge_hz` are None
    where the density is unknown. Raises `Refusal` with every problem found.

    Source: [1], [2], [3]; the helix angle is neglected.

    Shigley's example 10-1, music wire of 0.037 in, closed ends, prints 4.13 lbf/in and 0.500 in solid:

    >>> answer = coil({"wire_mm": 0.9398, "mean_diameter_mm": 10.16, "active_turns": 10.5, "total_turns": 12.5,
    ...                "ends": "closed", "shear_modulus_gpa": 81.7})
    >>> round(answer["rate_n_per_mm"] * 25.4 / 4.4482216, 2), round(answer["solid_length_mm"] / 25.4, 2)
    (4.13, 0.5)
    """
    _check(request)
    wire, across, active = request["wire_mm"], request["mean_diameter_mm"], request["active_turns"]
    total, ends, force = request["total_turns"], request["ends"], request.get("force_n")
    material = MATERIALS[request["material"]] if request.get("material") else None
    shear = float(request.get("shear_modulus_gpa") or MATERIALS[request["material"]].at(wire).shear_gpa)
    rate = rate_n_per_mm(shear, wire, across, active)
    density = _density(material, shear)
    solid = solid_length_mm(wire, total, ends)
    answer: dict[str, Any] = {
        "rate_n_per_mm": rate,
        "index": across / wire,
        "stress_factor": stress_factor(across / wire),
        "stress_mpa": None if force is None else stress_mpa(force, wire, across),
        "solid_length_mm": solid,
        "displaced_cm3": volume_cm3(wire, across, total),
        "mass_g": None,
        "surge_hz": None,
    }
    if density is not None:
        answer["mass_g"] = answer["displaced_cm3"] * density / 1000
        moving_kg = volume_cm3(wire, across, active) * density / 1e6
        answer["surge_hz"] = 0.5 * math.sqrt(rate * 1000 / moving_kg)
    answer = {key: value if value is None else _rounded(value) for key, value in answer.items()}
    notes = _shape_notes(request) + _material_notes(request, material, density)
    if request.get("free_length_mm") is not None:
        notes += _travel_notes(request, material, rate, solid)
    return {**answer, "notes": [note.as_dict() for note in notes]}


def _density(material: Material | None, shear_gpa: float) -> float | None:
    """Return the density in kg/m³: the material's, steel's where the modulus is steel's, else None."""
    if material is not None:
        return material.density_kg_per_m3
    return STEEL_DENSITY if STEEL_GPA[0] <= shear_gpa <= STEEL_GPA[1] else None


def _check(request: Mapping[str, Any]) -> None:
    """Refuse dimensions outside their bands, and those that contradict each other."""
    problems = [
        Problem(
            key,
            "out_of_band",
            wrong(float(request[key]), band),
            request[key],
            band.unit or None,
            band.low,
            band.high,
        )
        for key, band in BANDS.items()
        if request.get(key) is not None and not band.holds(request[key])
    ]
    if request.get("material") is None and request.get("shear_modulus_gpa") is None:
        text = say("Neither a material nor a shear modulus is given, and the rate needs one: give either.")
        problems.append(Problem("material", "missing", text))
    if not problems:
        problems = _contradictions(request)
    if problems:
        raise Refusal(*problems)


def _contradictions(request: Mapping[str, Any]) -> list[Problem]:
    """Return what the dimensions say against each other."""
    wire, across = request["wire_mm"], request["mean_diameter_mm"]
    active, total = request["active_turns"], request["total_turns"]
    free = request.get("free_length_mm")
    problems = []
    if across <= 1.5 * wire:
        text = say(
            "A mean coil diameter of {across:g} mm is not above 1.5 times the wire's {wire:g} mm, so it cannot "
            "be wound: was the inside diameter meant, or are the two swapped?",
            across=across, wire=wire,
        )
        problems.append(Problem("mean_diameter_mm", "cannot_be_wound", text, across, "mm", 1.5 * wire))
    if total < active:
        text = say(
            "{total:g} turns in all are fewer than the {active:g} active ones: are the two swapped?",
            total=total, active=active,
        )
        problems.append(Problem("total_turns", "fewer_than_active", text, total, None, active))
    solid = solid_length_mm(wire, total, request["ends"])
    if free is not None and free <= solid:
        text = say(
            "A free length of {free:g} mm is not above the solid length of {solid:.4g} mm, so nothing is left to "
            "compress: check the turns, the wire and the length.",
            free=free, solid=solid,
        )
        problems.append(Problem("free_length_mm", "below_solid", text, free, "mm", solid))
    return problems


def _shape_notes(request: Mapping[str, Any]) -> list[Note]:
    """Remark on the index, the end turns and the least gaps."""
    wire, across, active = request["wire_mm"], request["mean_diameter_mm"], request["active_turns"]
    index = across / wire
    dead, usual = request["total_turns"] - active, ENDS[request["ends"]].dead
    notes = []
    if not 4 <= index <= 20:
        text = say(
            "The spring index {index:.3g} is outside 4 to 20, where these equations hold (EN 13906-1).",
            index=index,
        )
        notes.append(Note("index_out_of_range", "warning", text, _rounded(index)))
    if abs(dead - usual) > 0.5:
        text = say(
            "{total_turns:g} turns in all with {active:g} active leave {dead:g} for the ends; this end style has "
            "{usual} as a rule.",
            total_turns=request["total_turns"], active=active, dead=dead, usual=usual,
        )
        notes.append(Note("turns_and_ends", "info", text, _rounded(dead)))
    gaps = least_gaps_mm(wire, across, active)
    text = say(
        "Keep at least {gaps:.3g} mm before solid, all gaps together (EN 13906-1, from memory; cold-coiled).",
        gaps=gaps,
    )
    return [*notes, Note("least_gap_sum", "info", text, _rounded(gaps), "mm")]


def _material_notes(request: Mapping[str, Any], material: Material | None, density: float | None) -> list[Note]:
    """Remark on what was assumed of the material, and on yield at the stated force."""
    notes = [Note("helix_neglected", "info", say("Wire length, volume and mass neglect the coils' slope."))]
    if material is None:
        if density is None:
            text = say("Mass and surge frequency need the material; with this shear modulus it cannot be steel.")
            return [*notes, Note("density_unknown", "info", text)]
        text = say("The density was taken as steel's, {density:g} kg/m³.", density=density)
        return [*notes, Note("density_assumed", "info", text, density, "kg/m³")]
    if request.get("shear_modulus_gpa") is not None:
        own = material.at(request["wire_mm"]).shear_gpa
        text = say("The shear modulus given was used, not the table's {own:.4g} GPa for this material.", own=own)
        notes.append(Note("modulus_given", "info", text, own, "GPa"))
    if material.remark:
        notes.append(Note("material_varies", "warning", say(material.remark)))
    if request.get("force_n") is not None:
        stress = stress_mpa(request["force_n"], request["wire_mm"], request["mean_diameter_mm"])
        notes += _yield_notes(request["wire_mm"], material, stress, say("at this force"))
    return notes


def _yield_notes(wire_mm: float, material: Material, stress: float, when: str) -> list[Note]:
    """Remark where a stress passes the torsional yield; a set spring is taken past it on purpose."""
    law = material.strength
    if law is None:
        return []
    strength = law.strength_mpa(wire_mm)
    if strength is None:
        text = say(
            "The strength table of {standard} covers {low:g} to {high:g} mm wire: yield was not judged.",
            standard=material.standard, low=law.low, high=law.high,
        )
        return [Note("strength_unknown", "info", text)]
    limit = material.yield_share * strength
    if stress <= limit:
        return []
    text = say(
        "The stress {when}, {stress:.4g} MPa, is above {limit:.4g} MPa, where {standard} wire first yields "
        "({yield_share:g} of its strength). A set (scragged) spring is taken past that on purpose; one that is "
        "not set would lose length.",
        when=when, stress=stress, limit=limit, standard=material.standard, yield_share=material.yield_share,
    )
    return [Note("past_first_yield", "warning", text, _rounded(stress), "MPa")]


def _travel_notes(request: Mapping[str, Any], material: Material | None, rate: float, solid: float) -> list[Note]:
    """Remark on what lies between the free length and solid: a closing force, yield, buckling."""
    wire, across, free = request["wire_mm"], request["mean_diameter_mm"], request["free_length_mm"]
    travel = free - solid
    at_solid = rate * travel
    notes = []
    force = request.get("force_n")
    if force is not None and force >= at_solid:
        text = say(
            "{force:.5g} N closes the coil: it is solid at {at_solid:.5g} N.",
            force=force, at_solid=at_solid,
        )
        notes.append(Note("solid_at_force", "stop", text, _rounded(at_solid), "N"))
    if material is None:
        return notes
    notes += _yield_notes(wire, material, stress_mpa(at_solid, wire, across), say("at solid"))
    moduli = material.at(wire)
    critical = buckling(free, across, moduli.shear_gpa, moduli.young_gpa, 0.5)
    if critical is not None and critical < travel:
        text = say(
            "Between parallel seats and with no guide it would buckle at {critical:.4g} mm of {travel:.4g} mm: "
            "guide it inside or outside along its length.",
            critical=critical, travel=travel,
        )
        notes.append(Note("can_buckle", "info", text, _rounded(critical), "mm"))
    return notes


def _rounded(value: float) -> float:
    """Round to six significant figures."""
    return float(f"{value:.6g}")
