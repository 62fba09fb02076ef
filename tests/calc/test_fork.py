"""The fork's own parts: end volume, venting at altitude, unequal legs, rake, work along the stroke."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from calc.checks import check_bike
from calc.evaluate import evaluate_front
from calc.fork import Venting, air_from, bore_mm, fork_from
from calc.refusal import Refusal
from tests.sample import LEG, fork

FRONT = fork(altitude_m=0)


def test_end_volume_takes_off_all_the_solids():
    air = air_from(LEG, 0.3, Venting(101325.0, 101325.0))
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


LOADS = {"unsprung_kg": 16, "load_static_kg": 58, "load_rider_kg": 88}


def test_a_pour_stands_for_the_bore_that_it_measures():
    area_cm2 = math.pi / 4 * 4.2**2
    pour = {"cm3": 25, "rise_mm": 250 / area_cm2}
    poured = {key: value for key, value in LEG.items() if key != "bore_diameter_mm"} | {"pour": pour}
    assert bore_mm(poured) == pytest.approx(42)
    one, other = (evaluate_front({**FRONT, **LOADS, "legs": [leg] * 2}) for leg in (LEG, poured))
    for name in ("static_sag_mm", "rider_sag_mm", "full_stroke_n", "energy_to_stop_j"):
        assert one[name] == pytest.approx(other[name], rel=1e-5)
    assert "pour_and_bore_differ" not in {note["code"] for note in other["notes"]}


def test_with_both_the_pour_counts_and_a_disagreement_is_said():
    leg = {**LEG, "pour": {"cm3": 28, "rise_mm": 20}}  # 14 cm², a bore of 42.2 mm
    close, far = (evaluate_front({**FRONT, **LOADS, "legs": [{**leg, "bore_diameter_mm": bore}]}) for bore in (42, 50))
    assert close["full_stroke_n"] == far["full_stroke_n"]
    assert "pour_and_bore_differ" not in {note["code"] for note in close["notes"]}
    assert "pour_and_bore_differ" in {note["code"] for note in far["notes"]}


def test_a_fork_vented_high_and_ridden_low_is_pulled_in_by_the_air_outside():
    """ISO 2533: 79495.2 Pa at 2000 m, 101325 Pa at 0 m; the leg keeps what it held."""
    fork = fork_from({**FRONT, "vented_altitude_m": 2000})
    area = math.pi / 4 * 0.048**2
    assert float(fork.air_axial(0.0)[0]) == pytest.approx(2 * (79495.2 - 101325) * area, rel=1e-5)
    note = next(
        note
        for note in evaluate_front({**FRONT, **LOADS, "vented_altitude_m": 2000})["notes"]
        if note["code"] == "vented_elsewhere"
    )
    assert note["value"] == pytest.approx((79495.2 - 101325) / 1000, rel=1e-5)
    assert "below" in note["text"]


def test_a_charge_is_counted_from_the_air_where_it_was_put_in():
    fork = fork_from({**FRONT, "vented_altitude_m": 2000, "legs": [{**LEG, "pressure_kpa": 50}] * 2})
    area = math.pi / 4 * 0.048**2
    assert float(fork.air_axial(0.0)[0]) == pytest.approx(2 * (79495.2 + 50_000 - 101325) * area, rel=1e-5)


def test_the_same_place_stated_twice_changes_nothing():
    same = {"altitude_m": 900, "vented_altitude_m": 900, "vented_temperature_c": 15, "temperature_c": 15}
    one, other = (evaluate_front({**FRONT, **LOADS, "altitude_m": 900, **more}) for more in ({}, same))
    assert one == other


@pytest.mark.parametrize(
    ("change", "field", "code", "words"),
    [
        ({"vented_temperature_c": 20}, "front.temperature_c", "missing", "Give both temperatures"),
        (
            {"vented_temperature_c": 20, "temperature_c": 104},
            "front.temperature_c",
            "out_of_band",
            "Fahrenheit (104 °F is 40 °C)",
        ),
        ({"vented_altitude_m": 9000}, "front.vented_altitude_m", "out_of_band", "9000 ft is 2743 m"),
        ({"legs": [{**LEG, "pour": {"cm3": 28}}]}, "front.legs.0.pour.rise_mm", "missing", "rise of the oil"),
        (
            {"legs": [{**LEG, "pour": {"cm3": 500, "rise_mm": 10}}]},
            "front.legs.0.pour",
            "out_of_band",
            "make a bore of 252.3 mm",
        ),
        ({"legs": [{**LEG, "bore_diameter_mm": None}]}, "front.legs.0.bore_diameter_mm", "missing", "bore diameter"),
        (
            {"legs": [{**LEG, "pour": {"cm3": 6, "rise_mm": 10}}]},
            "front.legs.0.air_gap_mm",
            "no_end_volume",
            "no air would be left",
        ),
    ],
)
def test_a_pour_or_venting_that_cannot_be_is_refused_by_name(change, field, code, words):
    with pytest.raises(Refusal) as caught:
        check_bike({"front": {**FRONT, **LOADS, **change}})
    found = {problem.field: problem for problem in caught.value.problems}
    assert found[field].code == code
    assert words in found[field].text
