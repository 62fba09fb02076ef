"""The array solver against SciPy's brentq, one spring and one load at a time."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from calc.fork import fork_from
from calc.rear import rear_from
from calc.solve import settle
from calc.springs import batch, dual, progressive, straight
from tests.sample import LEG

FORK = fork_from({"stroke_mm": 300, "rake_deg": 26.5, "altitude_m": 0, "legs": [LEG, {**LEG, "spring": None}]})
SPRINGS = [
    straight(3000.0),
    straight(25_000.0),
    dual(500.0, 25_000.0, 0.06),
    dual(2500.0, 9000.0, 0.011),
    progressive(600.0, 20_000.0, 0.03),
    progressive(4000.0, 9000.0, 0.3),
]


def one_by_one(end, load):
    def excess(u):
        return float(end.force_and_slope(u)[0]) - load

    if excess(0.0) >= 0:
        return 0.0
    if excess(end.travel) <= 0:
        return end.travel
    return brentq(excess, 0, end.travel, xtol=1e-12)


@settings(deadline=None, max_examples=50)
@given(
    loads=st.lists(st.floats(1, 8000), min_size=1, max_size=5),
    preload=st.floats(-0.03, 0.15),
    topout=st.floats(0, 30),
)
def test_all_springs_and_loads_at_once_are_brentq_one_by_one(loads, preload, topout):
    front = {
        "stroke_mm": 300,
        "rake_deg": 26.5,
        "altitude_m": 0,
        "legs": [LEG, {**LEG, "spring": None}],
        "topout": {"rate_n_per_mm": 90, "length_mm": topout},
    }
    fork = fork_from(front)
    table = settle(fork.with_springs(batch(SPRINGS).columns(slice(None)), preload), np.array(loads))
    assert table.shape == (len(SPRINGS), len(loads))
    for row, spring in zip(table, SPRINGS, strict=True):
        for place, load in zip(row, loads, strict=True):
            assert place == pytest.approx(one_by_one(fork.with_springs(spring, preload), load), abs=1e-8)


@settings(deadline=None)
@given(load=st.floats(1, 3000), guess=st.floats(0, 0.3))
def test_the_first_guess_does_not_matter(load, guess):
    fork = FORK.with_springs(SPRINGS[2], 0.0)
    assert float(settle(fork, load, start=np.array(guess))) == pytest.approx(one_by_one(fork, load), abs=1e-8)


def test_a_load_beyond_the_stroke_is_held_at_its_ends():
    assert settle(FORK, np.array([0.0, 1.0, 1e6])).tolist() == [0.0, 0.0, 0.3]


def test_where_the_force_falls_the_first_place_is_found():
    """A force that rises to a hump and falls off again carries some loads in two places."""
    rear = rear_from(
        {
            "wheel_travel_mm": 300,
            "leverage": {
                "kind": "table",
                "wheel_mm": [0, 60, 120, 180, 240, 300],
                "shock_mm": [0, 40, 75, 95, 103, 107],
            },
            "spring": {"kind": "straight", "rate_n_per_mm": 52},
            "preload_mm": 10,
        }
    )
    z = np.linspace(0, 0.3, 30001)
    force = rear.force_and_slope(z)[0]
    loads = np.linspace(float(force[0]) + 1, float(force.max()) - 1, 40)
    first = [z[np.argmax(force >= load)] for load in loads]
    assert settle(rear, loads) == pytest.approx(first, abs=1.1e-5)
    assert float(settle(rear, float(force.max()) + 1)) == 0.3


def test_a_force_that_hardly_rises_carries_nothing_and_overflows_nothing():
    """Newton's step over a slope of 1e-306 N/m is past what a float holds."""
    hardly = straight(1e-306)
    end = fork_from({"stroke_mm": 300, "rake_deg": 0, "legs": [{**LEG, "air_gap_mm": 400}]}).with_springs(hardly, 0.0)
    nearly_no_air = replace(end, legs=tuple(replace(leg, air=replace(leg.air, area=0.0)) for leg in end.legs))
    assert float(settle(nearly_no_air, 1000.0)) == 0.3
