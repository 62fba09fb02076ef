"""What one spring does for a light and a heavy rider, against a straight one chosen for each of them.

Source: [1] the closed form of `calc.needed` and the equilibrium of `calc.solve`, elementary statics. Comparing a
factory progressive spring with a straight one rider by rider is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from calc.asking import check_end, check_targets, end_asked, travel_of
from calc.bands import BANDS
from calc.cases import cases
from calc.checks import Findings, check_range
from calc.choose import NO_ADJUSTER_MM
from calc.evaluate import evaluate, rounded
from calc.needed import needed
from calc.refusal import Refusal
from calc.suits import SHARE
from calc.words import say

TOLD = ("preload_mm", "static_sag_mm", "rider_sag_mm", "wheel_rate_n_per_mm", "breakaway_n", "full_stroke_n")


def each_rider(request: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Return, for each rider, what the springs as fitted do and what straight ones chosen for that rider would do.

    `request` holds one end as in `evaluate` (its rider load is not used), `rider_share` (the part of a rider's
    mass on this axle), both sag bands, `adjuster_mm` (else 0 to 150) and `riders_kg`, the riders' masses in full
    kit. Both springs are set to the middle of the rider-sag band as nearly as the adjuster goes; the straight one
    has the rate that meets the middles of both bands (`needed`, or its nearest possible). The oil and the air
    are kept. Raises `Refusal`.

    Each row: `rider_kg`, `fitted` and `straight` (None where it cannot be worked out) with preload and sags in
    mm, the vertical wheel rate at rider sag in N/mm, the load that first moves it and the force at the stop in
    a hard hit in N; `straight` its `rate_n_per_mm` too; and `text`, one sentence.

    Source: [1].

    The straight rate by hand: the rider's share times g times 2.5 over 26 mm of shock stroke.

    >>> rear = {"wheel_travel_mm": 300, "unsprung_kg": 22, "load_static_kg": 57, "load_rider_kg": 112,
    ...     "leverage": {"kind": "ratio", "wheel_per_shock": 2.5}, "preload_mm": 7,
    ...     "spring": {"kind": "progressive", "start_n_per_mm": 40, "end_n_per_mm": 70, "over_mm": 90}}
    >>> rows = each_rider({"rear": rear, "rider_share": 0.65, "riders_kg": [60, 100],
    ...     "target_static_sag_mm": [25, 35], "target_rider_sag_mm": [90, 100]})
    >>> [row["straight"]["rate_n_per_mm"] for row in rows]
    [36.7749, 61.2916]
    >>> [round(0.65 * mass * 9.80665 * 2.5 / 26, 4) for mass in (60, 100)]
    [36.7749, 61.2916]
    """
    name = _check(request)
    given, share = request[name], request["rider_share"]
    loads = [given["load_static_kg"] + share * mass for mass in request["riders_kg"]]
    asked = {key: request[key] for key in ("target_rider_sag_mm", "adjuster_mm") if request.get(key) is not None}
    listed = [{"label": "", "load_kg": load} for load in loads]
    set_for = cases({name: given, **asked, "cases": listed})["cases"]
    rows = []
    for mass, load, row in zip(request["riders_kg"], loads, set_for, strict=True):
        end = {**given, "load_rider_kg": load}
        fitted = _figures(_wound_to(end, name, row["set_to_mm"]), name)
        straight = _straight(end, name, request)
        rows.append(
            {"rider_kg": mass, "fitted": fitted, "straight": straight, "text": _sentence(mass, fitted, straight)}
        )
    return rows


def _check(request: Mapping[str, Any]) -> str:
    findings = Findings()
    name = end_asked(findings, request)
    check_end(findings, request[name], name)
    check_targets(findings, request, travel_of(request[name], name))
    for sag in ("static_sag_mm", "rider_sag_mm"):
        if request.get(f"target_{sag}") is None:
            check_range(findings, None, f"target_{sag}", BANDS[f"target.{sag}"])
    findings.number(request, "rider_share", "", SHARE)
    for index, mass in enumerate(request["riders_kg"]):
        findings.value(mass, f"riders_kg.{index}", BANDS["person.mass_kg"])
    findings.raise_any()
    return name


def _sprung(end: Mapping[str, Any], name: str) -> Sequence[Mapping[str, Any]]:
    holders = [end] if name == "rear" else end["legs"]
    return [holder for holder in holders if holder.get("spring") is not None]


def _wound_to(end: Mapping[str, Any], name: str, preload_mm: float, spring: Any = None) -> dict[str, Any]:
    """Return the end with the preload of its first spring at `preload_mm`, the others moved alike."""
    now = _sprung(end, name)[0]["preload_mm"]

    def turned(holder: Mapping[str, Any]) -> dict[str, Any]:
        if holder.get("spring") is None:
            return dict(holder)
        if spring is not None:
            return {**holder, "spring": spring, "preload_mm": preload_mm}
        # Past solid it would be refused: what is asked here is the riders, not the room.
        kept = {key: value for key, value in holder["spring"].items() if key != "solid_deflection_mm"}
        return {**holder, "spring": kept, "preload_mm": holder["preload_mm"] + preload_mm - now}

    return turned(end) if name == "rear" else {**end, "legs": [turned(leg) for leg in end["legs"]]}


def _figures(end: Mapping[str, Any], name: str) -> dict[str, Any] | None:
    try:
        found = evaluate({name: end})[name]
    except Refusal:
        return None
    preload = rounded(_sprung(end, name)[0]["preload_mm"])
    return {key: preload if key == "preload_mm" else found[key] for key in TOLD}


def _straight(end: Mapping[str, Any], name: str, request: Mapping[str, Any]) -> dict[str, Any] | None:
    middles = {key: sum(request[key]) / 2 for key in ("target_static_sag_mm", "target_rider_sag_mm")}
    adjuster = request.get("adjuster_mm") or NO_ADJUSTER_MM
    try:
        found = needed({name: end, **middles, "adjuster_mm": adjuster})[name]
    except Refusal:
        return None
    meant = found if found["feasible"] else found["nearest"]
    if meant is None:
        return None
    spring = {"kind": "straight", "rate_n_per_mm": meant["rate_n_per_mm"]}
    figures = _figures(_wound_to(end, name, meant["preload_mm"], spring), name)
    return None if figures is None else {"rate_n_per_mm": meant["rate_n_per_mm"], **figures}


def _sentence(mass: float, fitted: Mapping[str, Any] | None, straight: Mapping[str, Any] | None) -> str:
    who = say("A rider of {mass:g} kg", mass=mass)
    if fitted is None or straight is None:
        return say("{who}: one of the two springs cannot be worked out for this load.", who=who)
    return say(
        "{who}: the spring fitted, set to {rider_sag_mm:.0f} mm of rider sag, leaves {static_sag_mm:.0f} mm of "
        "static sag, {wheel_rate_n_per_mm:.1f} N/mm at the wheel there and {full_stroke_n:.0f} N at the stop; a "
        "straight one of {rate_n_per_mm:.3g} N/mm leaves {static_sag_mm2:.0f} mm, {wheel_rate_n_per_mm2:.1f} "
        "N/mm and {full_stroke_n2:.0f} N.",
        who=who,
        rider_sag_mm=fitted["rider_sag_mm"],
        static_sag_mm=fitted["static_sag_mm"],
        wheel_rate_n_per_mm=fitted["wheel_rate_n_per_mm"],
        full_stroke_n=fitted["full_stroke_n"],
        rate_n_per_mm=straight["rate_n_per_mm"],
        static_sag_mm2=straight["static_sag_mm"],
        wheel_rate_n_per_mm2=straight["wheel_rate_n_per_mm"],
        full_stroke_n2=straight["full_stroke_n"],
    )
