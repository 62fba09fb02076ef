"""Needed and chosen springs against SciPy's root finder and plain counting."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import brentq, fsolve

from calc.choose import choose
from calc.evaluate import evaluate_front
from calc.needed import needed
from tests.published.source import BALANCE, LIBRARY, source
from tests.sample import REAR, fork

G = 9.80665
FRONT = fork(altitude_m=0)


def axial(front, x, rate, preload):
    """Return the force along an upright-written fork at stroke x (mm), both legs alike, N; the air by p V = const."""
    leg = front["legs"][0]
    seal, bore = np.pi / 4 * leg["seal_diameter_mm"] ** 2, np.pi / 4 * leg["bore_diameter_mm"] ** 2
    left = bore * leg["air_gap_mm"] - 1000 * leg["solids_cm3"] + seal * (front["stroke_mm"] - x)
    air = 0.101325 * seal * (seal * x / left)
    return 2 * (rate * (preload + x) + air)


@source("SciPy's fsolve on the two equilibria of a fork written anew", LIBRARY)
def test_the_needed_spring_is_the_one_that_fsolve_finds():
    front = {**FRONT, "target_static_sag_mm": 30, "target_rider_sag_mm": 75}
    found = needed({"front": front})["front"]
    cosine = np.cos(np.radians(FRONT["rake_deg"]))
    loads = [(FRONT[f"load_{state}_kg"] - FRONT["unsprung_kg"]) * G * cosine for state in ("static", "rider")]
    rate, preload = fsolve(
        lambda x: [axial(FRONT, sag, *x) - load for sag, load in zip((30, 75), loads, strict=True)], [4.0, 5.0]
    )
    assert found["rate_n_per_mm"] == pytest.approx(rate, rel=1e-5)
    assert found["preload_mm"] == pytest.approx(preload, rel=1e-4)


@source("a round trip: the needed spring, fitted, gives both sags back", BALANCE)
def test_the_needed_spring_gives_both_sags_back():
    front = {**FRONT, "target_static_sag_mm": 30, "target_rider_sag_mm": 75}
    found = needed({"front": front})["front"]
    spring = {"kind": "straight", "rate_n_per_mm": found["rate_n_per_mm"]}
    legs = [{**leg, "spring": spring, "preload_mm": found["preload_mm"]} for leg in FRONT["legs"]]
    answer = evaluate_front({**FRONT, "legs": legs})
    assert answer["static_sag_mm"] == pytest.approx(30, abs=1e-3)
    assert answer["rider_sag_mm"] == pytest.approx(75, abs=1e-3)


@source("SciPy's brentq on a rear of constant leverage written anew", LIBRARY)
def test_each_listed_spring_sits_where_brentq_says():
    rear = {**REAR, "leverage": {"kind": "ratio", "wheel_per_shock": 2.8}}
    listed = [{"id": k, "label": "", "spring": {"kind": "straight", "rate_n_per_mm": k}} for k in (44, 56, 68)]
    request = {"rear": rear, "target_static_sag_mm": [20, 35], "target_rider_sag_mm": [90, 100], "springs": listed}
    for row in choose(request)["ranked"]:
        rate = row["spring"]["rate_n_per_mm"]
        for state in ("static", "rider"):
            load = (REAR[f"load_{state}_kg"] - REAR["unsprung_kg"]) * G

            def excess(z, rate=rate, preload=row["preload_mm"], load=load):
                return (rate * (preload + z / 2.8) + REAR["gas_force_n"]) / 2.8 - load

            sag = 0.0 if excess(0) >= 0 else brentq(excess, 0, 300, xtol=1e-10)
            assert row[f"{state}_sag_mm"] == pytest.approx(sag, abs=1e-2)


@source("common practice, no source: rider sag right and static sag small is too soft, large too stiff", BALANCE)
@pytest.mark.parametrize(("rate", "verdict"), [(44, "too_soft"), (52, "suits"), (61, "too_stiff")])
def test_the_trades_rule_of_the_two_sags(rate, verdict):
    rear = {**REAR, "leverage": {"kind": "ratio", "wheel_per_shock": 2.5}, "gas_force_n": 0}
    spring = {"id": 1, "label": "", "spring": {"kind": "straight", "rate_n_per_mm": rate}}
    bands = {"target_static_sag_mm": [25, 35], "target_rider_sag_mm": [90, 100], "adjuster_mm": [-30, 60]}
    row = choose({"rear": rear, **bands, "springs": [spring]})["ranked"][0]
    assert row["verdict"] == verdict
