"""The straight spring that gives two target sags under two loads, or the nearest possible one.

Sources: [1] Elementary statics: two states of one straight spring, k = (F2 − F1)/(s2 − s1). [2] Which sags are aimed
at is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from calc.bands import BANDS
from calc.checks import Findings, check_front, check_range, check_rear
from calc.evaluate import air_notes, end_from, rounded, sprung_load
from calc.fork import Fork
from calc.rear import Rear
from calc.refusal import Note, Problem
from calc.solve import settle
from calc.springs import straight
from calc.words import say

NO_ADJUSTER_MM = (0.0, 150.0)
STATIC, RIDER = "target_static_sag_mm", "target_rider_sag_mm"
TARGET_FIELDS = (STATIC, RIDER, "adjuster_mm")


@dataclass(frozen=True)
class Targets:
    """Target sags `static` and `rider` along the end's own coordinate and the preload range `adjuster` (low, high),
    all in m.

    Source: [2].

    >>> Targets(0.03, 0.095, (0.0, 0.15)).rider
    0.095
    """

    static: float
    rider: float
    adjuster: tuple[float, float]


def needed(request: Mapping[str, Any]) -> dict[str, Any]:
    """Return the rate (per leg or shock) and preload that give the target sags, for each end in `request`.

    Each end is as in `evaluate`, with `target_static_sag_mm`, `target_rider_sag_mm` and, where known,
    `adjuster_mm` (the preload range). Springs given there only say which legs carry one. With the forces F1,
    F2 left to one spring at its compressions s1, s2 after air, gas, stops and leverage: `k = (F2 − F1)/(s2 −
    s1)`, `p = F1/k − s1`. An impossible pair answers `feasible` false, why, and the nearest possible, which
    keeps the rider sag where it can.

    `request` holds the ends. Returns one answer an end. Raises `Refusal` with every problem found. Source: [1].

    By hand: forces (57 − 22) and (112 − 22) kg times 2.5, shock strokes 12 and 38 mm.

    >>> answer = needed({"rear": {"wheel_travel_mm": 300, "unsprung_kg": 22, "load_static_kg": 57,
    ...     "load_rider_kg": 112, "leverage": {"kind": "ratio", "wheel_per_shock": 2.5},
    ...     "target_static_sag_mm": 30, "target_rider_sag_mm": 95}})["rear"]
    >>> rate = (90 - 35) * 9.80665 * 2.5 / (38 - 12)
    >>> answer["rate_n_per_mm"], round(rate, 4), answer["preload_mm"], round(35 * 9.80665 * 2.5 / rate - 12, 5)
    (51.8621, 51.8621, 4.54545, 4.54545)
    """
    _check(request)
    ends = [name for name in ("front", "rear") if request.get(name) is not None]
    return {name: _needed_end(with_targets(request, name), name) for name in ends}


def _check(request: Mapping[str, Any]) -> None:
    findings = Findings()
    for name, check in (("front", check_front), ("rear", check_rear)):
        end = request.get(name)
        if end is None:
            continue
        check(findings, end, name, springs=False)
        _check_targets(findings, request, name)
    if request.get("front") is None and request.get("rear") is None:
        findings.add("", "missing", say("Neither a front nor a rear end is given; give at least one."))
    findings.raise_any()


def _check_targets(findings: Findings, request: Mapping[str, Any], name: str) -> None:
    place = {key: name if key in request[name] else "" for key in TARGET_FIELDS}
    end = with_targets(request, name)
    static = findings.number(end, STATIC, place[STATIC], BANDS["target.static_sag_mm"])
    rider = findings.number(end, RIDER, place[RIDER], BANDS["target.rider_sag_mm"])
    if end.get("adjuster_mm") is not None:
        where = ".".join(filter(None, (place["adjuster_mm"], "adjuster_mm")))
        check_range(findings, end["adjuster_mm"], where, BANDS["adjuster_mm"])
    if static is None or rider is None:
        return
    where = ".".join(filter(None, (place[RIDER], RIDER)))
    if rider <= static:
        text = say(
            "The rider sag aimed at, {rider:g} mm, is not above the static sag, {static:g} mm: swapped?",
            rider=rider, static=static,
        )
        findings.problems.append(Problem(where, "targets_swapped", text, rider, "mm", static))
    travel = end.get("stroke_mm" if name == "front" else "wheel_travel_mm")
    if isinstance(travel, int | float) and rider >= travel:
        text = say(
            "The rider sag aimed at, {rider:g} mm, is not inside the travel of {travel:g} mm.",
            rider=rider, travel=travel,
        )
        findings.problems.append(Problem(where, "target_past_travel", text, rider, "mm", 0, travel))


def with_targets(request: Mapping[str, Any], name: str) -> dict[str, Any]:
    """Return the end `name` of `request` with its targets: its own, or else those stated beside the ends.

    Raises KeyError where the end is not there. Source: none (bookkeeping).

    >>> with_targets({"target_rider_sag_mm": 95, "rear": {"target_static_sag_mm": 30}}, "rear")
    {'target_rider_sag_mm': 95, 'target_static_sag_mm': 30}
    """
    beside = {key: request[key] for key in TARGET_FIELDS if request.get(key) is not None}
    return {**beside, **request[name]}


def _needed_end(request: Mapping[str, Any], name: str) -> dict[str, Any]:
    end = end_from(bare(request, name), name)
    loads = sprung_load(request, "static"), sprung_load(request, "rider")
    low, high = request.get("adjuster_mm") or NO_ADJUSTER_MM
    targets = Targets(request[STATIC] / 1000, request[RIDER] / 1000, (low / 1000, high / 1000))
    band = BANDS["leg_spring.rate_n_per_mm" if name == "front" else "shock_spring.rate_n_per_mm"]
    rates = band.low * 1000, band.high * 1000
    rate, preload = closed_form(end, loads, targets)
    why = _why_not(rate, preload, targets, rates, request.get("adjuster_mm") is not None)
    return {
        "rate_n_per_mm": rounded(rate / 1000) if rate > 0 else None,
        "preload_mm": rounded(preload * 1000) if rate > 0 else None,
        "feasible": why is None,
        "why": why,
        "nearest": None if why is None else _nearest(end, loads, targets, rates),
        "notes": [note.as_dict() for note in _notes(name)],
    }


def bare(request: Mapping[str, Any], name: str) -> dict[str, Any]:
    """Return the end with a placeholder wherever it carries a spring, to be replaced.

    `request` is that mapping, `name` front or rear. Raises nothing. Source: none (bookkeeping).

    >>> bare({"wheel_travel_mm": 300}, "rear")["preload_mm"]
    0.0
    """
    spring = {"kind": "straight", "rate_n_per_mm": 1.0}
    if name == "rear":
        return {**request, "spring": spring, "preload_mm": 0.0}
    legs = [
        leg if leg.get("spring") is None else {**leg, "spring": spring, "preload_mm": 0.0} for leg in request["legs"]
    ]
    return {**request, "legs": legs}


def closed_form(end: Fork | Rear, loads: tuple[float, float], targets: Targets) -> tuple[float, float]:
    """Return rate (N/m) and preload (m) of the straight spring that meets both targets.

    `loads` are the sprung ones, N, alone and with the rider.

    The preload is NaN where the rate is not above zero.

    `end` is a fork or rear. Raises nothing. Source: [1].

    On 2.5 mm a mm, 400 and 800 N at 50 and 100 mm: 1000 and 2000 N at 20 and 40 mm of the shock, 50 N/mm unpreloaded.

    >>> from calc.rear import rear_from
    >>> rear = rear_from({"wheel_travel_mm": 300, "preload_mm": 0, "leverage": {"kind": "ratio",
    ...     "wheel_per_shock": 2.5}, "spring": {"kind": "straight", "rate_n_per_mm": 60}})
    >>> [round(value, 6) for value in closed_form(rear, (400.0, 800.0), Targets(0.05, 0.1, (0.0, 0.02)))]
    [50000.0, 0.0]
    """
    forces = [float(end.spring_share(u, load)) for u, load in zip((targets.static, targets.rider), loads, strict=True)]
    strokes = [float(end.spring_stroke(u)) for u in (targets.static, targets.rider)]
    rate = (forces[1] - forces[0]) / (strokes[1] - strokes[0])
    return rate, forces[0] / rate - strokes[0] if rate > 0 else float("nan")


def _why_not(rate: float, preload: float, targets: Targets, rates: tuple[float, float], adjustable: bool) -> str | None:
    if rate <= 0:
        return say(
            "Air, gas and leverage alone already stiffen the end more than the two targets allow: no spring can "
            "meet both.",
        )
    if not rates[0] <= rate <= rates[1]:
        return say(
            "The two targets need {rate:.4g} N/mm, outside the {rates:g} to {rates2:g} N/mm of springs for this "
            "place.",
            rate=rate / 1000, rates=rates[0] / 1000, rates2=rates[1] / 1000,
        )
    low, high = targets.adjuster
    span = say("{low:g} to {high:g} mm", low=low * 1000, high=high * 1000)
    if preload < low:
        if low == 0 and not adjustable:
            return say("The spring would be loose at full extension: preload {length}.", length=_length(preload))
        return say("Preload {length} is below the adjuster's range, {span}.", length=_length(preload), span=span)
    if preload > high:
        return say("Preload {length} is past the adjuster's range, {span}.", length=_length(preload), span=span)
    return None


def _length(metres: float) -> str:
    """Write a preload to the tenth of a millimetre, as finely as a collar is set."""
    return say("{metres:.1f} mm", metres=metres * 1000).replace("-", "−")


def _nearest(
    end: Fork | Rear, loads: tuple[float, float], targets: Targets, rates: tuple[float, float]
) -> dict[str, float] | None:
    """Return the possible spring whose sags come nearest: the rider sag first, then the static sag.

    Along the springs that keep the rider sag, a softer one takes more preload and has less static sag; so the
    nearest lies at the wanted static sag or at an end of what the rate band and the adjuster leave.
    """
    force = float(end.spring_share(targets.rider, loads[1]))
    stroke = float(end.spring_stroke(targets.rider))
    if force <= 0:
        return None
    low, high = targets.adjuster
    softest = max(rates[0], force / (stroke + high))
    stiffest = min(rates[1], force / (stroke + low)) if stroke + low > 0 else rates[1]
    if softest > stiffest:
        softest = stiffest = float(np.clip(softest, *rates))
    choices = []
    for rate in (softest, stiffest):
        preload = float(np.clip(force / rate - stroke, low, high))
        fitted = end.with_springs(straight(rate), preload)
        static, rider = (float(settle(fitted, load)) for load in loads)
        choices.append((abs(rider - targets.rider), abs(static - targets.static), rate, preload, static, rider))
    _, _, rate, preload, static, rider = min(choices, key=lambda each: (round(each[0], 6), each[1]))
    return {
        "rate_n_per_mm": rounded(rate / 1000),
        "preload_mm": rounded(preload * 1000),
        "static_sag_mm": rounded(static * 1000),
        "rider_sag_mm": rounded(rider * 1000),
    }


def _notes(name: str) -> list[Note]:
    if name == "rear":
        return []
    text = say("Oil the new spring displaces is not counted: correct the air gap for it after the swap.")
    return [Note("gap_after_swap", "info", text), air_notes()[0]]
