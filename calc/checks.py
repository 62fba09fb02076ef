"""The boundary of calc: every scalar against its band, then the couplings between values.

All problems of a request are found and raised together, each with the field's path as in the request. What
has passed here is trusted by the rest of calc.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from calc.bands import BANDS, Band, after, wrong
from calc.fork import bore_mm
from calc.gap import BANDS as GAP_BANDS
from calc.leverage import table
from calc.linkage import BANDS as LINKAGE_BANDS
from calc.linkage import CARRIERS, POINTS, ROCKER_POINTS, linkage_from
from calc.refusal import Problem, Refusal
from calc.springs import COMBINED, spring_from, turns_from
from calc.tester import BANDS as TESTER_BANDS
from calc.tester import COLUMNS as TESTER_COLUMNS
from calc.tester import tester
from calc.words import capital, mark, say

SPRING_FIELDS: Mapping[str, tuple[str, ...]] = {
    "straight": ("rate_n_per_mm",),
    "dual": ("soft_n_per_mm", "hard_n_per_mm", "change_mm"),
    "progressive": ("start_n_per_mm", "end_n_per_mm", "over_mm"),
}
TURN_FIELDS = ("wire_mm", "mean_diameter_mm", "gap_mm")
MOST_TURNS = 60
PARTS: Mapping[str, str] = {"leg_spring": "leg_part", "shock_spring": "shock_part"}
FEWEST_PARTS, MOST_PARTS = 2, 4
LEAST_INDEX, MOST_INDEX = 4.0, 20.0
TEMPERATURES = ("vented_temperature_c", "temperature_c")
TOUCH_MM = 1e-6
TOO_LARGE = 1e300
LEAST_STEP_MM = 0.01
DEFAULTS: Mapping[str, float] = {"altitude_m": 0.0, "pressure_kpa": 0.0, "gas_force_n": 0.0, "shocks": 1}

HUGE = 1e300
"""No number that is meant reaches this; a whole number beyond it would not turn into a float."""


@dataclass
class Findings:
    """Collects `problems` while a request is walked; `raise_any` refuses with all of them at once.

    Raises nothing but what `raise_any` raises. Source: none (bookkeeping).

    >>> found = Findings()
    >>> found.number({"preload_mm": "ten"}, "preload_mm", "rear", BANDS["rear.preload_mm"]) is None
    True
    >>> [problem.field for problem in found.problems]
    ['rear.preload_mm']
    """

    problems: list[Problem] = field(default_factory=list)

    def add(self, where: str, code: str, text: str, value: Any = None, band: Band | None = None) -> None:
        """Note a problem with the value at `where`; `band` gives unit and limits where there is one.

        `code` and `text` are those of `Problem`.
        """
        if band is None:
            self.problems.append(Problem(where, code, text, value))
        else:
            self.problems.append(Problem(where, code, text, value, band.unit or None, band.low, band.high))

    def number(self, holder: Mapping[str, Any], key: str, path: str, band: Band) -> float | None:
        """Return the number at `key` if it is there and in its band; else note why not and return None.

        `holder` is the mapping, `path` where it stands in the request. The number is a float in the band's own unit.
        """
        value = holder.get(key, DEFAULTS.get(key))
        where = f"{path}.{key}" if path else key
        if value is None:
            text = say(
                "{what} is missing ({wording}).",
                what=capital(band.named), wording=band.wording(),
            )
            self.add(where, "missing", text, None, band)
            return None
        return self.value(value, where, band)

    def value(self, value: Any, where: str, band: Band) -> float | None:
        """Return `value` as a float if it is a finite number in `band`; else note why not and return None.

        `where` is the value's path in the request. The float is in the band's own unit.
        """
        if isinstance(value, bool) or not isinstance(value, int | float) or not abs(value) < HUGE:
            text = say(
                "{value!r:.60} for {what} is not a number ({wording}).",
                value=value, what=band.named, wording=band.wording(),
            )
            self.add(where, "not_a_number", text, None, band)
            return None
        if not band.holds(value):
            self.add(where, "out_of_band", wrong(float(value), band), value, band)
            return None
        return float(value)

    def raise_any(self) -> None:
        """Raise `Refusal` with all problems found, if any."""
        if self.problems:
            raise Refusal(*self.problems)


def check_person(mass_kg: float, where: str = "mass_kg") -> None:
    """Refuse a person's mass outside its band, in kg.

    `mass_kg` is in kg, `where` its path in the request. Raises `Refusal`. Source: common practice, no source.

    >>> check_person(82)
    """
    findings = Findings()
    findings.value(mass_kg, where, BANDS["person.mass_kg"])
    findings.raise_any()


def check_axle(load_kg: float, end: str, where: str = "load_kg") -> None:
    """Refuse an axle scale's reading (kg, unsprung mass included) outside its band, front or rear.

    `load_kg` is the reading, `end` front or rear, `where` its path in the request. Raises `Refusal`. Source: common
    practice, no source.

    >>> check_axle(46, "front")
    """
    findings = Findings()
    findings.value(load_kg, where, BANDS[f"{end}.load_static_kg"])
    findings.raise_any()


def check_bike(request: Mapping[str, Any]) -> None:
    """    Refuse a request for `evaluate` that cannot be computed with, naming every problem.

        `request` holds "front", "rear" or both, in the shapes the API takes.

    Raises `Refusal`. Source: common practice, no source (the bands).

        >>> check_bike({"rear": {"wheel_travel_mm": 300, "unsprung_kg": 22, "load_static_kg": 57,
        ...     "load_rider_kg": 112, "leverage": {"kind": "ratio", "wheel_per_shock": 0.43},
        ...     "spring": {"kind": "straight", "rate_n_per_mm": 52}, "preload_mm": 7}})
        Traceback (most recent call last):
        calc.refusal.Refusal: 0.43 mm/mm for the leverage ratio is outside 0.9 to 6 mm/mm: \
is it inverted (2.326 mm of wheel travel per mm of shock stroke)?
    """
    findings = Findings()
    if request.get("front") is None and request.get("rear") is None:
        findings.add("", "missing", say("Neither a front nor a rear end is given; give at least one."))
    if request.get("front") is not None:
        check_front(findings, request["front"])
    if request.get("rear") is not None:
        check_rear(findings, request["rear"])
    findings.raise_any()


def check_front(
    findings: Findings,
    front: Mapping[str, Any],
    path: str = "front",
    *,
    springs: bool = True,
    bind: bool = True,
) -> None:
    """Note every problem of a front end.

    `springs` false leaves out the legs' springs and preloads (they are what is asked for); `bind` false
    accepts a spring that goes solid within the stroke (the present one, when another is being chosen).

    `findings` collects the problems of `front`, the mapping that `evaluate` takes; `path` is where it stands in the
    request. Raises nothing. Source: common practice, no source (the bands).

    >>> found = Findings()
    >>> check_front(found, {"stroke_mm": 3000})
    >>> found.problems[0].field
    'front.stroke_mm'
    """
    stroke = findings.number(front, "stroke_mm", path, BANDS["front.stroke_mm"])
    for key in ("rake_deg", "altitude_m"):
        findings.number(front, key, path, BANDS[f"front.{key}"])
    _venting(findings, front, path)
    _loads(findings, front, path, "front")
    _stops(findings, front, path, stroke)
    legs = front.get("legs")
    if not isinstance(legs, Sequence) or not 1 <= len(legs) <= 2:
        findings.add(f"{path}.legs", "legs", say("A fork has one or two legs; give each its own entry."))
        return
    for number, leg in enumerate(legs):
        _leg(findings, leg, f"{path}.legs.{number}", stroke, springs=springs, bind=bind)
    carried = any(leg.get("spring") is not None for leg in legs)
    pressed = any(leg.get("pressure_kpa") or 0 for leg in legs)
    if not carried and (not pressed or not springs):
        if springs:
            text = say(
                "No fork leg has a spring, nor pressure: nothing holds the bike up; give at least one leg a spring."
            )
        else:
            text = say("No fork leg has a spring, so there is no spring to find; give at least one leg a spring.")
        findings.add(f"{path}.legs", "no_spring", text)


def check_rear(
    findings: Findings,
    rear: Mapping[str, Any],
    path: str = "rear",
    *,
    springs: bool = True,
    bind: bool = True,
) -> None:
    """Note every problem of a rear end; `springs` and `bind` as in `check_front`.

    `findings` collects the problems of `rear`, the mapping that `evaluate` takes; `path` is where it stands in the
    request. Raises nothing. Source: common practice, no source (the bands).

    >>> found = Findings()
    >>> check_rear(found, {"wheel_travel_mm": 3000})
    >>> found.problems[0].field
    'rear.wheel_travel_mm'
    """
    travel = findings.number(rear, "wheel_travel_mm", path, BANDS["rear.wheel_travel_mm"])
    findings.number(rear, "gas_force_n", path, BANDS["rear.gas_force_n"])
    shocks = findings.number(rear, "shocks", path, BANDS["rear.shocks"])
    if shocks is not None and shocks != int(shocks):
        text = say("{shocks:g} shocks: give 1 or 2.", shocks=shocks)
        findings.add(f"{path}.shocks", "not_whole", text, shocks, BANDS["rear.shocks"])
    _loads(findings, rear, path, "rear")
    stroke = check_leverage(findings, rear.get("leverage"), f"{path}.leverage", travel)
    _stops(findings, rear, path, stroke)
    if not springs:
        return
    preload = findings.number(rear, "preload_mm", path, BANDS["rear.preload_mm"])
    if rear.get("spring") is None:
        findings.add(f"{path}.spring", "no_spring", say("The shock has no spring; nothing holds the bike up."))
        return
    solid = check_spring(findings, rear["spring"], f"{path}.spring", "shock_spring")
    if bind:
        _binds(findings, f"{path}.spring.solid_deflection_mm", solid, preload, stroke, "shock")


def check_spring(findings: Findings, spring: Any, path: str, place: str) -> float | None:
    """Note every problem of one spring in `place` ("leg_spring", "shock_spring"); return its solid deflection, mm.

    The solid deflection is None where it is not given or wrong. Returns it counted from the free length. `findings`
    collects the problems of `spring`, a mapping with its kind; `path` is where it stands in the request. Raises
    nothing. Source: common practice, no source (the bands); index EN 13906-1, from memory.

    >>> found = Findings()
    >>> spring = {"kind": "straight", "rate_n_per_mm": 5, "solid_deflection_mm": 320}
    >>> check_spring(found, spring, "spring", "leg_spring")
    320.0
    """
    kind = spring.get("kind") if isinstance(spring, Mapping) else None
    kind = kind if isinstance(kind, str) else None
    if kind == "wound":
        return _wound(findings, spring, path, place)
    if kind == "tested":
        return _tested(findings, spring, path, place)
    if isinstance(kind, str) and kind in COMBINED and place in PARTS:
        return _combined(findings, spring, path, place)
    if not isinstance(kind, str) or kind not in SPRING_FIELDS:
        names = ", ".join([*SPRING_FIELDS, "wound", "tested", *(COMBINED if place in PARTS else ())])
        findings.add(f"{path}.kind", "unknown_kind", say(
            "{kind!r} is no kind of spring we compute; give one of {names}.",
            kind=kind, names=names,
        ))
        return None
    read = {key: findings.number(spring, key, path, BANDS[f"{place}.{key}"]) for key in SPRING_FIELDS[kind]}
    if kind == "dual":
        words = mark("hard"), mark("soft")
        _rising(findings, path, read["soft_n_per_mm"], read["hard_n_per_mm"], "hard_n_per_mm", *words)
    if kind == "progressive":
        words = mark("end"), mark("starting")
        _rising(findings, path, read["start_n_per_mm"], read["end_n_per_mm"], "end_n_per_mm", *words)
    if spring.get("solid_deflection_mm") is None:
        return None
    return findings.number(spring, "solid_deflection_mm", path, BANDS[f"{place}.solid_deflection_mm"])


def _wound(findings: Findings, spring: Mapping[str, Any], path: str, place: str) -> float | None:
    """Note every problem of a spring given turn by turn; return its solid deflection, mm, if it can be told."""
    before = len(findings.problems)
    findings.number(spring, "shear_modulus_gpa", path, BANDS["wound.shear_modulus_gpa"])
    turns = spring.get("turns")
    if not isinstance(turns, Sequence) or isinstance(turns, str) or not 1 <= len(turns) <= MOST_TURNS:
        findings.add(f"{path}.turns", "turns", say(
            "Give 1 to {most_turns} turns, each with wire, diameter and gap.",
            most_turns=MOST_TURNS,
        ))
        return None
    for number, turn in enumerate(turns):
        _turn(findings, turn, f"{path}.turns.{number}")
    given = spring.get("solid_deflection_mm")
    if given is not None:
        findings.number(spring, "solid_deflection_mm", path, BANDS[f"{place}.solid_deflection_mm"])
    if len(findings.problems) > before:
        return None
    compliance, gaps = turns_from(spring)
    band = BANDS[f"{place}.soft_n_per_mm"]
    rate = 1 / float(compliance.sum()) / 1000
    if not band.holds(rate):
        text = say(
            "The turns make a starting rate of {rate:.4g} N/mm, outside {wording}: check wire and diameters (the "
            "rate goes with the wire to the fourth power).",
            rate=rate, wording=band.wording(),
        )
        findings.add(f"{path}.turns", "out_of_band", text, rate, band)
        return None
    solid = float(gaps.sum()) * 1000
    return solid if given is None else min(solid, given)


def _tested(findings: Findings, spring: Mapping[str, Any], path: str, place: str) -> float | None:
    """Note every problem of a spring given by a tester's readings; return its solid deflection, mm, if given."""
    before = len(findings.problems)
    for key in TESTER_COLUMNS:
        values, unit = spring.get(key), TESTER_BANDS[key].unit
        if not isinstance(values, Sequence) or isinstance(values, str):
            findings.add(f"{path}.{key}", "readings", say(
                "Give the tester's readings as a list, in {unit}.",
                unit=unit,
            ))
            continue
        for index, value in enumerate(values):
            findings.value(value, f"{path}.{key}.{index}", TESTER_BANDS[key])
    solid = None
    if spring.get("solid_deflection_mm") is not None:
        solid = findings.number(spring, "solid_deflection_mm", path, BANDS[f"{place}.solid_deflection_mm"])
    if len(findings.problems) > before:
        return None
    try:
        found = tester({key: spring[key] for key in TESTER_COLUMNS})["spring"]
    except Refusal as refusal:
        findings.problems += [replace(each, field=f"{path}.{each.field}") for each in refusal.problems]
        return None
    for key in SPRING_FIELDS[found["kind"]]:
        band = BANDS[f"{place}.{key}"]
        if band.unit == "N/mm" and not band.holds(found[key]):
            text = say(
                "The readings make a {kind} spring; {wrong}",
                kind=say(found["kind"]), wrong=wrong(found[key], band),
            )
            findings.add(f"{path}.force_n", "out_of_band", text, found[key], band)
    deepest = float(spring["deflection_mm"][-1])
    if solid is not None and deepest > solid + TOUCH_MM:
        text = say(
            "The spring was tested to {deepest:g} mm, but {solid:g} mm is given as where it goes solid.",
            deepest=deepest, solid=solid,
        )
        findings.problems.append(
            Problem(f"{path}.solid_deflection_mm", "tested_past_solid", text, solid, "mm", deepest, None)
        )
    return solid


def _combined(findings: Findings, spring: Mapping[str, Any], path: str, place: str) -> float | None:
    """Note every problem of springs stacked or side by side; return their solid deflection, mm, if it can be told."""
    before = len(findings.problems)
    parts = spring.get("springs")
    if not isinstance(parts, Sequence) or isinstance(parts, str) or not FEWEST_PARTS <= len(parts) <= MOST_PARTS:
        text = say(
            "Give {fewest_parts} to {most_parts} springs that act together, each with its kind.",
            fewest_parts=FEWEST_PARTS, most_parts=MOST_PARTS,
        )
        findings.add(f"{path}.springs", "parts", text)
        return None
    for number, part in enumerate(parts):
        check_spring(findings, part, f"{path}.springs.{number}", PARTS[place])
    if spring.get("solid_deflection_mm") is not None:
        findings.number(spring, "solid_deflection_mm", path, BANDS[f"{place}.solid_deflection_mm"])
    if len(findings.problems) > before:
        return None
    if spring["kind"] == "stacked":
        for number, part in enumerate(parts):
            if spring_from(part).bend.any():
                text = say(
                    "A progressive spring in a stack is not computed: put the whole stack on the tester and give "
                    "its readings as one tested spring.",
                )
                findings.add(f"{path}.springs.{number}.kind", "progressive_in_stack", text, part["kind"])
                return None
    whole = spring_from(spring)
    for key, rate in (("soft_n_per_mm", whole.rate[0] / 1000), ("hard_n_per_mm", whole.rate[-1] / 1000)):
        band = BANDS[f"{place}.{key}"]
        if not band.holds(float(rate)):
            text = say(
                "Together the springs make {rate:.4g} N/mm, outside {wording} for {what}.",
                rate=rate, wording=band.wording(), what=band.named,
            )
            findings.add(f"{path}.springs", "out_of_band", text, float(rate), band)
            return None
    solid = 1000 * float(whole.solid)
    return solid if math.isfinite(solid) else None


def _turn(findings: Findings, turn: Any, path: str) -> None:
    if not isinstance(turn, Mapping):
        findings.add(path, "turns", say("A turn has wire_mm, mean_diameter_mm and gap_mm."))
        return
    read = {key: findings.number(turn, key, path, BANDS[f"turn.{key}"]) for key in TURN_FIELDS}
    wire, diameter = read["wire_mm"], read["mean_diameter_mm"]
    if wire is not None and diameter is not None and not LEAST_INDEX <= diameter / wire <= MOST_INDEX:
        text = say(
            "A mean diameter of {diameter:g} mm on {wire:g} mm wire is an index of {diameter2:.3g}, outside "
            "{least_index:g} to {most_index:g}, for which the equations hold (EN 13906-1, from memory).",
            diameter=diameter, wire=wire, diameter2=diameter / wire, least_index=LEAST_INDEX, most_index=MOST_INDEX,
        )
        findings.problems.append(
            Problem(
                f"{path}.mean_diameter_mm",
                "index",
                text,
                diameter,
                "mm",
                LEAST_INDEX * wire,
                MOST_INDEX * wire,
            )
        )


def _rising(
    findings: Findings, path: str, low: float | None, high: float | None, key: str, upper: str, lower: str
) -> None:
    if low is not None and high is not None and high < low:
        text = say(
            "The {upper} rate, {high:g} N/mm, is below the {lower} rate, {low:g} N/mm: are the two swapped?",
            upper=say(upper), high=high, lower=say(lower), low=low,
        )
        findings.problems.append(Problem(f"{path}.{key}", "falling_rate", text, high, "N/mm", low, None))


def _loads(findings: Findings, end: Mapping[str, Any], path: str, name: str) -> None:
    unsprung = findings.number(end, "unsprung_kg", path, BANDS[f"{name}.unsprung_kg"])
    alone = findings.number(end, "load_static_kg", path, BANDS[f"{name}.load_static_kg"])
    ridden = findings.number(end, "load_rider_kg", path, BANDS[f"{name}.load_rider_kg"])
    if alone is not None and unsprung is not None and alone <= unsprung:
        text = say(
            "The {name} axle load of the bike alone, {alone:g} kg, is not above the unsprung mass, {unsprung:g} "
            "kg: nothing is left for the springs. An axle load is the scale's reading and includes the unsprung "
            "mass.",
            name=say(name), alone=alone, unsprung=unsprung,
        )
        findings.problems.append(Problem(f"{path}.load_static_kg", "load_below_unsprung", text, alone, "kg", unsprung))
    if alone is not None and ridden is not None and ridden <= alone:
        text = say(
            "The {name} axle load with the rider, {ridden:g} kg, is not above that of the bike alone, {alone:g} "
            "kg: are the two swapped?",
            name=say(name), ridden=ridden, alone=alone,
        )
        findings.problems.append(Problem(f"{path}.load_rider_kg", "rider_load_below_static", text, ridden, "kg", alone))


def _stops(findings: Findings, end: Mapping[str, Any], path: str, stroke_mm: float | None) -> None:
    for name, what in (("topout", say("top-out spring")), ("bump", say("bump stop"))):
        stop = end.get(name)
        if stop is None:
            continue
        findings.number(stop, "rate_n_per_mm", f"{path}.{name}", BANDS["stop.rate_n_per_mm"])
        length = findings.number(stop, "length_mm", f"{path}.{name}", BANDS["stop.length_mm"])
        if length is not None and stroke_mm is not None and length > stroke_mm:
            text = say(
                "The {what} is {length:g} mm long, more than the whole stroke of {stroke_mm:.4g} mm.",
                what=what, length=length, stroke_mm=stroke_mm,
            )
            findings.problems.append(
                Problem(f"{path}.{name}.length_mm", "longer_than_stroke", text, length, "mm", 0, stroke_mm)
            )


def _venting(findings: Findings, front: Mapping[str, Any], path: str) -> None:
    for key in ("vented_altitude_m", *TEMPERATURES):
        if front.get(key) is not None:
            findings.number(front, key, path, BANDS[f"front.{key}"])
    missing = [key for key in TEMPERATURES if front.get(key) is None]
    if len(missing) == 1:
        text = say("Give both temperatures, where the fork was vented and as it is ridden, or neither.")
        findings.add(f"{path}.{missing[0]}", "missing", text, None, BANDS[f"front.{missing[0]}"])


def _leg(
    findings: Findings, leg: Mapping[str, Any], path: str, stroke: float | None, *, springs: bool, bind: bool
) -> None:
    read = {
        key: findings.number(leg, key, path, BANDS[f"leg.{key}"])
        for key in ("seal_diameter_mm", "air_gap_mm", "solids_cm3", "pressure_kpa")
    }
    bore = _bore(findings, leg, path)
    gap, solids = read["air_gap_mm"], read["solids_cm3"]
    if bore is not None and gap is not None and solids is not None:
        _end_volume(findings, path, bore, gap, solids)
    if not springs or leg.get("spring") is None:
        return
    preload = findings.number(leg, "preload_mm", path, BANDS["leg.preload_mm"])
    solid = check_spring(findings, leg["spring"], f"{path}.spring", "leg_spring")
    if bind:
        _binds(findings, f"{path}.spring.solid_deflection_mm", solid, preload, stroke, "fork")


def _bore(findings: Findings, leg: Mapping[str, Any], path: str) -> float | None:
    """Return the bore's diameter in mm, from a pour where one is given."""
    pour, band = leg.get("pour"), BANDS["leg.bore_diameter_mm"]
    stated = None
    if pour is None or leg.get("bore_diameter_mm") is not None:
        stated = findings.number(leg, "bore_diameter_mm", path, band)
    if pour is None:
        return stated
    if not isinstance(pour, Mapping):
        findings.add(f"{path}.pour", "not_an_object", say(
            "Give the pour's cm3 and the rise_mm that it raised the oil by.",
        ))
        return None
    read = [findings.number(pour, key, f"{path}.pour", GAP_BANDS[f"pour.{key}"]) for key in ("cm3", "rise_mm")]
    if None in read:
        return None
    bore = bore_mm({"pour": pour})
    if not band.holds(bore):
        text = say(
            "{cm3:g} cm³ that raise the oil by {rise_mm:g} mm make a bore of {bore:.4g} mm, outside {wording}.",
            cm3=pour["cm3"], rise_mm=pour["rise_mm"], bore=bore, wording=band.wording(),
        )
        findings.add(f"{path}.pour", "out_of_band", text, bore, band)
        return None
    return bore


def _end_volume(findings: Findings, path: str, bore: float, gap: float, solids: float) -> None:
    room = math.pi / 4 * bore**2 * gap / 1000
    if room - solids <= 0:
        text = say(
            "A gap of {gap:g} mm in a bore of {bore:.4g} mm holds {room:.4g} cm³, but {solids:g} cm³ of solids "
            "go in afterwards: no air would be left at the end of the stroke. Check the gap, the bore and the "
            "solids.",
            gap=gap, bore=bore, room=room, solids=solids,
        )
        findings.problems.append(Problem(f"{path}.air_gap_mm", "no_end_volume", text, gap, "mm"))


def _binds(
    findings: Findings,
    where: str,
    solid: float | None,
    preload: float | None,
    stroke: float | None,
    what: str,
) -> None:
    if solid is None or preload is None or stroke is None or solid - preload - stroke >= -TOUCH_MM:
        return
    short = preload + stroke - solid
    text = say(
        "The spring goes solid {short:.4g} mm before the end of the {what}'s stroke: it can be compressed "
        "{solid:g} mm, but {preload:g} mm of preload and {stroke:.4g} mm of stroke take {preload2:.4g} mm.",
        short=short, what=say(what), solid=solid, preload=preload, stroke=stroke, preload2=preload + stroke,
    )
    findings.problems.append(Problem(where, "coil_bind", text, solid, "mm", preload + stroke, None))


def check_leverage(findings: Findings, leverage: Any, path: str, travel: float | None) -> float | None:
    """Note every problem of a leverage over a wheel `travel` in mm, None where that is not known.

    Returns the full shock stroke in mm where it can be told.

    `findings` collects the problems of `leverage`, a mapping with its kind; `path` is where it stands in the request.
    Raises nothing. Source: common practice, no source (the bands).

    >>> check_leverage(Findings(), {"kind": "ratio", "wheel_per_shock": 2.5}, "leverage", 300.0)
    120.0
    """
    kind = leverage.get("kind") if isinstance(leverage, Mapping) else None
    if kind == "ratio":
        ratio = findings.number(leverage, "wheel_per_shock", path, BANDS["leverage.wheel_per_shock"])
        return None if ratio is None or travel is None else travel / ratio
    if kind == "table":
        return _table(findings, leverage, path, travel)
    if kind == "linkage":
        return _linkage(findings, leverage, path, travel)
    text = say("{kind!r} is no kind of leverage we compute; give ratio, table or linkage.", kind=kind)
    findings.add(f"{path}.kind", "unknown_kind", text)
    return None


def _linkage(findings: Findings, leverage: Mapping[str, Any], path: str, travel: float | None) -> float | None:
    """Note every problem of a linkage; return the full shock stroke in mm where it can be told."""
    before = len(findings.problems)
    for name in POINTS:
        _point(findings, leverage.get(name), f"{path}.{name}")
    if leverage.get("shock_extended_mm") is not None:
        findings.number(leverage, "shock_extended_mm", path, LINKAGE_BANDS["shock_extended_mm"])
    if leverage.get("rocker") is not None:
        _rocker(findings, leverage["rocker"], f"{path}.rocker")
    if len(findings.problems) > before:
        return None
    try:
        found = linkage_from(leverage)
    except Refusal as refusal:
        findings.problems += [replace(each, field=f"{path}.{each.field}") for each in refusal.problems]
        return None
    if travel is None:
        return None
    reach = 1000 * found.reach
    if travel > reach:
        text = say(
            "The linkage works up to {reach:.4g} mm of wheel travel from full extension, not all {travel:g} mm: "
            "check its points, and where full extension is.",
            reach=reach, travel=travel,
        )
        findings.problems.append(Problem(path, "past_reach", text, travel, "mm", None, reach))
        return None
    stroke = 1000 * float(found.stroke(travel / 1000))
    band = BANDS["leverage.wheel_per_shock"]
    if not band.holds(travel / stroke):
        findings.add(path, "out_of_band", wrong(travel / stroke, band), travel / stroke, band)
        return None
    return stroke


def _rocker(findings: Findings, rocker: Any, path: str) -> None:
    if not isinstance(rocker, Mapping) or rocker.get("on") not in CARRIERS:
        findings.add(f"{path}.on", "unknown_kind", say("Say what the rocker turns on: frame or swingarm."))
        return
    for name in ROCKER_POINTS:
        _point(findings, rocker.get(name), f"{path}.{name}")
    if rocker.get("rod_length_mm") is not None:
        findings.number(rocker, "rod_length_mm", path, LINKAGE_BANDS["rod_length_mm"])


def _point(findings: Findings, point: Any, path: str) -> None:
    if not isinstance(point, Sequence) or isinstance(point, str) or len(point) != 2:
        findings.add(path, "not_a_point", say("Give the point as two numbers, x forward and z up, in mm."))
        return
    for index, value in enumerate(point):
        findings.value(value, f"{path}.{index}", LINKAGE_BANDS["point_mm"])


def _table(findings: Findings, leverage: Mapping[str, Any], path: str, travel: float | None) -> float | None:
    columns = {key: _column(findings, leverage.get(key), f"{path}.{key}", key) for key in ("wheel_mm", "shock_mm")}
    wheel, shock = columns["wheel_mm"], columns["shock_mm"]
    if wheel is None or shock is None:
        return None
    if len(wheel) != len(shock):
        text = say(
            "The table has {count} wheel but {count2} shock readings; each needs its partner.",
            count=len(wheel), count2=len(shock),
        )
        findings.add(f"{path}.shock_mm", "unpaired", text)
        return None
    overall = wheel[-1] / shock[-1]
    band = BANDS["leverage.wheel_per_shock"]
    if not band.holds(overall):
        findings.add(f"{path}.shock_mm", "out_of_band", wrong(overall, band), overall, band)
        return None
    if travel is None:
        return None
    if wheel[-1] < travel:
        text = say(
            "The table ends at {wheel:g} mm of wheel travel but must cover all {travel:g} mm.",
            wheel=wheel[-1], travel=travel,
        )
        findings.problems.append(Problem(f"{path}.wheel_mm", "table_too_short", text, wheel[-1], "mm", travel, None))
        return None
    return float(table(wheel, shock).stroke(travel))


def _column(findings: Findings, values: Any, path: str, key: str) -> list[float] | None:
    if not isinstance(values, Sequence) or isinstance(values, str) or not 2 <= len(values) <= 200:
        findings.add(path, "table_size", say("A leverage table needs 2 to 200 pairs of wheel and shock readings."))
        return None
    what = say("a wheel reading") if key == "wheel_mm" else say("a shock reading")
    band = Band(say("{what} of the leverage table", what=what), "mm", 0, 600)
    read = [findings.value(value, f"{path}.{index}", band) for index, value in enumerate(values)]
    numbers = [value for value in read if value is not None]
    if len(numbers) < len(read):
        return None
    if numbers[0] != 0:
        findings.add(
            f"{path}.0",
            "table_start",
            say("The table must start at 0, not at {numbers:g} mm.", numbers=numbers[0]),
            numbers[0],
            band,
        )
        return None
    for index in range(1, len(numbers)):
        if numbers[index] - numbers[index - 1] < LEAST_STEP_MM:
            text = say(
                "{what} of {numbers:g} mm follows {numbers2:g} mm, but the table must rise from line to line: was "
                "one read twice, or are two swapped?",
                what=capital(what), numbers=numbers[index], numbers2=numbers[index - 1],
            )
            findings.add(f"{path}.{index}", "table_falls", text, numbers[index], band)
            return None
    return numbers


def check_range(findings: Findings, pair: Any, where: str, band: Band) -> tuple[float, float] | None:
    """Return the checked [low, high] at `where`, each in `band`, low first; else note why not.

    `findings` collects the problems of `pair`, two numbers in the band's own unit. Raises nothing. Source: none
    (bookkeeping).

    >>> check_range(Findings(), [0, 14], "adjuster_mm", BANDS["adjuster_mm"])
    (0.0, 14.0)
    """
    if not isinstance(pair, Sequence) or isinstance(pair, str) or len(pair) != 2:
        text = say("Give {what} as two numbers, the lower first.", what=band.named)
        findings.add(where, "not_a_range", text, None, band)
        return None
    low, high = (findings.value(value, f"{where}.{index}", band) for index, value in enumerate(pair))
    if low is None or high is None:
        return None
    if low > high:
        text = say(
            "{low:g} to {high:g}{unit} for {what} runs backwards: are the two swapped?",
            low=low, high=high, unit=after(band.unit), what=band.named,
        )
        findings.add(where, "not_a_range", text, low, band)
        return None
    return low, high
