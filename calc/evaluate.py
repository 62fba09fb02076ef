"""What the springs do under this bike and rider: sags, rates, forces, energy and force curve of each end.

Sources: [1] The definitions of sag, preload and sprung load are the trade's: common practice, no source. [2] Work,
energy and the single mass on its spring: elementary statics and elementary calculus.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from calc.checks import check_bike
from calc.fork import Fork, fork_from, venting_from
from calc.gap import pour_notes
from calc.gas import HARD, SLOW, STANDARD_GRAVITY
from calc.rear import Rear, rear_from
from calc.refusal import Note
from calc.solve import settle
from calc.words import say

Array = NDArray[np.float64]

CURVE_POINTS = 41
DIGITS = 6
LEAST_KPA = 0.1
NOTHING = 1e-9


@dataclass(frozen=True)
class Figures:
    """The results of one end in SI, one per spring of its batch (shape: that of the batch).

    `static_sag` and `rider_sag` in m along the end's own coordinate; `breakaway` and `full_stroke` in N at the wheel;
    `wheel_rate` in N/m, vertical; `frequency` in Hz; `energy` in J, from rider sag to the stop; `fall` in m, from
    full extension; `reserve`, force at the stop over the rider's load, a number without a unit; `clearance` in m
    before a spring is solid. Source: [1], [2].

    >>> from calc.rear import rear_from
    >>> rear = rear_from({"wheel_travel_mm": 300, "preload_mm": 0, "leverage": {"kind": "ratio",
    ...     "wheel_per_shock": 2.5}, "spring": {"kind": "straight", "rate_n_per_mm": 50}})
    >>> round(float(figures(rear, 400.0, 800.0).rider_sag), 9)  # 800·2.5²/50000
    0.1
    """

    static_sag: Array
    rider_sag: Array
    breakaway: Array
    wheel_rate: Array
    frequency: Array
    full_stroke: Array
    energy: Array
    fall: Array
    reserve: Array
    clearance: Array


def sprung_load(end: Mapping[str, Any], state: str) -> float:
    """Return the sprung load in N of a checked end in `state` (static, rider).

    Raises nothing. Source: [1].

    >>> round(sprung_load({"load_rider_kg": 88, "unsprung_kg": 16}, "rider"), 4)
    706.0788
    """
    return float((end[f"load_{state}_kg"] - end["unsprung_kg"]) * STANDARD_GRAVITY)


def figures(end: Fork | Rear, static_load: float, rider_load: float) -> Figures:
    """Return all figures of `end` under the two sprung loads (N at the wheel), for every spring of its batch.

    Sag, wheel rate and frequency follow the slow air curve (n = 1); force and energy to the stop, and the
    fall that just reaches it, the hard one (n = 1.4) from full extension. A frequency that does not exist is
    NaN.

    `static_load` and `rider_load` are in N. Raises nothing. Source: [1], [2].

    A straight spring of wheel rate K = 50/2.5² = 8 N/mm: 800 N sit at 100 mm, and swing at √(K/m)/2π.

    >>> from calc.rear import rear_from
    >>> rear = rear_from({"wheel_travel_mm": 300, "preload_mm": 0, "leverage": {"kind": "ratio",
    ...     "wheel_per_shock": 2.5}, "spring": {"kind": "straight", "rate_n_per_mm": 50}})
    >>> found = figures(rear, 400.0, 800.0)
    >>> round(float(found.frequency), 6), round((8000 / (800 / 9.80665)) ** 0.5 / 6.283185307, 6)
    (1.576088, 1.576088)
    """
    static, rider = settle(end, static_load), settle(end, rider_load)
    wheel_rate = end.force_and_slope(rider, SLOW)[1] / end.steepness
    mass = rider_load / STANDARD_GRAVITY
    with np.errstate(invalid="ignore"):
        frequency = np.where(wheel_rate > 0, np.sqrt(wheel_rate / mass) / (2 * math.pi), np.nan)
    stop = np.asarray(end.travel)
    to_stop = end.work(stop, HARD)
    return Figures(
        static_sag=static,
        rider_sag=rider,
        breakaway=np.maximum(end.force_and_slope(np.zeros(()), SLOW)[0], 0.0),
        wheel_rate=wheel_rate,
        frequency=frequency,
        full_stroke=end.force_and_slope(stop, HARD)[0],
        energy=to_stop - end.work(rider, HARD),
        fall=to_stop / rider_load - end.travel * end.steepness,
        reserve=end.force_and_slope(stop, HARD)[0] / rider_load,
        clearance=end.clearance(),
    )


def end_from(end: Mapping[str, Any], name: str) -> Fork | Rear:
    """Return the physical end of a checked request; `name` is front or rear.

    `end` is that mapping. Raises nothing. Source: none (bookkeeping).

    >>> end_from({"wheel_travel_mm": 300, "preload_mm": 0, "leverage": {"kind": "ratio", "wheel_per_shock": 2.5},
    ...     "spring": {"kind": "straight", "rate_n_per_mm": 50}}, "rear").travel
    0.3
    """
    return fork_from(end) if name == "front" else rear_from(end)


def evaluate(request: Mapping[str, Any]) -> dict[str, Any]:
    """Return the figures, curve and notes of each end in `request` ("front", "rear" or both).

    All forces are vertical at the wheel, summed over legs or shocks, unsprung weight left out; front sags and
    curve run along the fork, rear ones vertically. Raises `Refusal` naming every problem of the input.

    Source: [1], [2].

    The sag by hand: the load times 2.5, less the gas and the preload's force, over the rate, times 2.5.

    >>> answer = evaluate({"rear": {"wheel_travel_mm": 300, "unsprung_kg": 22, "load_static_kg": 57,
    ...     "load_rider_kg": 112, "shocks": 1, "leverage": {"kind": "ratio", "wheel_per_shock": 2.5},
    ...     "spring": {"kind": "straight", "rate_n_per_mm": 52}, "preload_mm": 7, "gas_force_n": 250}})
    >>> answer["rear"]["rider_sag_mm"], round(((112 - 22) * 9.80665 * 2.5 - 250 - 52 * 7) / 52 * 2.5, 4)
    (76.5623, 76.5623)
    >>> answer["rear"]["wheel_rate_n_per_mm"]  # 52/2.5²
    8.32
    """
    check_bike(request)
    ends: dict[str, Any] = {}
    if request.get("front") is not None:
        ends["front"] = front_answer(request["front"])
    if request.get("rear") is not None:
        ends["rear"] = rear_answer(request["rear"])
    return ends


def evaluate_front(front: Mapping[str, Any]) -> dict[str, Any]:
    """Return the answer for a front end alone, as `evaluate` gives it; raises `Refusal`.

    `front` is the mapping. Raises `Refusal`. Source: [1], [2].

    Upright, one leg with much air: (58 − 16)·g less the preload's 92 N, over 9.2 N/mm, all but a touch of air.

    >>> leg = {"spring": {"kind": "straight", "rate_n_per_mm": 9.2}, "preload_mm": 10, "seal_diameter_mm": 15,
    ...     "bore_diameter_mm": 80, "air_gap_mm": 400, "solids_cm3": 0}
    >>> answer = evaluate_front({"stroke_mm": 300, "rake_deg": 0, "unsprung_kg": 16, "load_static_kg": 58,
    ...     "load_rider_kg": 88, "legs": [leg]})
    >>> round(answer["static_sag_mm"]), round((42 * 9.80665 - 92) / 9.2)
    (35, 35)
    """
    return dict(evaluate({"front": front})["front"])


def evaluate_rear(rear: Mapping[str, Any]) -> dict[str, Any]:
    """Return the answer for a rear end alone, as `evaluate` gives it; raises `Refusal`.

    `rear` is the mapping. Raises `Refusal`. Source: [1], [2].

    >>> rear = {"wheel_travel_mm": 300, "unsprung_kg": 22, "load_static_kg": 57, "load_rider_kg": 112,
    ...     "leverage": {"kind": "ratio", "wheel_per_shock": 2.5}, "spring": {"kind": "straight", "rate_n_per_mm": 50},
    ...     "preload_mm": 10}
    >>> evaluate_rear(rear)["breakaway_n"]  # 50·10/2.5
    200.0
    """
    return dict(evaluate({"rear": rear})["rear"])


def front_answer(front: Mapping[str, Any]) -> dict[str, Any]:
    """Return the answer for a front end that has been checked.

    `front` is that mapping, as in `evaluate`. Raises nothing. Source: [1], [2].

    >>> leg = {"spring": {"kind": "straight", "rate_n_per_mm": 4.6}, "preload_mm": 10, "seal_diameter_mm": 48,
    ...     "bore_diameter_mm": 42, "air_gap_mm": 110, "solids_cm3": 70}
    >>> front = {"stroke_mm": 300, "rake_deg": 0, "unsprung_kg": 16, "load_static_kg": 58, "load_rider_kg": 88}
    >>> round(front_answer({**front, "legs": [leg, leg]})["breakaway_n"], 6)  # two springs of 4.6·10
    92.0
    """
    fork = fork_from(front)
    found = figures(fork, sprung_load(front, "static"), sprung_load(front, "rider"))
    notes = state_notes(found, fork.travel) + preload_notes(
        leg["preload_mm"] for leg in front["legs"] if leg.get("spring") is not None
    )
    notes += tested_notes(
        (leg["spring"], leg["preload_mm"] + front["stroke_mm"])
        for leg in front["legs"]
        if leg.get("spring") is not None
    )
    notes += venting_notes(front)
    notes += [note for leg in front["legs"] for note in pour_notes(leg)][:1]
    return answer(fork, found, notes + air_notes())


def rear_answer(rear: Mapping[str, Any]) -> dict[str, Any]:
    """Return the answer for a rear end that has been checked.

    `rear` is that mapping, as in `evaluate`. Raises nothing. Source: [1], [2].

    >>> rear = {"wheel_travel_mm": 300, "unsprung_kg": 22, "load_static_kg": 57, "load_rider_kg": 112,
    ...     "leverage": {"kind": "ratio", "wheel_per_shock": 2.5}, "spring": {"kind": "straight", "rate_n_per_mm": 50},
    ...     "preload_mm": 10}
    >>> rear_answer(rear)["full_stroke_n"]  # 50·(10 + 120)/2.5
    2600.0
    """
    end = rear_from(rear)
    found = figures(end, sprung_load(rear, "static"), sprung_load(rear, "rider"))
    notes = state_notes(found, end.travel) + preload_notes([rear["preload_mm"]])
    notes += tested_notes([(rear["spring"], rear["preload_mm"] + 1000 * float(end.leverage.stroke(end.travel)))])
    if not end.rises():
        notes.append(
            Note(
                "force_falls",
                "warning",
                say(
                    "The wheel force falls somewhere along the travel; the sag given is the first place that "
                    "carries the load. Check the leverage table.",
                ),
            )
        )
    if rear["leverage"]["kind"] == "table":
        notes.append(
            Note(
                "leverage_second_derivative",
                "info",
                say(
                    "The wheel rate uses the curvature of the leverage table's own curve, good to about 2 % on "
                    "smooth data.",
                ),
            )
        )
    return answer(end, found, notes)


def answer(end: Fork | Rear, found: Figures, notes: list[Note]) -> dict[str, Any]:
    """Return the API's mapping for one end, not a batch: figures in workshop units, curve and notes.

    `found` holds the figures of `end`, `notes` what is to be said. Raises nothing. Source: none (bookkeeping).

    >>> from calc.rear import rear_from
    >>> rear = rear_from({"wheel_travel_mm": 300, "preload_mm": 0, "leverage": {"kind": "ratio",
    ...     "wheel_per_shock": 2.5}, "spring": {"kind": "straight", "rate_n_per_mm": 50}})
    >>> answer(rear, figures(rear, 400.0, 800.0), [])["rider_sag_mm"]
    100.0
    """
    clearance = float(found.clearance)
    known = (
        []
        if math.isfinite(clearance)
        else [
            Note(
                "solid_unknown",
                "info",
                say("No spring's solid deflection is known: whether it binds is not checked."),
            )
        ]
    )
    frequency = float(found.frequency)
    return {
        "static_sag_mm": rounded(found.static_sag * 1000),
        "rider_sag_mm": rounded(found.rider_sag * 1000),
        "breakaway_n": rounded(found.breakaway),
        "wheel_rate_n_per_mm": rounded(found.wheel_rate / 1000),
        "frequency_hz": rounded(frequency) if math.isfinite(frequency) else None,
        "full_stroke_n": rounded(found.full_stroke),
        "energy_to_stop_j": rounded(found.energy),
        "fall_to_stop_mm": rounded(found.fall * 1000),
        "solid_clearance_mm": rounded(clearance * 1000) if math.isfinite(clearance) else None,
        "curve": curve(end),
        "notes": [note.as_dict() for note in notes + known],
    }


def curve(end: Fork | Rear) -> dict[str, list[float]]:
    """Return the force curve of one end: travel in mm (front along the fork), forces in N at the wheel.

    `spring_n` holds the springs with top-out spring and bump stop, `air_n` the fork's air or the shock's gas
    at n = 1, `air_hard_n` and `total_hard_n` the same at n = 1.4.

    `end` is not a batch. Raises nothing. Source: [2].

    >>> from calc.rear import rear_from
    >>> rear = rear_from({"wheel_travel_mm": 300, "preload_mm": 0, "leverage": {"kind": "ratio",
    ...     "wheel_per_shock": 2.5}, "spring": {"kind": "straight", "rate_n_per_mm": 50}})
    >>> drawn = curve(rear)
    >>> drawn["travel_mm"][-1], drawn["total_n"][-1]  # 8 N/mm over 300 mm
    (300.0, 2400.0)
    """
    u = np.linspace(0.0, end.travel, CURVE_POINTS)
    spring, air = (np.broadcast_to(part, u.shape) for part in end.parts(u, SLOW))
    hard = np.broadcast_to(end.parts(u, HARD)[1], u.shape)
    columns = {
        "travel_mm": u * 1000,
        "spring_n": spring,
        "air_n": air,
        "total_n": spring + air,
        "air_hard_n": hard,
        "total_hard_n": spring + hard,
    }
    return {name: [rounded(value) for value in values.tolist()] for name, values in columns.items()}


def state_notes(found: Figures, travel: float) -> list[Note]:
    """Return what is to be said of the loads, the rate and the stop.

    `found` holds the figures of an end of full `travel` (m). Raises nothing. Source: common practice, no source.

    >>> from calc.rear import rear_from
    >>> rear = rear_from({"wheel_travel_mm": 300, "preload_mm": 0, "leverage": {"kind": "ratio",
    ...     "wheel_per_shock": 2.5}, "spring": {"kind": "straight", "rate_n_per_mm": 50}})
    >>> state_notes(figures(rear, 400.0, 2500.0), 0.3)[0].code
    'on_the_stop'
    """
    notes = []
    for with_whom, sag in (
        (say("With the bike alone"), float(found.static_sag)), (say("With the rider"), float(found.rider_sag)),
    ):
        if sag <= 0:
            text = say(
                "{with_whom} the suspension is topped out: the load does not move it from full extension.",
                with_whom=with_whom,
            )
            notes.append(Note("topped_out", "warning", text, 0.0, "mm"))
        elif sag >= travel:
            text = say(
                "{with_whom} the suspension is on the stop: the springs do not carry the load.",
                with_whom=with_whom,
            )
            notes.append(Note("on_the_stop", "stop", text, rounded(travel * 1000), "mm"))
    if not math.isfinite(float(found.frequency)):
        text = say("The wheel rate at rider sag is not above zero: the end has no natural frequency there.")
        notes.append(Note("no_frequency", "warning", text, rounded(float(found.wheel_rate) / 1000), "N/mm"))
    if float(found.fall) < 0:
        text = say("The springs store less than the travel's own height: the stop is reached without any fall.")
        notes.append(Note("stop_without_fall", "warning", text, rounded(float(found.fall) * 1000), "mm"))
    reserve = rounded(found.reserve)
    text = say(
        "At the stop, hit hard, the force is {reserve:.3g} times the sprung load with the rider.",
        reserve=reserve,
    )
    notes.append(Note("bottoming_reserve", "info", text, reserve))
    text = say("Energy and fall to the stop leave damping and friction out.")
    notes.append(Note("damping_left_out", "info", text))
    return notes


def preload_notes(preloads_mm: Any) -> list[Note]:
    """Return a warning for each negative preload, in mm.

    `preloads_mm` are the preloads. Raises nothing. Source: [1].

    >>> [note.code for note in preload_notes([5.0, -2.0])]
    ['loose_spring']
    """
    return [
        Note(
            "loose_spring",
            "warning",
            say(
                "The spring is loose at full extension: {preload:g} mm of slack before it carries anything.",
                preload=-preload,
            ),
            preload,
            "mm",
        )
        for preload in preloads_mm
        if preload < 0
    ]


def tested_notes(springs: Iterable[tuple[Mapping[str, Any], float]]) -> list[Note]:
    """Return a note for each tester-read spring that its full stroke, given beside it in mm, takes past the readings.

    `springs` are pairs of a spring's mapping and its greatest compression. Raises nothing. Source: none (wording).

    >>> read = {"kind": "tested", "deflection_mm": [20, 40, 60], "force_n": [92, 184, 276]}
    >>> [note.code for note in tested_notes([(read, 50.0), (read, 110.0)])]
    ['tested_short']
    """
    return [
        Note(
            "tested_short",
            "warning",
            say(
                "The spring was tested to {deflection_mm:g} mm but is compressed {deepest:.4g} mm at full "
                "stroke: beyond its readings the fitted curve is carried on.",
                deflection_mm=spring["deflection_mm"][-1], deepest=deepest,
            ),
            rounded(deepest),
            "mm",
        )
        for spring, deepest in springs
        if spring["kind"] == "tested" and deepest > spring["deflection_mm"][-1]
    ]


def venting_notes(front: Mapping[str, Any]) -> list[Note]:
    """Return what is to be said of a front end vented at another altitude or temperature than it is ridden.

    `front` is a checked mapping. Raises nothing. Source: ideal gas law, `calc.fork`; from memory.

    >>> [note.value for note in venting_notes({"vented_altitude_m": 0, "altitude_m": 1000})]  # 101.325 − 89.8746 kPa
    [11.4504]
    """
    venting = venting_from(front)
    more = rounded((venting.shut * venting.warmth - venting.ambient) / 1000)
    if abs(more) < LEAST_KPA:
        return []
    text = say(
        "Vented elsewhere, the fork's air starts {more:.3g} kPa {word} that outside (any charge apart): vent it "
        "where it is ridden.",
        more=abs(more), word=say("above") if more > 0 else say("below"),
    )
    return [Note("vented_elsewhere", "warning", text, more, "kPa")]


def air_notes() -> list[Note]:
    """Return what is always to be said about a fork's air.

    Raises nothing. Source: common practice, no source.

    >>> [note.code for note in air_notes()]
    ['outer_chamber_only', 'air_band']
    """
    return [
        Note(
            "outer_chamber_only",
            "info",
            say(
                "Only the air above the oil is counted. A twin-chamber or closed-cartridge fork has more: there "
                "only changes hold.",
            ),
        ),
        Note(
            "air_band",
            "info",
            say("A real hit lies between n = 1.1 and 1.3 (common practice); force and energy at the stop use 1.4."),
        ),
    ]


def rounded(value: Any) -> float:
    """Return `value` as a float of six significant figures; what a difference of equals leaves over is 0.

    `value` is a finite number in any unit, which is kept. Raises nothing. Source: none (bookkeeping).

    >>> rounded(1234.56789), rounded(6.4e-14)
    (1234.57, 0.0)
    """
    return 0.0 if abs(value) < NOTHING else float(f"{float(value):.{DIGITS}g}")
