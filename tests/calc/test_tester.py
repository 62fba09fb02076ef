"""Tester readings: SciPy's fits as oracle, the kind recovered from noisy readings, and what is refused."""

from __future__ import annotations

import doctest

import numpy as np
import pytest
from scipy.optimize import curve_fit

import calc.tester as testers
from calc.checks import check_bike
from calc.evaluate import evaluate_front
from calc.refusal import Refusal
from calc.springs import spring_from

LEG = {"preload_mm": 5, "seal_diameter_mm": 48, "bore_diameter_mm": 42, "air_gap_mm": 110, "solids_cm3": 70}
FRONT = {"stroke_mm": 90, "rake_deg": 26, "unsprung_kg": 16, "load_static_kg": 48, "load_rider_kg": 68}
X = np.arange(5.0, 101.0, 5.0)


def readings(force, seed=1, scatter=1.0):
    noisy = force + np.random.default_rng(seed).normal(0, scatter, force.size)
    return {"deflection_mm": X.tolist(), "force_n": np.round(noisy, 1).tolist(), "force_resolution_n": 0.1}


def dual(x, soft, hard, change):
    return soft * np.minimum(x, change) + hard * np.maximum(x - change, 0)


CURVES = {
    "straight": 4.6 * X,
    "progressive": 3.8 * X + 1.6 * X**2 / 200,
    "dual": dual(X, 3.9, 5.4, 46.0),
}


@pytest.mark.parametrize("kind", CURVES)
@pytest.mark.parametrize("seed", range(5))
def test_the_kind_is_recovered_from_noisy_readings(kind, seed):
    assert testers.tester(readings(CURVES[kind], seed))["kind"] == kind


def test_rate_and_uncertainty_are_scipys():
    request = readings(CURVES["straight"], scatter=3.0)
    answer = testers.tester(request)
    (rate,), covariance = curve_fit(lambda x, k: k * x, X, request["force_n"], p0=[4.0])
    assert answer["rate_n_per_mm"] == pytest.approx(rate)
    assert answer["rate_u_n_per_mm"] == pytest.approx(np.sqrt(covariance[0, 0]), rel=1e-3)


def test_the_dual_fit_is_scipys():
    request = readings(CURVES["dual"], scatter=2.0)
    answer = testers.tester(request)
    found, _ = curve_fit(dual, X, request["force_n"], p0=[4, 5, 50])
    assert answer["spring"]["soft_n_per_mm"] == pytest.approx(found[0], rel=2e-3)
    assert answer["spring"]["hard_n_per_mm"] == pytest.approx(found[1], rel=2e-3)
    assert answer["spring"]["change_mm"] == pytest.approx(found[2], abs=0.5)


def test_the_uncertainty_covers_the_truth_as_often_as_it_should():
    inside = 0
    for seed in range(200):
        answer = testers.tester(readings(CURVES["straight"], seed, scatter=4.0))
        inside += abs(answer["rate_n_per_mm"] - 4.6) < 2 * answer["rate_u_n_per_mm"]
    assert 178 <= inside <= 199  # 95 % of 200, four binomial standard deviations either way


@pytest.mark.parametrize(("rate", "within"), [(4.82, True), (4.84, False), (4.38, True), (4.36, False)])
def test_the_stamp_is_held_against_five_percent(rate, within):
    answer = testers.tester(readings(rate * X, scatter=0.0) | {"stamped_n_per_mm": 4.6})
    assert answer["stamp_within_usual"] is within
    assert answer["stamp_difference_percent"] == pytest.approx(100 * (rate / 4.6 - 1), abs=0.01)


@pytest.mark.parametrize(
    ("deflection", "force", "field", "words"),
    [
        ([10, 20], [46, 92], "deflection_mm", "2 readings; three or more"),
        ([10, 20, 30], [46, 92], "force_n", "3 deflections and 2 forces"),
        ([10, 30, 20], [46, 92, 139], "deflection_mm.2", "Reading 3 is 20 mm"),
        ([10, 20, 30], [46, 139, 92], "force_n.2", "Reading 3 is 92 N"),
        ([0, 20, 30], [0, 92, 139], "deflection_mm.0", "Reading 1 is 0 mm"),
        ([10, 10.001, 30], [46, 92, 139], "deflection_mm.1", "Reading 2 is 10.001 mm"),
        ([10, 20, 700], [46, 92, 139], "deflection_mm.2", "700 mm for a deflection read on the tester"),
        ([10, 20, 30], [46, 92, 3e5], "force_n.2", "300000 N for a force read"),
        ([1 + i for i in range(201)], [46 + i for i in range(201)], "deflection_mm", "200 at most"),
    ],
)
def test_refusals(deflection, force, field, words):
    with pytest.raises(Refusal) as caught:
        testers.tester({"deflection_mm": deflection, "force_n": force})
    assert caught.value.problems[0].field == field
    assert words in caught.value.problems[0].text


def test_a_stamp_that_is_off_is_said_and_a_good_one_is_not():
    wrong = testers.tester(readings(5.0 * X, scatter=0.0) | {"stamped_n_per_mm": 4.6})
    assert "5 N/mm, 8.7 % above the stamp of 4.6" in next(n["text"] for n in wrong["notes"] if n["code"] == "stamp_off")
    right = testers.tester(readings(4.7 * X, scatter=0.0) | {"stamped_n_per_mm": 4.6})
    assert "stamp_off" not in {note["code"] for note in right["notes"]}


@pytest.mark.parametrize("kind", CURVES)
def test_a_tested_spring_is_its_fitted_curve(kind):
    request = readings(CURVES[kind])
    fitted = spring_from(testers.tester(request)["spring"])
    tested = spring_from({"kind": "tested", **request, "solid_deflection_mm": 120})
    at = np.linspace(0, 0.15, 40)
    assert tested.force_at(at) == pytest.approx(fitted.force_at(at), rel=1e-12)
    assert float(tested.solid) == pytest.approx(0.12)
    assert tested.force_at(X / 1000) == pytest.approx(CURVES[kind], abs=4)  # readings scattered by 1 N


def test_a_tested_spring_acts_in_a_fork_as_the_straight_one_it_is():
    spring = {"kind": "tested", "deflection_mm": [20, 60, 100], "force_n": [92, 276, 460]}
    straight = {"kind": "straight", "rate_n_per_mm": 4.6}
    answers = [evaluate_front({**FRONT, "legs": [{**LEG, "spring": each}] * 2}) for each in (spring, straight)]
    notes = [{note["code"] for note in answer["notes"]} for answer in answers]
    assert "tested_short" not in notes[0] | notes[1]
    past = evaluate_front({**FRONT, "stroke_mm": 96, "legs": [{**LEG, "spring": spring}] * 2})
    note = next(note for note in past["notes"] if note["code"] == "tested_short")
    assert (note["value"], "tested to 100 mm but is compressed 101 mm" in note["text"]) == (101, True)
    assert answers[0]["rider_sag_mm"] == pytest.approx(answers[1]["rider_sag_mm"], rel=1e-5)


@pytest.mark.parametrize(
    ("change", "field", "words"),
    [
        ({"force_n": [92, 276, 200]}, "force_n.2", "Reading 3 is 200 N"),
        ({"force_n": [920, 2760, 4600]}, "force_n", "46 N/mm for the rate of a fork leg's spring is outside"),
        ({"force_n": "92"}, "force_n", "as a list"),
        ({"deflection_mm": [20, "60", 100]}, "deflection_mm.1", "not a number"),
        ({"solid_deflection_mm": 90}, "solid_deflection_mm", "tested to 100 mm, but 90 mm"),
    ],
)
def test_a_tested_spring_that_cannot_be_is_refused_by_name(change, field, words):
    spring = {"kind": "tested", "deflection_mm": [20, 60, 100], "force_n": [92, 276, 460], **change}
    with pytest.raises(Refusal) as caught:
        check_bike({"front": {**FRONT, "legs": [{**LEG, "spring": spring}]}})
    assert caught.value.problems[0].field == f"front.legs.0.spring.{field}"
    assert words in caught.value.problems[0].text


@pytest.mark.parametrize("kind", [[], {}, None, 5, "stacked", "side_by_side"])
def test_no_kind_at_all_is_refused_in_words(kind):
    with pytest.raises(Refusal):
        check_bike({"front": {**FRONT, "legs": [{**LEG, "spring": {"kind": kind}}]}})


def test_a_tested_spring_takes_its_readings_only():
    spring = {"kind": "tested", "deflection_mm": [20, 60, 100], "force_n": [92, 276, 460], "stamped_n_per_mm": "x"}
    check_bike({"front": {**FRONT, "legs": [{**LEG, "spring": spring}]}})
    assert float(spring_from(spring).rate[0]) == pytest.approx(4600)


def test_three_readings_give_a_straight_rate():
    assert testers.tester({"deflection_mm": [10, 20, 30], "force_n": [52, 103, 156]})["kind"] == "straight"


def test_examples_run():
    assert doctest.testmod(testers).failed == 0
