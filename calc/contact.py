"""How the tyre keeps to the ground: one end of the bike as a quarter car on a random road.

The road is ISO 8608's: displacement density G_d(n) = G_d(n0) (n/n0)^-2 at n0 = 0.1 cycle/m, so that at a
steady speed its velocity is white noise and every mean square has a closed answer, that of a Lyapunov
equation.

Sources: [1] ISO 8608:1995 and :2016, road classes (geometric means, from memory). [2] D. Karnopp, "How
significant are transfer function relations and invariants for a quarter car suspension model?", Vehicle
System Dynamics 47 (2009), for the model (from memory).
"""

from __future__ import annotations

from collections.abc import Mapping
from math import erfc, pi, sqrt
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from calc.bands import Band
from calc.checks import Findings
from calc.damping import BANDS as DECAY_BANDS
from calc.damping import Swing, growth, swing
from calc.evaluate import rounded
from calc.gas import STANDARD_GRAVITY
from calc.refusal import Note
from calc.words import mark, say

#: Geometric mean of G_d(n0) in m³ by road class, n0 = 0.1 cycle/m [1].
ROAD_CLASSES = {"A": 16e-6, "B": 64e-6, "C": 256e-6, "D": 1024e-6, "E": 4096e-6}
REFERENCE_CYCLES_PER_M = 0.1
#: Below this share of its static load the tyre counts as near leaving the ground (our own choice, no source).
NEAR_THE_GROUND = 0.1
BANDS: MappingProxyType[str, Band] = MappingProxyType(
    {
        "sprung_kg": Band(mark("the sprung mass at this wheel, with the rider,"), "kg", 5, 400),
        "unsprung_kg": Band(mark("the unsprung mass at this wheel"), "kg", 1, 80),
        "tyre_rate_n_per_mm": Band(mark("the tyre's vertical rate"), "N/mm", 20, 1000),
        "speed_km_per_h": Band(mark("the speed"), "km/h", 1, 300),
        "wheel_rate_n_per_mm": Band(mark("the vertical wheel rate"), "N/mm", 0.5, 200),
        "damping_ratio": Band(mark("the damping ratio"), "", 0.01, 3),
    }
)
"""What is accepted (common practice, no source)."""


def quarter_car(
    *,
    sprung_kg: ArrayLike,
    unsprung_kg: ArrayLike,
    wheel_rate_n_per_m: ArrayLike,
    damping_n_s_per_m: ArrayLike,
    tyre_rate_n_per_m: ArrayLike,
    speed_m_per_s: ArrayLike,
    roughness_m3: ArrayLike,
) -> dict[str, NDArray[np.float64]]:
    """Return the rms response of a quarter car to a random road.

    All arguments broadcast: masses in kg, rates in N/m and damping in N·s/m at the wheel, speed in m/s,
    `roughness_m3` the road's G_d(n0) in m³. All must be positive; damping of zero has no stationary
    answer and raises numpy.linalg.LinAlgError. The answer holds arrays of the broadcast shape:
    `acceleration_m_per_s2` of the sprung mass, `travel_m` of the suspension and `tyre_load_n`, each an
    rms about its mean.

    Equations: states suspension deflection, sprung velocity, tyre deflection, unsprung velocity;
    A P + P Aᵀ + B W Bᵀ = 0 with W = (2π n0)² G_d(n0) v / 2, the two-sided intensity of the road's velocity.

    So `sprung_kg`, `unsprung_kg`, `wheel_rate_n_per_m`, `damping_n_s_per_m`, `tyre_rate_n_per_m` and `speed_m_per_s`
    are numbers or arrays in the units of their names. Raises numpy.linalg.LinAlgError without damping. Source: [1],
    [2].

    A stiffer tyre on the same road loads the ground more unevenly; four times the roughness doubles every rms.

    >>> bike = {"sprung_kg": 160, "unsprung_kg": 17, "wheel_rate_n_per_m": 18e3, "damping_n_s_per_m": 1200,
    ...         "tyre_rate_n_per_m": 150e3, "speed_m_per_s": 20}
    >>> smooth, rough = (quarter_car(roughness_m3=g, **bike)["tyre_load_n"] for g in (64e-6, 256e-6))
    >>> round(float(rough / smooth), 9)
    2.0
    """
    m_s, m_u, k, c, k_t, v, g = np.broadcast_arrays(
        *(
            np.asarray(value, dtype=float)
            for value in (
                sprung_kg,
                unsprung_kg,
                wheel_rate_n_per_m,
                damping_n_s_per_m,
                tyre_rate_n_per_m,
                speed_m_per_s,
                roughness_m3,
            )
        )
    )
    zero, one = np.zeros_like(m_s), np.ones_like(m_s)
    rows = [
        [zero, one, zero, -one],
        [-k / m_s, -c / m_s, zero, c / m_s],
        [zero, zero, zero, one],
        [k / m_u, c / m_u, -k_t / m_u, -c / m_u],
    ]
    a = np.stack([np.stack(row, axis=-1) for row in rows], axis=-2)
    intensity = (2 * pi * REFERENCE_CYCLES_PER_M) ** 2 * g * v / 2
    q = np.zeros_like(a)
    q[..., 2, 2] = intensity
    p = _lyapunov(a, q)
    acceleration = np.einsum("...i,...ij,...j->...", a[..., 1, :], p, a[..., 1, :])
    return {
        "acceleration_m_per_s2": np.sqrt(acceleration),
        "travel_m": np.sqrt(p[..., 0, 0]),
        "tyre_load_n": k_t * np.sqrt(p[..., 2, 2]),
    }


def _lyapunov(a: NDArray[np.float64], q: NDArray[np.float64]) -> NDArray[np.float64]:
    """Solve a p + p aᵀ + q = 0 for stacks of small matrices, as one linear system in the elements of p."""
    n = a.shape[-1]
    eye = np.eye(n)
    left = np.einsum("...ij,kl->...ikjl", a, eye) + np.einsum("ij,...kl->...ikjl", eye, a)
    shape = (*a.shape[:-2], n * n, n * n)
    p = np.linalg.solve(left.reshape(shape), -q.reshape(*a.shape[:-2], n * n, 1))
    return p.reshape(q.shape)


def contact(request: Mapping[str, Any]) -> dict[str, Any]:
    """Compare one end before and after a spring change, at the same damping and at the same damping ratio.

    `request`: `sprung_kg`, `unsprung_kg` (kg at that wheel, rider included), `tyre_rate_n_per_mm`,
    `speed_km_per_h`, `road_class` (A to E of ISO 8608), `before` = {`wheel_rate_n_per_mm`, `damping_ratio`, or in
    its place `decay`, the swing that `calc.damping.swing` takes}, `after` = {`wheel_rate_n_per_mm`}. Returns
    `before`, `after_same_damping` and `after_matched_damping`, each with `acceleration_m_per_s2`, `travel_mm`,
    `tyre_load_n` (rms), `tyre_load_share` (rms over static), `near_leaving_share` (share of time below a tenth of
    the static load, the load taken as normally distributed); `rebound_change_percent`, the damping that keeps the
    ratio: √(K₂/K₁) − 1; and `notes`. Six significant figures. Raises Refusal for an unknown road class and for
    every number outside its band.

    Damping is linear and the tyre always touches in the model: read the figures as a comparison, not as a
    forecast.

    Source: [1], [2]; √(K₂/K₁) keeps ζ = c/(2√(Km)), elementary calculus.

    >>> answer = contact({"sprung_kg": 160, "unsprung_kg": 17, "tyre_rate_n_per_mm": 150, "speed_km_per_h": 72,
    ...                   "road_class": "C", "before": {"wheel_rate_n_per_mm": 16, "damping_ratio": 0.35},
    ...                   "after": {"wheel_rate_n_per_mm": 25}})
    >>> answer["rebound_change_percent"]  # √(25/16) = 1.25
    25.0
    """
    _check(request)
    before_rate = request["before"]["wheel_rate_n_per_mm"] * 1e3
    after_rate = request["after"]["wheel_rate_n_per_mm"] * 1e3
    decay = request["before"].get("decay")
    swung = None if decay is None else swing(decay, request["sprung_kg"])
    ratio = request["before"]["damping_ratio"] if swung is None else swung.damping_ratio
    damping = 2 * ratio * sqrt(before_rate * request["sprung_kg"])
    more = growth(before_rate, after_rate)
    answer = quarter_car(
        sprung_kg=request["sprung_kg"],
        unsprung_kg=request["unsprung_kg"],
        wheel_rate_n_per_m=np.array([before_rate, after_rate, after_rate]),
        damping_n_s_per_m=damping * np.array([1.0, 1.0, more]),
        tyre_rate_n_per_m=request["tyre_rate_n_per_mm"] * 1e3,
        speed_m_per_s=request["speed_km_per_h"] / 3.6,
        roughness_m3=ROAD_CLASSES[request["road_class"]],
    )
    static = (request["sprung_kg"] + request["unsprung_kg"]) * STANDARD_GRAVITY
    states = ("before", "after_same_damping", "after_matched_damping")
    result: dict[str, Any] = {state: _ride(answer, index, static) for index, state in enumerate(states)}
    result["rebound_change_percent"] = rounded(100 * (more - 1))
    notes = _notes(result) + ([] if swung is None else [_swing_note(swung, request["before"]["wheel_rate_n_per_mm"])])
    result["notes"] = [note.as_dict() for note in notes]
    return result


def _check(request: Mapping[str, Any]) -> None:
    findings = Findings()
    for name in ("sprung_kg", "unsprung_kg", "tyre_rate_n_per_mm", "speed_km_per_h"):
        findings.number(request, name, "", BANDS[name])
    for state in ("before", "after"):
        findings.number(request[state], "wheel_rate_n_per_mm", state, BANDS["wheel_rate_n_per_mm"])
    _check_damping(findings, request["before"])
    road = request["road_class"]
    if road not in ROAD_CLASSES:
        text = say("Read road class {road!r:.40}; ISO 8608 roads here are A (smooth) to E (very rough).", road=road)
        findings.add("road_class", "unknown_road_class", text)
    findings.raise_any()


def _check_damping(findings: Findings, before: Mapping[str, Any]) -> None:
    """Note what is wrong with how the wheel before is damped: by its ratio, or by a swing that dies away."""
    decay = before.get("decay")
    if decay is None:
        findings.number(before, "damping_ratio", "before", BANDS["damping_ratio"])
        return
    if before.get("damping_ratio") is not None:
        text = say("Both a damping ratio and a swing that gives one were read: leave one of them out.")
        findings.add("before.damping_ratio", "given_twice", text, before["damping_ratio"], BANDS["damping_ratio"])
    for name, band in DECAY_BANDS.items():
        findings.number(decay, name, "before.decay", band)


def _swing_note(swung: Swing, stated_n_per_mm: float) -> Note:
    """Say what the swing makes of damping and rate, the stated rate beside it."""
    rate = swung.rate_n_per_m / 1000
    text = say(
        "The swing makes a damping ratio of {damping_ratio:.2g} and a wheel rate of {rate:.3g} N/mm; "
        "{stated_n_per_mm:.3g} N/mm was given. Friction and the tyre are in the swing, so it is a check, no more.",
        damping_ratio=swung.damping_ratio, rate=rate, stated_n_per_mm=stated_n_per_mm,
    )
    return Note("swing", "info", text, rounded(swung.damping_ratio))


def _notes(result: Mapping[str, Any]) -> list[Note]:
    """Word what the change does to the tyre's load and what the damper needs."""
    was, now = (result[state]["tyre_load_share"] for state in ("before", "after_matched_damping"))
    change = result["rebound_change_percent"]
    how = say("as before") if abs(now / was - 1) < 0.005 else say("better") if now < was else say("worse")
    text = say(
        "With damping to match, the tyre holds the ground {how}: its load varies by {now:.3g} % of the static "
        "load (rms), {was:.3g} % before.",
        how=how, now=100 * now, was=100 * was,
    )
    notes = [Note("tyre_load", "info", text, rounded(100 * now), "%")]
    if abs(change) >= 1:
        text = say(
            "The same damping ratio needs about {change:.0f} % {word} damping: a starting point for the clicker, "
            "no more.",
            change=abs(change), word=say("more") if change > 0 else say("less"),
        )
        notes.append(Note("rebound", "info", text, change, "%"))
    text = say("A linear model whose tyre always touches: compare the states, do not read them as a forecast.")
    notes.append(Note("comparison_only", "info", text))
    return notes


def _ride(answer: dict[str, NDArray[np.float64]], index: int, static_n: float) -> dict[str, float]:
    """Return the figures of one state, `static_n` being the tyre's static load."""
    spread = float(answer["tyre_load_n"][index])
    margin = (1 - NEAR_THE_GROUND) * static_n / spread
    return {
        "acceleration_m_per_s2": rounded(answer["acceleration_m_per_s2"][index]),
        "travel_mm": rounded(answer["travel_m"][index] * 1e3),
        "tyre_load_n": rounded(spread),
        "tyre_load_share": rounded(spread / static_n),
        "near_leaving_share": rounded(0.5 * erfc(margin / sqrt(2))),
    }
