"""The rear's wheel force, wheel rate with its second term, and work, against SciPy."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq

from calc.rear import rear_from
from tests import sample
from tests.sample import without

WHEEL, SHOCK = sample.TABLE["wheel_mm"], sample.TABLE["shock_mm"]
REAR = without(sample.REAR, "unsprung_kg", *sample.LOADS)


@settings(deadline=None)
@given(z=st.floats(0.001, 0.299))
def test_wheel_rate_is_k_r_squared_plus_force_times_dr_dz(z):
    curve = PchipInterpolator(np.array(WHEEL) / 1000, np.array(SHOCK) / 1000)
    s, r, change = (float(curve(z, order)) for order in range(3))
    shock = 52_000 * (0.007 + s) + 250
    force, rate = rear_from(REAR).force_and_slope(z)
    assert float(force) == pytest.approx(shock * r, rel=1e-9)
    assert float(rate) == pytest.approx(52_000 * r**2 + shock * change, rel=1e-7)


def test_the_second_term_is_not_small():
    end = rear_from(REAR)
    _, r, _ = end.leverage.motion(0.15)
    assert float(end.force_and_slope(0.15)[1]) > 1.05 * 52_000 * float(r) ** 2


@settings(deadline=None, max_examples=40)
@given(z=st.floats(0, 0.3), topout=st.floats(0, 20), bump=st.floats(0, 30))
def test_work_is_the_wheel_force_over_the_travel(z, topout, bump):
    end = rear_from(
        {
            **REAR,
            "topout": {"rate_n_per_mm": 40, "length_mm": topout},
            "bump": {"rate_n_per_mm": 90, "length_mm": bump},
        }
    )
    places = [
        brentq(lambda at, s=s: float(end.spring_stroke(at)) - s, 0, 0.3) for s in (topout / 1e3, 0.107 - bump / 1e3)
    ]
    kinks = sorted(k for k in {*places, *(w / 1000 for w in WHEEL)} if 0 < k < z)
    work = quad(lambda at: float(end.force_and_slope(at)[0]), 0, z, points=kinks or None, limit=100)[0]
    assert float(end.work(z)) == pytest.approx(work, rel=1e-7, abs=1e-6)


def test_twin_shocks_carry_twice_as_much():
    one, two = rear_from(REAR), rear_from({**REAR, "shocks": 2})
    for got, single in zip(two.force_and_slope(0.1), one.force_and_slope(0.1), strict=True):
        assert float(got) == pytest.approx(2 * float(single))
    assert float(two.work(0.1)) == pytest.approx(2 * float(one.work(0.1)))
    assert [float(2 * part) for part in one.parts(0.1)] == pytest.approx([float(part) for part in two.parts(0.1)])


def test_spring_and_gas_are_told_apart_and_add_up():
    end = rear_from(REAR)
    spring, gas = end.parts(0.1)
    _, r, _ = end.leverage.motion(0.1)
    assert float(gas) == pytest.approx(250 * float(r))
    assert float(spring + gas) == pytest.approx(float(end.force_and_slope(0.1)[0]))


def test_the_share_left_to_a_spring_closes_the_balance():
    end = rear_from({**REAR, "shocks": 2, "topout": {"rate_n_per_mm": 40, "length_mm": 20}})
    for z in (0.02, 0.15, 0.29):
        load = float(end.force_and_slope(z)[0])
        expected = 52_000 * (0.007 + float(end.spring_stroke(z)))
        assert float(end.spring_share(z, load)) == pytest.approx(expected)


def test_a_leverage_that_falls_off_is_seen():
    falling = {"kind": "table", "wheel_mm": WHEEL, "shock_mm": [0, 40, 75, 95, 103, 107]}
    assert rear_from(REAR).rises()
    assert not rear_from({**REAR, "leverage": falling}).rises()


def test_clearance_counts_preload_and_full_shock_stroke():
    end = rear_from({**REAR, "spring": {**REAR["spring"], "solid_deflection_mm": 130}})
    assert float(end.clearance()) == pytest.approx(0.130 - 0.007 - 0.107)
    assert np.isnan(rear_from(REAR).clearance())
