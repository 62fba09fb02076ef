"""Load cases: one spring, the preload for each load (solo, pillion, luggage), and whether the adjuster reaches all."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from calc import printed
from calc.asking import check_targets, end_asked, travel_of
from calc.bands import BANDS
from calc.checks import Findings, check_front, check_range, check_rear
from calc.choose import NO_ADJUSTER_MM
from calc.evaluate import end_from, rounded, sprung_load
from calc.fork import Fork
from calc.gas import STANDARD_GRAVITY
from calc.rear import Rear
from calc.refusal import Note, Problem
from calc.solve import settle
from calc.springs import batch
from calc.words import say

Array = NDArray[np.float64]

MOST_CASES = 12
HALVINGS = 60
TOUCH_M = 1e-6


def cases(request: Mapping[str, Any]) -> dict[str, Any]:
    """Return the preload that gives each load case the wanted rider sag, with the springs as fitted.

    `request` holds one end as in `evaluate` (its preload is where the adjuster stands now), `cases`, each with
    `label` and `load_kg` (the axle load with everything on, unsprung mass included), `target_rider_sag_mm`
    [low, high] (its middle is aimed at) and `adjuster_mm`, the preload range (else 0 to 150). In a fork every
    spring takes the same further preload; the one given is the first sprung leg's. All cases are solved
    together, by halving. Raises `Refusal`.

    Each case answers `preload_mm` (null where no preload would do), whether it is `reached`, and the sag at
    the nearest preload the adjuster has, `set_to_mm`, with the static sag there; `reaches_all` and a sentence.

    Source: the equilibrium of `calc.solve`, elementary statics; that each load gets its own preload is common
    practice, no source.

    The wanted sag of 75 mm is 30 mm of shock stroke; the preload that carries a load W there is 2.5 W/k − 30 mm.

    >>> rear = {"wheel_travel_mm": 300, "unsprung_kg": 22, "load_static_kg": 57, "load_rider_kg": 112,
    ...     "leverage": {"kind": "ratio", "wheel_per_shock": 2.5}, "preload_mm": 7,
    ...     "spring": {"kind": "straight", "rate_n_per_mm": 80}}
    >>> found = cases({"rear": rear, "target_rider_sag_mm": [70, 80], "adjuster_mm": [0, 14],
    ...     "cases": [{"label": "solo", "load_kg": 112}, {"label": "pillion", "load_kg": 165}]})
    >>> [each["preload_mm"] for each in found["cases"]], found["reaches_all"]
    ([-2.4188, 13.8235], False)
    >>> [round(2.5 * (kg - 22) * 9.80665 / 80 - 30, 4) for kg in (112, 165)]
    [-2.4188, 13.8235]
    """
    name = _check(request)
    given = request[name]
    end = _one_spring_for_many(end_from(given, name))
    listed = request["cases"]
    loads = np.array([(each["load_kg"] - given["unsprung_kg"]) * STANDARD_GRAVITY for each in listed])
    low, high = (edge / 1000 for edge in request["target_rider_sag_mm"])
    adjuster = request.get("adjuster_mm") or NO_ADJUSTER_MM
    now = _first_preload(end)
    exact = _further(end, (low + high) / 2, loads) + now
    held = np.clip(np.where(np.isnan(exact), adjuster[0] / 1000, exact), adjuster[0] / 1000, adjuster[1] / 1000)
    wound = end.wound_up(held - now)
    rider, static = settle(wound, loads), settle(wound, sprung_load(given, "static"))
    rows = [
        _row(each, float(exact[index]), float(held[index]), float(rider[index]), float(static[index]), (low, high))
        for index, each in enumerate(listed)
    ]
    reached = all(row["reached"] for row in rows)
    return {
        "cases": rows,
        "reaches_all": reached,
        "text": _sentence(rows, adjuster),
        "notes": [note.as_dict() for note in _notes(wound, held)],
    }


def _check(request: Mapping[str, Any]) -> str:
    findings = Findings()
    name = end_asked(findings, request)
    end = request[name]
    (check_front if name == "front" else check_rear)(findings, end, name)
    if name == "front" and all(leg.get("spring") is None for leg in end.get("legs") or []):
        findings.add("front.legs", "no_spring", say("No fork leg carries a spring, so there is no preload to set."))
    check_targets(findings, request, travel_of(end, name))
    if request.get("target_rider_sag_mm") is None:
        check_range(findings, None, "target_rider_sag_mm", BANDS["target.rider_sag_mm"])
    listed = request.get("cases")
    if not isinstance(listed, Sequence) or not 1 <= len(listed) <= MOST_CASES:
        findings.add("cases", "list_size", say("Give 1 to {most_cases} load cases.", most_cases=MOST_CASES))
        listed = []
    for index, each in enumerate(listed):
        where = f"cases.{index}"
        load = findings.number(each, "load_kg", where, BANDS[f"{name}.load_rider_kg"])
        unsprung = end.get("unsprung_kg")
        if load is not None and isinstance(unsprung, int | float) and load <= unsprung:
            text = say(
                "The load of {load:g} kg is not above the unsprung mass, {unsprung:g} kg: nothing is left.",
                load=load, unsprung=unsprung,
            )
            findings.problems.append(Problem(f"{where}.load_kg", "load_below_unsprung", text, load, "kg", unsprung))
    findings.raise_any()
    return name


def _one_spring_for_many(end: Fork | Rear) -> Fork | Rear:
    """Return the end with its shock spring as a batch of one, along which preloads of many cases may lie."""
    return replace(end, springs=batch([end.springs])) if isinstance(end, Rear) else end


def _first_preload(end: Fork | Rear) -> float:
    if isinstance(end, Rear):
        return float(end.preload)
    return next(float(leg.preload) for leg in end.legs if leg.springs is not None)


def _further(end: Fork | Rear, sag: float, loads: Array) -> Array:
    """Return the further preload (m) on every spring that carries each load (N) at `sag` (m); NaN where none does."""
    sag = min(sag, end.travel)
    low, high = np.full(loads.shape, -2 * end.travel), np.full(loads.shape, 2 * end.travel)

    def force(by: Array) -> Array:
        return end.wound_up(by).force_and_slope(np.asarray(sag))[0]

    possible = (force(low) < loads) & (force(high) > loads)
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        short = force(middle) < loads
        low, high = np.where(short, middle, low), np.where(short, high, middle)
    return np.where(possible, 0.5 * (low + high), np.nan)


def _row(
    each: Mapping[str, Any], exact: float, held: float, rider: float, static: float, band: tuple[float, float]
) -> dict[str, Any]:
    known = not np.isnan(exact)
    in_band = band[0] - TOUCH_M <= rider <= band[1] + TOUCH_M
    return {
        "label": each.get("label", ""),
        "load_kg": each["load_kg"],
        "preload_mm": rounded(exact * 1000) if known else None,
        "set_to_mm": rounded(held * 1000),
        "rider_sag_mm": rounded(rider * 1000),
        "static_sag_mm": rounded(static * 1000),
        "reached": bool(known and abs(exact - held) < TOUCH_M),
        "in_band": in_band,
    }


def _sentence(rows: Sequence[Mapping[str, Any]], adjuster: Sequence[float]) -> str:
    """Return whether one spring serves all cases within the adjuster's range."""
    span = say("{adjuster:g} to {adjuster2:g} mm", adjuster=adjuster[0], adjuster2=adjuster[1])
    if all(row["reached"] for row in rows):
        wanted = [row["preload_mm"] for row in rows]
        return say(
            "The adjuster reaches every load: {wanted} to {wanted2} mm of its {span}.",
            wanted=printed.preload(min(wanted)), wanted2=printed.preload(max(wanted)), span=span,
        )
    near = [row["label"] for row in rows if not row["reached"] and row["in_band"]]
    missed = [row["label"] for row in rows if not row["in_band"]]
    if missed:
        return say(
            "The adjuster, {span}, does not reach {joined}: no preload there brings the rider sag into band.",
            span=span, joined=_joined(missed),
        )
    return say(
        "The adjuster, {span}, ends short of the aim for {joined}, but the rider sag stays in band.",
        span=span, joined=_joined(near),
    )


def _joined(labels: Sequence[str]) -> str:
    named = [label or say("a load without a name") for label in labels]
    return named[0] if len(named) == 1 else say("{names} and {named}", names=", ".join(named[:-1]), named=named[-1])


def _notes(end: Fork | Rear, held: Array) -> list[Note]:
    notes = [
        Note("same_spring", "info", say(
            "Preload sets the height only: the same spring carries every load at its own rate.",
        ))
    ]
    clearance = np.broadcast_to(end.clearance(), held.shape)
    if np.any(clearance < -TOUCH_M):
        short = -float(np.nanmin(clearance)) * 1000
        text = say(
            "With the most preload the spring goes solid {short:.1f} mm before the end of the stroke.",
            short=short,
        )
        notes.append(Note("binds", "stop", text, rounded(short), "mm"))
    return notes
