"""The fork's own parts: end volume, venting at altitude, unequal legs, rake, work along the stroke."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from calc.fork import air_from, fork_from

LEG = {
    "spring": {"kind": "straight", "rate_n_per_mm": 4.6},
    "preload_mm": 10,
    "seal_diameter_mm": 48,
    "bore_diameter_mm": 42,
    "air_gap_mm": 110,
    "solids_cm3": 70,
    "pressure_kpa": 0,
}
FRONT = {"stroke_mm": 300, "rake_deg": 26.5, "altitude_m": 0, "legs": [LEG, dict(LEG)]}


def test_end_volume_takes_off_all_the_solids():
    air = air_from(LEG, 0.3, 101325.0)
    end = math.pi / 4 * 4.2**2 * 11 - 70
    assert (air.volume - air.area * 0.3) * 1e6 == pytest.approx(end)


@pytest.mark.parametrize(("altitude", "pressure"), [(0, 101325), (2000, 79495.2)])
def test_a_fork_vented_high_up_holds_thinner_air(altitude, pressure):
    """Pressures from the table of ISO 2533."""
    fork = fork_from({**FRONT, "altitude_m": altitude})
    area = math.pi / 4 * 0.048**2
    squeeze = 1 / (1 - area * 0.15 / (area * 0.3 + (math.pi / 4 * 0.042**2 * 0.11 - 70e-6)))
    assert float(fork.air_axial(0.15)[0]) == pytest.approx(2 * pressure * (squeeze - 1) * area, rel=1e-5)


def test_pressure_counts_above_the_atmosphere():
    fork = fork_from({**FRONT, "legs": [{**LEG, "pressure_kpa": 50}, LEG]})
    assert float(fork.air_axial(0.0)[0]) == pytest.approx(50_000 * math.pi / 4 * 0.048**2)


def test_an_empty_leg_still_holds_air_but_no_spring():
    empty = {**LEG, "spring": None}
    one = fork_from({**FRONT, "legs": [LEG, empty]})
    both = fork_from(FRONT)
    assert one.air_axial(0.2)[0] == pytest.approx(both.air_axial(0.2)[0])
    assert one.springs_axial(0.2)[0] == pytest.approx(both.springs_axial(0.2)[0] / 2)
    assert (one.carriers, both.carriers) == (1, 2)


def test_rake_divides_once_for_force_and_twice_for_rate():
    fork = fork_from(FRONT)
    force, slope = fork.force_and_slope(0.1)
    upright, upright_slope = fork_from({**FRONT, "rake_deg": 0}).force_and_slope(0.1)
    cos = math.cos(math.radians(26.5))
    assert float(force) == pytest.approx(float(upright) / cos)
    assert float(slope) / fork.steepness == pytest.approx(float(upright_slope) / cos**2)


@settings(deadline=None)
@given(x=st.floats(0, 0.3), n=st.sampled_from([1.0, 1.4]), preload=st.floats(-30, 60))
def test_work_is_the_wheel_force_over_the_vertical_way(x, n, preload):
    fork = fork_from({**FRONT, "legs": [{**LEG, "preload_mm": preload}, {**LEG, "air_gap_mm": 140}]})
    kink = -preload / 1000
    points = [kink] if 0 < kink < x else None
    along = quad(lambda s: float(fork.force_and_slope(s, n)[0]) * fork.steepness, 0, x, points=points)[0]
    assert float(fork.work(x, n)) == pytest.approx(along, rel=1e-8, abs=1e-7)


def test_the_share_left_to_a_spring_closes_the_balance():
    fork = fork_from({**FRONT, "legs": [LEG, {**LEG, "spring": None}], "bump": {"rate_n_per_mm": 60, "length_mm": 120}})
    for x in (0.05, 0.2, 0.28):
        load = float(fork.force_and_slope(x)[0])
        assert float(fork.spring_share(x, load)) == pytest.approx(4600 * (0.01 + x))


def test_softening_and_winding_up_touch_springs_only():
    fork = fork_from({**FRONT, "legs": [LEG, {**LEG, "spring": None}]})
    changed = fork.softened(0.8).wound_up(0.02)
    assert float(changed.springs_axial(0.1)[0]) == pytest.approx(0.8 * 4600 * 0.13)
    assert changed.air_axial(0.1)[0] == fork.air_axial(0.1)[0]


def test_less_air_is_taken_from_sprung_legs_only():
    fork = fork_from({**FRONT, "legs": [LEG, {**LEG, "spring": None}]})
    less = fork.with_less_air(np.array([0.0, 1e-5]))
    whole = [float(leg.air.force_and_rate(0.2)[0]) for leg in fork.legs]
    got = less.air_axial(0.2)[0]
    assert got[0] == pytest.approx(sum(whole))
    assert got[1] > got[0]
    assert fork.least_end_volume() == pytest.approx((math.pi / 4 * 4.2**2 * 11 - 70) * 1e-6)
