"""Whom a spring suits: the rider masses for which both sags can be set in band within the preload's range.

Sources: [1] Elementary statics: `p = δ(F) − s` at both edges of the bands. [2] The rider's share of an axle: common
practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from calc.asking import (
    check_end,
    check_list,
    check_targets,
    end_asked,
    label_of,
    springs_listed,
    travel_of,
    wanted_from,
)
from calc.bands import BANDS, Band
from calc.checks import Findings
from calc.choose import Wanted
from calc.evaluate import end_from, rounded, sprung_load
from calc.fork import Fork
from calc.gas import STANDARD_GRAVITY
from calc.ladder import ladder
from calc.rear import Rear
from calc.refusal import Note, Problem
from calc.springs import Springs
from calc.words import mark, say

Array = NDArray[np.float64]

SHARE = Band(mark("the share of the rider's mass on this axle"), "", 0, 1, open_low=True)
HEAVIEST_KG = 250.0


@dataclass(frozen=True)
class Reach:
    """What each spring of a list can do: `preload`, the least and the most (m, shape (springs,)) that set the static
    sag in band, and `load`, the sprung rider loads (N, the same shape) that they allow.

    Low above high means that there is none; `binds` says where the solid length alone leaves none. Source: [1].

    >>> edge = np.array([0.005])
    >>> Reach((edge, edge + 0.004), (np.array([820.0]), np.array([980.0])), np.array([False])).load[1].tolist()
    [980.0]
    """

    preload: tuple[Array, Array]
    load: tuple[Array, Array]
    binds: NDArray[np.bool_]


def suits(request: Mapping[str, Any]) -> dict[str, Any]:
    """Return, for each spring of a list in one end, the band of rider masses (kg, in full kit) that it suits.

    `request` holds one end as in `evaluate` (its present springs say which legs carry one; its rider load is
    not used), `rider_share` (the part of the rider's mass on this axle, 0 to 1), both sag bands
    `target_static_sag_mm` and `target_rider_sag_mm`, `adjuster_mm` (the preload range, else 0 to 150) and
    `springs` as in `choose`; `rider_mass_kg` (optional) is marked on the ladder.

    The static sag does not depend on the rider, so its band's two edges bound the preload, `p = δ(F) − s` with
    F the spring's part of the load at that sag; the rider's load is then the force at the rider band's two
    edges: the least sag at the least preload, the most at the most. All springs are solved in one set of
    arrays, with no search. Above the solid length no preload is taken. Masses end at 250 kg. Raises `Refusal`.

    Answers `bands`, in the order of the lightest rider, each with `rider_mass_kg` [low, high] or null and why,
    `preload_mm` at both, and `svg`, the list as a ladder over rider mass.

    Source: [1], [2].

    By hand: the static load of 35 kg wants 52 N/mm at 14 and 10 mm, so 2.50 to 6.50 mm of preload; the rider's edges
    of 36 and 40 mm then carry 52 (36 + 2.50)/2.5 to 52 (40 + 6.50)/2.5 N.

    >>> rear = {"wheel_travel_mm": 300, "unsprung_kg": 22, "load_static_kg": 57, "load_rider_kg": 112,
    ...     "leverage": {"kind": "ratio", "wheel_per_shock": 2.5}, "preload_mm": 7,
    ...     "spring": {"kind": "straight", "rate_n_per_mm": 52}}
    >>> springs = [{"id": 1, "label": "52", "spring": {"kind": "straight", "rate_n_per_mm": 52}}]
    >>> found = suits({"rear": rear, "rider_share": 0.65, "springs": springs,
    ...     "target_static_sag_mm": [25, 35], "target_rider_sag_mm": [90, 100]})
    >>> least, most = (35 * 9.80665 * 2.5 / 52 - stroke for stroke in (14, 10))
    >>> found["bands"][0]["preload_mm"], [round(least, 5), round(most, 5)]
    ([2.50157, 6.50157], [2.50157, 6.50157])
    >>> edges = (36 + least, 40 + most)
    >>> [round((52 * edge / 2.5 / 9.80665 - 35) / 0.65, 3) for edge in edges]
    [71.788, 97.893]
    >>> found["bands"][0]["rider_mass_kg"]
    [71.788, 97.8928]
    """
    name = _check(request)
    given = request[name]
    springs = springs_listed(request)
    wanted = wanted_from(request)
    end = end_from(given, name).with_springs(springs, 0.0)
    reach = within_reach(end, springs, wanted, sprung_load(given, "static"))
    masses = [_mass(load, given, request["rider_share"]) for load in reach.load]
    bands = [_band(request["springs"][index], index, reach, masses, wanted) for index in range(len(masses[0]))]
    bands.sort(key=lambda band: band["rider_mass_kg"] or [np.inf])
    notes = _notes(end, bands)
    return {
        "bands": bands,
        "svg": ladder(name, bands, request.get("rider_mass_kg")),
        "notes": [note.as_dict() for note in notes],
    }


def _check(request: Mapping[str, Any]) -> str:
    findings = Findings()
    name = end_asked(findings, request)
    check_end(findings, request[name], name)
    check_targets(findings, request, travel_of(request[name], name))
    for sag in ("static_sag_mm", "rider_sag_mm"):
        if request.get(f"target_{sag}") is None:
            band = BANDS[f"target.{sag}"]
            findings.add(f"target_{sag}", "missing", say(
                "Give the accepted band of {what}.",
                what=band.named,
            ), None, band)
    findings.number(request, "rider_share", "", SHARE)
    if request.get("rider_mass_kg") is not None:
        findings.number(request, "rider_mass_kg", "", BANDS["person.mass_kg"])
    check_list(findings, request.get("springs"), name)
    findings.raise_any()
    static, rider = request["target_static_sag_mm"], request["target_rider_sag_mm"]
    if rider[1] <= static[0]:
        text = say(
            "The rider sag wanted, up to {rider:g} mm, is not above the static sag, from {static:g} mm: swapped?",
            rider=rider[1], static=static[0],
        )
        findings.problems.append(Problem("target_rider_sag_mm", "targets_swapped", text, rider[1], "mm", static[0]))
    findings.raise_any()
    return name


def preload_at(end: Fork | Rear, springs: Springs, sag: float, load: float) -> Array:
    """Return each spring's preload (m) that rests `end` at `sag` (m) under a sprung `load` (N).

    `p = δ(F) − s`. Where air or gas alone carry more than the load no preload would, and it is −∞; where
    `sag` is 0, any preload above the one returned tops the end out.

    `springs` is a batch. Raises nothing. Source: [1].

    1000 N on 2.5 mm a mm are 2500 N, 50 mm of 50 N/mm, less the stroke of 40 mm.

    >>> from calc.rear import rear_from
    >>> from calc.springs import straight, batch
    >>> rear = rear_from({"wheel_travel_mm": 300, "preload_mm": 0, "leverage": {"kind": "ratio",
    ...     "wheel_per_shock": 2.5}, "spring": {"kind": "straight", "rate_n_per_mm": 50}})
    >>> preload_at(rear, batch([straight(5e4)]), 0.1, 1000.0).round(6).tolist()
    [0.01]
    """
    share = np.broadcast_to(end.spring_share(sag, load), springs.shape)
    exact = springs.deflection_at(share) - end.spring_stroke(sag)
    return np.asarray(np.where(share >= 0, exact, -np.inf))


def within_reach(end: Fork | Rear, springs: Springs, wanted: Wanted, static_load: float) -> Reach:
    """Return what each spring can do: preloads that set the static sag in band, and the rider loads they allow.

    `static_load` is the sprung load alone, N. A static band that begins at 0 takes any preload above.

    `end` is a fork or rear, `springs` a batch, `wanted` the bands. Raises nothing. Source: [1].

    340 N are 850 N at the spring, 17 mm of 50 N/mm: less the strokes of 12 and 8 mm. Then 50 (36 + 5)/2.5 to 50 (40 +
    9)/2.5 N.

    >>> from calc.rear import rear_from
    >>> from calc.springs import straight, batch
    >>> rear = rear_from({"wheel_travel_mm": 300, "preload_mm": 0, "leverage": {"kind": "ratio",
    ...     "wheel_per_shock": 2.5}, "spring": {"kind": "straight", "rate_n_per_mm": 50}})
    >>> wanted = Wanted((0.02, 0.03), (0.09, 0.1), 0.095, (0.0, 0.02))
    >>> reach = within_reach(rear, batch([straight(5e4)]), wanted, 340.0)
    >>> [edge.round(4).tolist() for edge in reach.preload], [edge.round(1).tolist() for edge in reach.load]
    ([[0.005], [0.009]], [[820.0], [980.0]])
    """
    low, high = wanted.adjuster
    travel = end.travel
    least = np.maximum(preload_at(end, springs, min(wanted.static[1], travel), static_load), low)
    if wanted.static[1] >= travel:
        least = np.full(springs.shape, low)
    most = np.full(springs.shape, high)
    if wanted.static[0] > 0:
        most = np.minimum(preload_at(end, springs, wanted.static[0], static_load), high)
    solid = springs.solid - end.spring_stroke(travel)
    binds = (most >= least) & (solid < least)
    most = np.fmin(most, solid)
    some = most >= least
    held = [np.where(some, each, low) for each in (least, most)]
    edges = wanted.rider[0], min(wanted.rider[1], travel)
    loads = [
        end.with_springs(springs, preload).force_and_slope(sag)[0] for preload, sag in zip(held, edges, strict=True)
    ]
    loads = [np.broadcast_to(each, springs.shape) for each in loads]
    return Reach((least, most), (np.where(some, loads[0], np.inf), np.where(some, loads[1], -np.inf)), binds)


def _mass(load: Array, given: Mapping[str, Any], share: float) -> Array:
    """Return the rider's mass (kg) of which the end carries `share` when its sprung load is `load` (N)."""
    return np.asarray((load / STANDARD_GRAVITY + given["unsprung_kg"] - given["load_static_kg"]) / share)


def _band(each: Mapping[str, Any], index: int, reach: Reach, masses: list[Array], wanted: Wanted) -> dict[str, Any]:
    low, high = float(masses[0][index]), float(masses[1][index])
    preload = [float(edge[index]) for edge in reach.preload]
    why = _why_not(low, high, preload, bool(reach.binds[index]), wanted)
    if why is None:
        low, high = max(low, 0.0), min(high, HEAVIEST_KG)
    return {
        "id": each.get("id"),
        "label": each.get("label", ""),
        "rider_mass_kg": None if why else [rounded(low), rounded(high)],
        "preload_mm": None if why else [rounded(edge * 1000) for edge in preload],
        "why": why,
        "text": why or say(
            "{label_of} suits riders of {low:.0f} to {high:.0f} kg in full kit.",
            label_of=label_of(each), low=low, high=high,
        ),
    }


def _why_not(low: float, high: float, preload: list[float], binds: bool, wanted: Wanted) -> str | None:
    """Say why a spring suits nobody; None where it suits somebody."""
    least, most = preload
    if binds:
        return say("It goes solid before the end of the stroke at every preload that sets the static sag.")
    if least > most:
        if least > wanted.adjuster[1]:
            return say("Too soft: even the most preload leaves too much static sag.")
        return say("Too stiff, or the air is: even the least preload leaves too little static sag.")
    if high <= 0:
        return say("Too soft: the bike alone already takes the whole rider sag.")
    if low > HEAVIEST_KG:
        return say("Too stiff: it would need a rider of more than {heaviest_kg:.0f} kg.", heaviest_kg=HEAVIEST_KG)
    return None


def _notes(end: Fork | Rear, bands: list[dict[str, Any]]) -> list[Note]:
    text = say(
        "The rider's share of this axle is taken as the same for every mass (common practice); posture moves it.",
    )
    notes = [Note("same_share", "info", text)]
    if not end.rises():
        text = say(
            "The wheel force falls somewhere along the travel: a band may hold only on one side of that place.",
        )
        notes.append(Note("force_falls", "warning", text))
    if all(band["rider_mass_kg"] is None for band in bands):
        notes.append(Note("suits_nobody", "warning", say(
            "No spring of the list suits any rider with these sag bands.",
        )))
    return notes
