"""Propagation of errors against the uncertainties library and the examples of JCGM 101."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import norm
from uncertainties import ufloat

from calc.loads import loads
from calc.origins import Input, draws
from calc.uncertainty import uncertainty
from tests.published.source import BALANCE, LIBRARY, source

G, LEVER = 9.80665, 2.5
REAR = {
    "wheel_travel_mm": 300,
    "unsprung_kg": 22,
    "load_static_kg": 57,
    "load_rider_kg": 112,
    "leverage": {"kind": "ratio", "wheel_per_shock": LEVER},
    "preload_mm": 7,
    "gas_force_n": 250,
    "spring": {"kind": "straight", "rate_n_per_mm": 52},
}
SMALL = {
    "load_static_kg": 0.4,
    "load_rider_kg": 0.5,
    "unsprung_kg": 0.2,
    "spring": 0.8,
    "preload_mm": 0.4,
    "leverage": 0.7,
    "gas_force_n": 6.0,
    "friction_static_mm": 0.3,
    "friction_rider_mm": 0.4,
}
OWN = {field: {"from": "measured", "u": u} for field, u in SMALL.items()}


def inputs():
    """Return every input as the library's number with its uncertainty."""
    stated = {**REAR, "spring": 0.0, "leverage": 0.0, "friction_static_mm": 0.0, "friction_rider_mm": 0.0}
    return {field: ufloat(stated[field], u, tag=field) for field, u in SMALL.items()}


def sag_of(x, state):
    """Return the sag by hand (mm): (load·g·L − gas)/k − p at the shock, times L; errors of rate and lever in %."""
    lever, rate = LEVER * (1 + x["leverage"] / 100), 52 * (1 + x["spring"] / 100)
    load = (x[f"load_{state}_kg"] - x["unsprung_kg"]) * G
    return ((load * lever - x["gas_force_n"]) / rate - x["preload_mm"]) * lever + x[f"friction_{state}_mm"]


@source("the uncertainties library, linear propagation of a sag written out by hand (JCGM 100)", LIBRARY)
def test_sags_are_as_sure_as_the_library_says():
    found = uncertainty({"rear": REAR, "sources": OWN})
    for key, state in (("static_sag_mm", "static"), ("rider_sag_mm", "rider")):
        by_hand = sag_of(inputs(), state)
        assert found[key]["value"] == pytest.approx(by_hand.nominal_value, rel=1e-5)
        # 2000 samples give a standard deviation to 1.6 %; three of these.
        assert found[key]["u"] == pytest.approx(by_hand.std_dev, rel=0.05)
        parts = {each.tag: part**2 for each, part in by_hand.error_components().items()}
        whole = sum(parts.values())
        for row in found["inputs"]:
            assert row["share"][key] == pytest.approx(parts.get(row["field"], 0.0) / whole, abs=2e-4), row["field"]


@source("the uncertainties library, linear propagation of rate and preload written out by hand", LIBRARY)
def test_the_needed_spring_is_as_sure_as_the_library_says():
    aims = {"target_static_sag_mm": [25, 35], "target_rider_sag_mm": [90, 100]}
    found = uncertainty({"rear": REAR, "sources": OWN, **aims})
    x = inputs()
    lever = LEVER * (1 + x["leverage"] / 100)
    forces = [
        (x[f"load_{state}_kg"] - x["unsprung_kg"]) * G * lever - x["gas_force_n"] for state in ("static", "rider")
    ]
    rate = (forces[1] - forces[0]) / (95 / lever - 30 / lever)
    preload = forces[0] / rate - 30 / lever
    for key, by_hand in (("rate_n_per_mm", rate), ("preload_mm", preload)):
        assert found[key]["value"] == pytest.approx(by_hand.nominal_value, rel=1e-4)
        assert found[key]["u"] == pytest.approx(by_hand.std_dev, rel=0.05)


@source("the uncertainties library, linear propagation of a load written out by hand", LIBRARY)
def test_a_load_read_from_a_sag_is_as_sure_as_the_library_says():
    bare = {key: value for key, value in REAR.items() if not key.startswith("load_")}
    found = loads({"rear": bare, "sources": OWN, "sags": {"rider_sag_mm": 80.0, "u_mm": 0.5}})
    x = inputs()
    lever, rate = LEVER * (1 + x["leverage"] / 100), 52 * (1 + x["spring"] / 100)
    read = ufloat(80.0, 0.5)
    load = (rate * (x["preload_mm"] + read / lever) + x["gas_force_n"]) / lever / G + x["unsprung_kg"]
    way = found["ways"]["sags"]
    assert way["rider_kg"] == pytest.approx(load.nominal_value, rel=1e-5)
    assert way["rider_u_kg"] == pytest.approx(load.std_dev, rel=2e-3)


@source("JCGM 101:2008, 9.2.2 and 9.2.3, tables 2 and 3: intervals ± 3.92 and ± 3.88, from memory")
@pytest.mark.parametrize(("origin", "half"), [("measured", 3.92), ("assumed", 3.88)])
def test_the_additive_model_of_jcgm_101(origin, half):
    """Four errors of standard deviation one, all normal or all rectangular; 10⁶ draws as there."""
    each = [Input(field, origin, 1.0, normal=origin == "measured") for field in list(SMALL)[:4]]
    total = sum(draws(each, 1_000_000, 101).values())
    low, high = np.percentile(total, [2.5, 97.5])
    assert [low, high] == pytest.approx([-half, half], abs=0.015)
    assert total.std() == pytest.approx(2.0, abs=0.005)


@source("a plain Monte Carlo of the sag written out by hand, with another generator (JCGM 101, 7)", BALANCE)
def test_intervals_are_those_of_a_plain_monte_carlo():
    found = uncertainty({"rear": REAR})  # all assumed: rectangular
    random = np.random.Generator(np.random.MT19937(7))
    u = {row["field"]: row["u"] for row in found["inputs"]}
    spread = {field: random.uniform(-1, 1, 200_000) * u[field] * 3**0.5 for field in u}
    lever = LEVER * (1 + spread["leverage"] / 100)
    load = (112 + spread["load_rider_kg"] - 22 - spread["unsprung_kg"]) * G * lever - np.maximum(
        250 + spread["gas_force_n"], 0
    )
    sag = (load / (52 * (1 + spread["spring"] / 100)) - 7 - spread["preload_mm"]) * lever + spread["friction_rider_mm"]
    low, high = np.percentile(sag, [2.5, 97.5])
    # The ends of 2000 samples wander by about √(0.025·0.975/2000)/density: some 2 % of the width.
    width = high - low
    assert found["rider_sag_mm"]["low"] == pytest.approx(low, abs=0.05 * width)
    assert found["rider_sag_mm"]["high"] == pytest.approx(high, abs=0.05 * width)
    assert found["rider_sag_mm"]["u"] == pytest.approx(sag.std(), rel=0.05)


@source("the normal distribution's own quantiles, SciPy", LIBRARY)
def test_one_normal_input_gives_the_normal_interval():
    alone = {field: {"from": "measured", "u": 0} for field in SMALL} | {"preload_mm": {"from": "measured", "u": 0.5}}
    found = uncertainty({"rear": REAR, "sources": alone})["rider_sag_mm"]
    half = norm.ppf(0.975) * 0.5 * LEVER
    assert (found["high"] - found["low"]) / 2 == pytest.approx(half, rel=0.06)
