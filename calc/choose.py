"""Which spring of a list suits: each at the preload that reaches the rider sag, judged by its static sag.

The wanted preload follows from the force that is left to the spring at the rider sag, `p = δ(F) − s`.

Sources: [1] JCGM 101:2008 for the probability (from memory). [2] The signs of a spring too soft or too stiff, rider
sag right and static sag small or large, are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from calc import printed
from calc.bands import BANDS
from calc.checks import Findings, check_front, check_range, check_rear, check_spring
from calc.evaluate import (
    Figures,
    air_notes,
    answer,
    end_from,
    figures,
    preload_notes,
    rounded,
    sprung_load,
    state_notes,
)
from calc.fork import Fork, bore_area
from calc.gas import STANDARD_GRAVITY
from calc.rear import Rear
from calc.refusal import Note, Problem
from calc.solve import settle
from calc.springs import Springs, batch, spring_from
from calc.words import say

Array = NDArray[np.float64]

NO_ADJUSTER_MM = (0.0, 150.0)
AIM_HALF_BAND_MM = 5.0
LONGEST_LIST = 2000
SAMPLES = 200
SEED = 20100
SCALE_KG = 1.0
STAMP = 0.05
FRICTION_M = 0.001
CHUNK_ELEMENTS = 65_536
CLOSE_M = 1e-4  # the error left is the square of this step over a metre, far below the friction
SOFTER = 0.8
TOUCH_M = 1e-7
ORDER = {"suits": 0, "too_soft": 1, "too_stiff": 1, "cannot_reach": 2, "binds": 3}


@dataclass(frozen=True)
class Wanted:
    """Accepted sags and preloads of one end: `static` and `rider`, each (low, high) in m along the end's own
    coordinate, `aim`, the rider sag aimed at (m), and `adjuster`, the preload range (low, high) in m.

    Source: none (bookkeeping).

    >>> Wanted((0.025, 0.035), (0.09, 0.1), 0.095, (0.0, 0.02)).aim
    0.095
    """

    static: tuple[float, float]
    rider: tuple[float, float]
    aim: float
    adjuster: tuple[float, float]


@dataclass(frozen=True)
class Swap:
    """What each spring's own volume does, all of shape (springs,): `gap_change` in m (NaN where unknown),
    `volume_lost` of air in m³, and `room`, whether any air is left.

    Source: conservation of the oil's volume, elementary geometry.

    >>> bool(Swap(np.array([0.001]), np.array([0.0]), np.array([True])).room[0])
    True
    """

    gap_change: Array
    volume_lost: Array
    room: NDArray[np.bool_]


def choose(request: Mapping[str, Any]) -> dict[str, Any]:
    """Rank the springs of a list for one end, given as in `evaluate`.

    The end's present spring only says which legs carry one.

    `target_static_sag_mm` and `target_rider_sag_mm` are accepted bands [low, high]; `aim_rider_sag_mm` is the
    sag preload is set for (else the band's middle); where a band is left out, it is `aim_…` ± 5 mm.
    `adjuster_mm` is the preload range (else 0 to 150). `springs` is the list. `air` tells what becomes of the
    oil: "same_curve" (default) corrects the gap for what each spring displaces, "same_gap" leaves the gap and
    lets the air change; both need `displaced_cm3` of the candidate and, at the top level, of the present
    spring. `correction` ({"static_mm", "rider_mm"}, optional) is added to every computed sag: what this bike is
    known to sag more than computed. Raises `Refusal`.

    The probability is that both sags land in band, by Monte Carlo (JCGM 101) with a fixed seed, preload left
    as set: each axle load rectangular ± 1 kg, the stamped rate rectangular ± 5 %, each sag ± 1 mm for
    friction, rectangular. It is 0 for a spring that binds.

    Returns `ranked`, the springs with their figures, `probability`, `verdict` and one sentence each, the `best` one's
    id (None where none suits) and `notes`. `request` is that mapping; the springs are judged by [2], the probability
    is that of [1].

    >>> rear = {"wheel_travel_mm": 300, "unsprung_kg": 22, "load_static_kg": 57, "load_rider_kg": 112,
    ...     "leverage": {"kind": "ratio", "wheel_per_shock": 2.5}, "preload_mm": 7,
    ...     "spring": {"kind": "straight", "rate_n_per_mm": 60}}
    >>> springs = [{"id": rate, "label": f"{rate}", "spring": {"kind": "straight", "rate_n_per_mm": rate}}
    ...     for rate in (44, 52, 64)]
    >>> found = choose({"rear": rear, "target_static_sag_mm": [25, 35], "target_rider_sag_mm": [90, 100],
    ...     "springs": springs})
    >>> found["best"], [each["verdict"] for each in found["ranked"]]
    (52, ['suits', 'too_soft', 'cannot_reach'])
    """
    name = "rear" if request.get("front") is None else "front"
    _check(request, name)
    given = request[name]
    present = end_from(given, name)
    listed = request["springs"]
    springs = batch([spring_from(each["spring"]) for each in listed])
    wanted = _wanted(request)
    correction = request.get("correction") or {}
    static_more, rider_more = (correction.get(key, 0.0) / 1000 for key in ("static_mm", "rider_mm"))
    computed = _less(wanted, static_more, rider_more)
    swap = _swap(request, present, listed)
    end = _less_air(present, swap.volume_lost)
    loads = sprung_load(given, "static"), sprung_load(given, "rider")
    preload = preload_for(end.with_springs(springs, 0.0), springs, computed, loads[1])
    found = _more(figures(end.with_springs(springs, preload), *loads), static_more, rider_more, end.travel)
    chance = probabilities(present, springs, preload, computed, loads, volume_lost=swap.volume_lost)
    rows = [
        _row(each, index, preload, found, chance, wanted, swap, given if name == "front" else None)
        for index, each in enumerate(listed)
    ]
    rows.sort(key=lambda row: (ORDER[row["verdict"]], -row["probability"], _distance(row, wanted)))
    best = rows[0]["id"] if rows[0]["verdict"] == "suits" else None
    return {
        "ranked": rows,
        "best": best,
        "notes": [note.as_dict() for note in _notes(request, name, best, swap)],
    }


def _check(request: Mapping[str, Any], name: str) -> None:
    findings = Findings()
    if request.get("front") is not None and request.get("rear") is not None:
        findings.add("", "one_end", say("Springs are chosen for one end at a time: give the front or the rear."))
    end = request.get(name)
    if end is None:
        findings.add("", "missing", say("Neither a front nor a rear end is given; give one."))
        findings.raise_any()
    check = check_front if name == "front" else check_rear
    check(findings, end or {}, name, bind=False)
    if name == "front" and all(leg.get("spring") is None for leg in (end or {}).get("legs") or []):
        findings.add("front.legs", "no_spring", say("No fork leg carries a spring, so there is none to choose."))
    travel = (end or {}).get("stroke_mm" if name == "front" else "wheel_travel_mm")
    for sag in ("static_sag_mm", "rider_sag_mm"):
        _check_target(findings, request, sag, travel)
    if request.get("adjuster_mm") is not None:
        check_range(findings, request["adjuster_mm"], "adjuster_mm", BANDS["adjuster_mm"])
    if request.get("displaced_cm3") is not None:
        findings.number(request, "displaced_cm3", "", BANDS["displaced_cm3"])
    if request.get("air") not in (None, "same_gap", "same_curve"):
        findings.add("air", "unknown_kind", say(
            "{air!r} for the air: give same_gap or same_curve.",
            air=request["air"],
        ))
    _check_list(findings, request.get("springs"), "leg_spring" if name == "front" else "shock_spring")
    findings.raise_any()


def _check_target(findings: Findings, request: Mapping[str, Any], sag: str, travel: Any) -> None:
    band = BANDS[f"target.{sag}"]
    ranged = check_range(findings, request[f"target_{sag}"], f"target_{sag}", band) if _has_band(request, sag) else None
    aim = None
    if not _has_band(request, sag) or request.get(f"aim_{sag}") is not None:
        aim = findings.number(request, f"aim_{sag}", "", band)
    if aim is not None and ranged is not None and not ranged[0] <= aim <= ranged[1]:
        text = say(
            "{aim:g} mm aimed at is outside the accepted {ranged:g} to {ranged2:g} mm of {what}.",
            aim=aim, ranged=ranged[0], ranged2=ranged[1], what=band.named,
        )
        findings.problems.append(Problem(f"aim_{sag}", "aim_outside_band", text, aim, "mm", *ranged))
    least = aim if ranged is None else ranged[0] if aim is None else max(aim, ranged[0])
    if least is not None and isinstance(travel, int | float) and least >= travel:
        where = f"target_{sag}" if aim is None else f"aim_{sag}"
        text = say(
            "{least:g} mm for {what} is not inside the travel of {travel:g} mm.",
            least=least, what=band.named, travel=travel,
        )
        findings.problems.append(Problem(where, "target_past_travel", text, least, "mm", 0, travel))


def _has_band(request: Mapping[str, Any], sag: str) -> bool:
    return request.get(f"target_{sag}") is not None


def _check_list(findings: Findings, springs: Any, place: str) -> None:
    if not isinstance(springs, Sequence) or not 1 <= len(springs) <= LONGEST_LIST:
        findings.add("springs", "list_size", say(
            "Give 1 to {longest_list} springs to choose from.",
            longest_list=LONGEST_LIST,
        ))
        return
    for index, each in enumerate(springs):
        check_spring(findings, each.get("spring"), f"springs.{index}.spring", place)
        if each.get("displaced_cm3") is not None:
            findings.number(each, "displaced_cm3", f"springs.{index}", BANDS["displaced_cm3"])


def _wanted(request: Mapping[str, Any]) -> Wanted:
    def band(sag: str) -> tuple[float, float]:
        aim = request.get(f"aim_{sag}", 0.0)
        low, high = request.get(f"target_{sag}") or (max(aim - AIM_HALF_BAND_MM, 0.0), aim + AIM_HALF_BAND_MM)
        return low / 1000, high / 1000

    rider = band("rider_sag_mm")
    aim = request.get("aim_rider_sag_mm")
    low, high = request.get("adjuster_mm") or NO_ADJUSTER_MM
    return Wanted(
        band("static_sag_mm"), rider, sum(rider) / 2 if aim is None else aim / 1000, (low / 1000, high / 1000)
    )


def _less(wanted: Wanted, static: float, rider: float) -> Wanted:
    """Return what the computed sags must be, so that they are as wanted with `static` and `rider` (m) added."""
    return replace(
        wanted,
        static=(wanted.static[0] - static, wanted.static[1] - static),
        rider=(wanted.rider[0] - rider, wanted.rider[1] - rider),
        aim=max(wanted.aim - rider, 0.0),
    )


def _more(found: Figures, static: float, rider: float, travel: float) -> Figures:
    """Return the figures with the sags corrected, held inside the travel; m."""
    if not static and not rider:
        return found
    return replace(
        found,
        static_sag=np.clip(found.static_sag + static, 0.0, travel),
        rider_sag=np.clip(found.rider_sag + rider, 0.0, travel),
    )


def preload_for(end: Fork | Rear, springs: Springs, wanted: Wanted, rider_load: float) -> Array:
    """Return each spring's preload (m) that puts the rider sag on its aim, within the adjuster's range.

    `end` is a fork or rear, `springs` a batch, `wanted` says the aim, `rider_load` is the sprung load in N. Raises
    nothing. Source: elementary statics, `p = δ(F) − s`.

    On 2.5 mm of wheel per mm of shock, 1000 N at the wheel are 2500 N at the spring: 50 mm of a 50 N/mm spring, of
    which the sag of 95 mm takes 38.

    >>> from calc.rear import rear_from
    >>> from calc.springs import straight
    >>> rear = rear_from({"wheel_travel_mm": 300, "preload_mm": 0, "leverage": {"kind": "ratio",
    ...     "wheel_per_shock": 2.5}, "spring": {"kind": "straight", "rate_n_per_mm": 50}})
    >>> wanted = Wanted((0.02, 0.03), (0.09, 0.1), 0.095, (0.0, 0.02))
    >>> preload_for(rear, batch([straight(5e4)]), wanted, 1000.0).round(9).tolist()
    [0.012]
    """
    aim = min(wanted.aim, end.travel)
    exact = springs.deflection_at(end.spring_share(aim, rider_load)) - end.spring_stroke(aim)
    return np.clip(np.broadcast_to(exact, springs.shape), *wanted.adjuster)


def probabilities(
    end: Fork | Rear,
    springs: Springs,
    preload: Array,
    wanted: Wanted,
    loads: tuple[float, float],
    samples: int = SAMPLES,
    volume_lost: Array | None = None,
) -> Array:
    """Return, per spring, the share of samples in which both sags land in band; shape (springs,).

    `loads` are the sprung ones, N, alone and with the rider; `volume_lost` (m³ per spring) is the fork's air
    that each spring's own volume takes. Springs and samples are solved together in one array, so many springs
    at a time that the memory stays bounded.

    `end` is a fork or rear, `springs` a batch, `preload` (m) of shape (springs,), `wanted` the bands; `samples` is a
    number of draws. Raises nothing. Source: [1].

    Bands as wide as the travel always hold, a band of nothing never does.

    >>> from calc.rear import rear_from
    >>> from calc.springs import straight
    >>> rear = rear_from({"wheel_travel_mm": 300, "preload_mm": 0, "leverage": {"kind": "ratio",
    ...     "wheel_per_shock": 2.5}, "spring": {"kind": "straight", "rate_n_per_mm": 50}})
    >>> one, held, loads = batch([straight(5e4)]), np.array([0.012]), (340.0, 1000.0)
    >>> wide, none = (Wanted((0.0, top), (0.0, top), 0.095, (0.0, 0.02)) for top in (0.3, 0.001))
    >>> [probabilities(rear, one, held, wanted, loads).tolist() for wanted in (wide, none)]
    [[1.0], [0.0]]
    """
    # Freeing one large block makes the C library keep blocks of a chunk's size for reuse; otherwise every
    # temporary array costs fresh pages from the system, which takes longer than the arithmetic.
    np.empty(32 * CHUNK_ELEMENTS)
    draw = np.random.default_rng(SEED).uniform(-1.0, 1.0, (5, samples))
    scale = 1 + STAMP * draw[0]
    alone = loads[0] + SCALE_KG * STANDARD_GRAVITY * draw[1], FRICTION_M * draw[3], wanted.static
    ridden = loads[1] + SCALE_KG * STANDARD_GRAVITY * draw[2], FRICTION_M * draw[4], wanted.rider
    chance = np.empty(springs.shape)
    step = max(1, CHUNK_ELEMENTS // samples)
    for first in range(0, len(chance), step):
        part = slice(first, first + step)
        place = end if volume_lost is None else _less_air(end, volume_lost[part, None])
        columns, held = springs.columns(part), preload[part, None]
        nominal = place.with_springs(columns, held)
        varied = place.with_springs(columns.scaled(scale), held)
        inside = np.ones((1, samples), dtype=bool)
        for load, friction, band in (alone, ridden):
            start = settle(nominal, float(load.mean()), close=CLOSE_M)
            sag = settle(varied, load, start=start, close=CLOSE_M) + friction
            inside = inside & _within(sag, band)
        chance[part] = np.count_nonzero(inside, axis=-1) / samples
    return chance


def _within(sag: Array, band: tuple[float, float]) -> NDArray[np.bool_]:
    return (sag >= band[0] - TOUCH_M) & (sag <= band[1] + TOUCH_M)


def _swap(request: Mapping[str, Any], present: Fork | Rear, listed: Sequence[Mapping[str, Any]]) -> Swap:
    """Return what each candidate's volume does to the oil of the first leg that carries a spring."""
    unknown = np.full(len(listed), np.nan)
    nothing, room = np.zeros(len(listed)), np.ones(len(listed), dtype=bool)
    if not isinstance(present, Fork):
        return Swap(unknown, nothing, room)
    old = request.get("displaced_cm3")
    volumes = [each.get("displaced_cm3") for each in listed]
    more = np.array([np.nan if new is None or old is None else (new - old) * 1e-6 for new in volumes])
    if request.get("air") != "same_gap":
        leg = next(leg for leg in request["front"]["legs"] if leg.get("spring") is not None)
        return Swap(more / bore_area(leg), nothing, room)
    lost = np.nan_to_num(more)
    left = present.least_end_volume() - lost
    return Swap(np.where(np.isnan(more), np.nan, 0.0), np.where(left > 0, lost, 0.0), left > 0)


def _less_air(end: Fork | Rear, volume: Array) -> Fork | Rear:
    return end.with_less_air(volume) if isinstance(end, Fork) and volume.any() else end


def _row(
    each: Mapping[str, Any],
    index: int,
    preload: Array,
    found: Figures,
    chance: Array,
    wanted: Wanted,
    swap: Swap,
    front: Mapping[str, Any] | None,
) -> dict[str, Any]:
    clearance = float(found.clearance[index])
    binds = clearance < -TOUCH_M
    static, rider = found.static_sag[index], found.rider_sag[index]
    in_band = bool(_within(static, wanted.static) & _within(rider, wanted.rider)) and not binds
    verdict, text = _verdict(float(static), float(rider), clearance, bool(swap.room[index]), wanted)
    frequency = float(found.frequency[index])
    row = {
        "id": each.get("id"),
        "label": each.get("label", ""),
        "spring": each["spring"],
        "preload_mm": rounded(preload[index] * 1000),
        "static_sag_mm": rounded(static * 1000),
        "rider_sag_mm": rounded(rider * 1000),
        "breakaway_n": rounded(found.breakaway[index]),
        "wheel_rate_n_per_mm": rounded(found.wheel_rate[index] / 1000),
        "frequency_hz": rounded(frequency) if np.isfinite(frequency) else None,
        "full_stroke_n": rounded(found.full_stroke[index]),
        "energy_to_stop_j": rounded(found.energy[index]),
        "fall_to_stop_mm": rounded(found.fall[index] * 1000),
        "solid_clearance_mm": rounded(clearance * 1000) if np.isfinite(clearance) else None,
        "in_band": in_band,
        "probability": 0.0 if binds or not swap.room[index] else float(chance[index]),
        "verdict": verdict,
        "text": text,
    }
    if front is not None:
        change = float(swap.gap_change[index])
        gap = next(leg["air_gap_mm"] for leg in front["legs"] if leg.get("spring") is not None)
        known = np.isfinite(change)
        row["gap_change_mm"] = rounded(change * 1000) if known else None
        row["air_gap_mm"] = rounded(gap + change * 1000) if known else gap
    return row


def _verdict(static: float, rider: float, clearance: float, room: bool, wanted: Wanted) -> tuple[str, str]:
    """Return the verdict and its sentence; sags and clearance in m."""
    static_mm, rider_mm = (
        printed.sag(sag * 1000, (band[0] * 1000, band[1] * 1000))
        for sag, band in ((static, wanted.static), (rider, wanted.rider))
    )
    at = say("static sag {static} mm, rider sag {rider} mm", static=static_mm, rider=rider_mm)
    if clearance < -TOUCH_M:
        return "binds", say(
            "Goes solid {clearance:.1f} mm before the end of the stroke.",
            clearance=-clearance * 1000,
        )
    if not room:
        return "cannot_reach", say("Displaces so much oil that no air is left at this gap.")
    if not bool(_within(np.asarray(rider), wanted.rider)):
        if rider > wanted.rider[1]:
            return "cannot_reach", say("Too soft: even the most preload leaves too much rider sag ({at}).", at=at)
        return "cannot_reach", say("Too stiff: even the least preload leaves too little rider sag ({at}).", at=at)
    if not bool(_within(np.asarray(static), wanted.static)):
        if static < wanted.static[0]:
            return "too_soft", say("Too soft: it lives on preload, so too little static sag is left ({at}).", at=at)
        return "too_stiff", say("Too stiff: with the rider sag right, the static sag is too large ({at}).", at=at)
    return "suits", say("Suits: both sags land in band ({at}).", at=at)


def _distance(row: Mapping[str, Any], wanted: Wanted) -> float:
    return float(
        abs(row["static_sag_mm"] / 1000 - sum(wanted.static) / 2) + abs(row["rider_sag_mm"] / 1000 - wanted.aim)
    )


def _notes(request: Mapping[str, Any], name: str, best: Any, swap: Swap) -> list[Note]:
    notes = [
        Note(
            "probability_basis",
            "info",
            say("The probability counts scales good to ± 1 kg, stamped rates to ± 5 % and ± 1 mm of friction."),
        )
    ]
    if name == "front":
        notes.append(air_notes()[0])
    if best is None:
        notes.append(Note("none_suits", "warning", say("No spring of the list brings both sags into band.")))
    if name == "front" and np.isnan(swap.gap_change).any():
        notes.append(
            Note(
                "displaced_unknown",
                "info",
                say("The air gap is not corrected where the volume of the new or the present spring is unknown."),
            )
        )
    if name == "front" and len({leg["air_gap_mm"] for leg in request["front"]["legs"]}) > 1:
        notes.append(Note("legs_differ", "info", say(
            "The legs differ: the gap given is that of the first sprung leg.",
        )))
    return notes


def soft_wound_up(request: Mapping[str, Any], rider_sag_mm: float) -> dict[str, Any]:
    """Return the end with springs 20 % softer, wound up by preload to the same rider sag: preload is no cure.

    `request` holds one end as in `evaluate`, checked; every spring takes the same further preload. The answer
    is that of `evaluate` for the end, with `preload_mm` of the first spring; air and gas are left as they
    are.

    `rider_sag_mm` is in mm along the end's own coordinate. Raises nothing. Source: elementary statics; that preload
    is no cure is common practice, no source.

    Softer by 20 % is 41.6 N/mm; the shock's stroke at 95 mm is 38 mm, so the preload is 2.5 W/41.6 − 38 mm.

    >>> rear = {"wheel_travel_mm": 300, "unsprung_kg": 22, "load_static_kg": 57, "load_rider_kg": 112,
    ...     "leverage": {"kind": "ratio", "wheel_per_shock": 2.5}, "preload_mm": 7,
    ...     "spring": {"kind": "straight", "rate_n_per_mm": 52}}
    >>> soft = soft_wound_up({"rear": rear}, 95.0)
    >>> soft["rider_sag_mm"], soft["preload_mm"], round(2.5 * 90 * 9.80665 / 41.6 - 38, 4)
    (95.0, 15.0408, 15.0408)
    """
    name = "rear" if request.get("front") is None else "front"
    given = request[name]
    end = end_from(given, name)
    loads = sprung_load(given, "static"), sprung_load(given, "rider")
    wound_up = _wind(end, rider_sag_mm / 1000, loads[1])
    found = figures(wound_up, *loads)
    first = (
        wound_up.preload
        if isinstance(wound_up, Rear)
        else next(leg.preload for leg in wound_up.legs if leg.springs is not None)
    )
    notes = state_notes(found, wound_up.travel) + preload_notes([float(first) * 1000])
    return {**answer(wound_up, found, notes), "preload_mm": rounded(float(first) * 1000)}


def _wind(end: Fork | Rear, sag: float, load: float) -> Fork | Rear:
    """Return `end` softened, with the further preload on every spring that carries `load` (N) at `sag` (m)."""
    soft = end.softened(SOFTER)
    low, high = -2 * end.travel, 2 * end.travel
    for _ in range(80):
        middle = 0.5 * (low + high)
        if float(soft.wound_up(middle).force_and_slope(np.asarray(sag))[0]) < load:
            low = middle
        else:
            high = middle
    return soft.wound_up(0.5 * (low + high))
