"""Every figure of `evaluate` on random bikes against the second solver in oracle.py."""

import numpy as np
import pytest

from calc.evaluate import evaluate
from tests.calc.oracle import solve

BIKES = 90
FIGURES = (
    "static_sag_mm",
    "rider_sag_mm",
    "breakaway_n",
    "wheel_rate_n_per_mm",
    "frequency_hz",
    "full_stroke_n",
    "energy_to_stop_j",
    "fall_to_stop_mm",
    "solid_clearance_mm",
)
FLOOR = {
    "wheel_rate_n_per_mm": 0.002,
    "frequency_hz": 0.001,
}  # figures too small for the 0.1 that suits mm and N
AT_A_KINK = ("wheel_rate_n_per_mm", "frequency_hz")  # not one number where the slope jumps


def maybe(rng, chance):
    return bool(rng.random() < chance)


def number(rng, low, high):
    return float(round(rng.uniform(low, high), 3))


def a_spring(rng, low, high, reach_mm):
    """A spring around one rate, of any kind; `reach_mm` is the deflection at full stroke."""
    rate = number(rng, low, high)
    kind = str(rng.choice(["straight", "dual", "progressive", "wound"]))
    if kind == "straight":
        spring = {"kind": kind, "rate_n_per_mm": rate}
    elif kind == "wound":
        return a_winding(rng, rate, reach_mm)
    elif kind == "dual":
        spring = {"kind": kind, "soft_n_per_mm": round(rate * 0.7, 3), "hard_n_per_mm": rate}
        spring["change_mm"] = number(rng, 0.2 * reach_mm, 1.1 * reach_mm)
    else:
        spring = {"kind": kind, "start_n_per_mm": round(rate * 0.75, 3), "end_n_per_mm": rate}
        spring["over_mm"] = number(rng, 0.4 * reach_mm, 1.2 * reach_mm)
    if maybe(rng, 0.5):
        spring["solid_deflection_mm"] = round(reach_mm + number(rng, 1, 30), 3)
    return spring


def a_winding(rng, rate, reach_mm):
    """A spring turn by turn, some turns closer than the others, all its gaps together past full stroke."""
    count, wire = int(rng.integers(8, 25)), number(rng, 4, 5) if rate < 15 else number(rng, 9, 12)
    across = round((79_000 * wire**4 / (8 * rate * count)) ** (1 / 3), 3)
    parts = rng.uniform(0.5, 1.5, 3)[np.arange(count) % 3]
    gaps = np.round(parts / parts.sum() * (reach_mm * 1.05 + 5), 3) + 0.001
    spring_turns = [{"wire_mm": wire, "mean_diameter_mm": across, "gap_mm": float(round(gap, 3))} for gap in gaps]
    return {"kind": "wound", "shear_modulus_gpa": 79.0, "turns": spring_turns}


def stops(rng, stroke_mm, rate):
    found = {}
    if maybe(rng, 0.3):
        found["topout"] = {
            "rate_n_per_mm": round(rate * 0.5, 3),
            "length_mm": number(rng, 5, 0.15 * stroke_mm),
        }
    if maybe(rng, 0.4):
        found["bump"] = {"rate_n_per_mm": round(rate * 5, 3), "length_mm": number(rng, 5, 0.2 * stroke_mm)}
    return found


def loads(rng, unsprung, alone, extreme):
    """Axle loads; `extreme` makes a bike that tops out or a load that reaches the stop."""
    static = unsprung + alone
    rider = static + number(rng, 15, 60)
    if extreme == "light":
        static, rider = unsprung + 0.5, unsprung + 1.5
    if extreme == "heavy":
        rider = 399.0
    return {"unsprung_kg": unsprung, "load_static_kg": round(static, 3), "load_rider_kg": round(rider, 3)}


def a_leg(rng, stroke_mm):
    preload = number(rng, -5, 25)
    seal = number(rng, 35, 50)
    bore = round(seal - number(rng, 3, 7), 3)
    gap = number(rng, 90, 200)
    room_cm3 = np.pi / 4 * bore**2 * gap / 1000
    return {
        "spring": a_spring(rng, 3.2, 9.5, stroke_mm + preload),
        "preload_mm": preload,
        "seal_diameter_mm": seal,
        "bore_diameter_mm": bore,
        "air_gap_mm": gap,
        "solids_cm3": round(room_cm3 * rng.uniform(0.0, 0.55), 3),
        "pressure_kpa": number(rng, 10, 80) if maybe(rng, 0.25) else 0.0,
    }


def a_front(rng, index):
    stroke = number(rng, 110, 310)
    legs = [a_leg(rng, stroke)]
    if maybe(rng, 0.5):
        legs.append({**legs[0]})
    else:
        legs.append(a_leg(rng, stroke))
        if maybe(rng, 0.5):
            legs[1]["spring"] = None
    front = {"stroke_mm": stroke, "rake_deg": number(rng, 20, 32), "legs": legs}
    if maybe(rng, 0.5):
        front["altitude_m"] = number(rng, -400, 4000)
    extreme = {7: "light", 8: "heavy"}.get(index % 9)
    return {
        **front,
        **loads(rng, number(rng, 12, 22), number(rng, 35, 75), extreme),
        **stops(rng, stroke, 8.0),
    }


def a_leverage(rng, travel_mm):
    ratio = number(rng, 1.9, 3.2)
    if maybe(rng, 0.4):
        return {"kind": "ratio", "wheel_per_shock": ratio}, travel_mm / ratio
    wheel = np.round(np.linspace(0, travel_mm * rng.uniform(1.0, 1.05) + 0.001, int(rng.integers(4, 10))), 3)
    rise = rng.uniform(-0.1, 0.35)
    shock = np.round(wheel / ratio * (1 - rise / 2 + rise / 2 * wheel / wheel[-1]), 3)
    table = {"kind": "table", "wheel_mm": wheel.tolist(), "shock_mm": shock.tolist()}
    return table, float(shock[-1])


def a_rear(rng, index):
    travel = number(rng, 90, 320)
    leverage, stroke = a_leverage(rng, travel)
    preload = number(rng, -2, 18)
    shocks = int(rng.integers(1, 3))
    ratio = travel / stroke
    rate = 4.5 * ratio**2 * 200 / travel / shocks
    rear = {
        "wheel_travel_mm": travel,
        "shocks": shocks,
        "leverage": leverage,
        "spring": a_spring(rng, max(7, rate), max(9, 2.2 * rate), stroke + preload),
        "preload_mm": preload,
        "gas_force_n": number(rng, 0, 350),
    }
    extreme = {6: "light", 5: "heavy"}.get(index % 9)
    return {
        **rear,
        **loads(rng, number(rng, 14, 28), number(rng, 30, 80), extreme),
        **stops(rng, stroke, rate),
    }


def close(figure, ours, theirs):
    if ours is None or theirs is None:
        return ours is theirs
    return abs(ours - theirs) <= max(FLOOR.get(figure, 0.1), 0.005 * abs(theirs))


@pytest.mark.parametrize("name", ["front", "rear"])
@pytest.mark.parametrize("seed", range(BIKES))
def test_every_figure_agrees(name, seed):
    rng = np.random.default_rng([seed, len(name)])
    request = a_front(rng, seed) if name == "front" else a_rear(rng, seed)
    ours = evaluate({name: request})[name]
    theirs = solve(name, request)
    for figure in FIGURES:
        if figure in AT_A_KINK and theirs["near_a_kink"]:
            continue
        assert close(figure, ours[figure], theirs[figure]), (figure, ours[figure], theirs[figure], request)


@pytest.mark.parametrize("name", ["front", "rear"])
@pytest.mark.parametrize("seed", range(0, BIKES, 5))
def test_the_curve_agrees(name, seed):
    rng = np.random.default_rng([seed, len(name)])
    request = a_front(rng, seed) if name == "front" else a_rear(rng, seed)
    curve = evaluate({name: request})[name]["curve"]
    end = solve(name, request)["end"]
    assert curve["travel_mm"][0] == 0
    assert curve["travel_mm"][-1] == pytest.approx(end.full * 1000, rel=1e-5)
    for index, travel in enumerate(curve["travel_mm"]):
        x = min(travel / 1000, end.full)
        spring = end.springs(x)
        for key, expected in (
            ("spring_n", spring),
            ("air_n", end.air(x, 1.0)),
            ("total_n", spring + end.air(x, 1.0)),
            ("air_hard_n", end.air(x, 1.4)),
            ("total_hard_n", spring + end.air(x, 1.4)),
        ):
            assert curve[key][index] == pytest.approx(expected, rel=1e-3, abs=0.2), (key, travel)


def test_the_bikes_cover_what_they_should():
    fronts = [a_front(np.random.default_rng([seed, 5]), seed) for seed in range(BIKES)]
    rears = [a_rear(np.random.default_rng([seed, 4]), seed) for seed in range(BIKES)]
    kinds = {leg["spring"]["kind"] for front in fronts for leg in front["legs"] if leg["spring"]}
    assert kinds == {rear["spring"]["kind"] for rear in rears} == {"straight", "dual", "progressive", "wound"}
    assert any(front["legs"][1]["spring"] is None for front in fronts)
    assert any(front["legs"][0] != front["legs"][1] for front in fronts)
    assert any(leg["pressure_kpa"] for front in fronts for leg in front["legs"])
    assert any("altitude_m" in front for front in fronts)
    assert {rear["shocks"] for rear in rears} == {1, 2}
    assert {rear["leverage"]["kind"] for rear in rears} == {"ratio", "table"}
    solved = [solve("front", front) for front in fronts[:18]] + [solve("rear", rear) for rear in rears[:18]]
    assert any(each["static_sag_mm"] == 0 for each in solved)
    assert any(each["rider_sag_mm"] >= each["end"].full * 1000 - 1e-6 for each in solved)
    for stop in ("topout", "bump"):
        assert any(stop in end for end in fronts)
        assert any(stop in end for end in rears)
