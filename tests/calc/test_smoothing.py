"""Smoothing noisy pairs: SciPy's fit as oracle, the true curve inside the band, always rising; what is refused."""

import doctest

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.polynomial import Polynomial
from scipy.optimize import curve_fit

import calc.motion
import calc.smoothing
from calc.checks import Findings, check_leverage
from calc.refusal import Refusal
from calc.smoothing import smooth

WHEEL = np.arange(0.0, 301.0, 20.0)
TRUE = Polynomial([0, 0.30, 2.0e-4, 3.0e-7])  # a motion ratio from .30 to .50: a rising-rate linkage


def pairs(seed, u=0.5):
    rng = np.random.default_rng(seed)
    wheel, shock = WHEEL + rng.normal(0, u, WHEEL.size), TRUE(WHEEL) + rng.normal(0, u, WHEEL.size)
    wheel, shock = wheel - wheel[0], shock - shock[0]  # all are counted from the reading at full extension
    return {"wheel_mm": wheel.tolist(), "shock_mm": shock.tolist(), "reading_u_mm": u}


@pytest.mark.parametrize("stated", [0.5, 0.1])  # as the readings scatter, and far too sure of them
def test_the_fit_and_its_band_are_scipys(stated):
    request = pairs(3) | {"reading_u_mm": stated}
    answer = smooth(request)
    degree, at = answer["degree"], np.array(answer["curve"]["travel_mm"])
    wheel, shock = np.array(request["wheel_mm"]), np.array(request["shock_mm"])

    def curve(z, *coefficients):
        return Polynomial(coefficients)(z / 300)

    u = stated * np.sqrt(1 + (shock[-1] / wheel[-1]) ** 2)
    found, covariance = curve_fit(curve, wheel, shock, p0=np.ones(degree + 1), sigma=u + 0 * wheel, absolute_sigma=True)
    powers = (at[:, None] / 300) ** np.arange(degree + 1)
    powers[:, 0] = 0  # counted from full extension
    assert answer["curve"]["shock_mm"] == pytest.approx(powers @ found, abs=1e-3)
    band = np.sqrt(np.einsum("ni,ij,nj->n", powers, covariance, powers))
    left = shock - curve(wheel, *found)
    grown = max(1.0, np.sqrt(np.sum((left / u) ** 2) / (len(wheel) - degree - 1)))
    assert (grown > 1) == (stated == 0.1)
    assert answer["curve"]["shock_u_mm"] == pytest.approx(band * grown, rel=1e-3, abs=1e-9)
    assert answer["residual_mm"] == pytest.approx(np.sqrt(np.mean(left**2)), rel=1e-4)


def test_the_true_curve_lies_in_the_band_as_often_as_it_should():
    inside = {"shock": 0, "ratio": 0}
    for seed in range(200):
        curve = {name: np.array(values) for name, values in smooth(pairs(seed))["curve"].items()}
        middle = len(curve["travel_mm"]) // 2
        z = curve["travel_mm"][middle]
        inside["shock"] += abs(curve["shock_mm"][middle] - TRUE(z)) < 2 * curve["shock_u_mm"][middle]
        true_ratio = 1 / TRUE.deriv()(z)
        inside["ratio"] += abs(curve["leverage_ratio"][middle] - true_ratio) < 2 * curve["leverage_ratio_u"][middle]
    # 95 % of 200, three binomial standard deviations either way, at most all but one.
    assert all(181 <= count <= 199 for count in inside.values()), inside


def test_it_tells_the_leverage_ratio_better_than_the_readings_differences():
    worse = better = 0.0
    for seed in range(40):
        request = pairs(seed)
        curve = smooth(request)["curve"]
        truth = 1 / TRUE.deriv()(np.array(curve["travel_mm"]))
        better += np.sum((np.array(curve["leverage_ratio"]) - truth) ** 2) / len(truth)
        wheel, shock = np.array(request["wheel_mm"]), np.array(request["shock_mm"])
        middles = (wheel[1:] + wheel[:-1]) / 2
        worse += np.sum((np.diff(wheel) / np.diff(shock) - 1 / TRUE.deriv()(middles)) ** 2) / len(middles)
    assert better < worse / 4


@settings(deadline=None, max_examples=60)
@given(
    st.integers(4, 25),
    st.floats(0.2, 0.9),
    st.floats(-0.4, 0.4),
    st.floats(0, 3),
    st.integers(0, 10**6),
)
def test_whatever_comes_out_rises_and_can_be_evaluated_with(count, ratio, bow, scatter, seed):
    wheel = np.linspace(0, 200, count)
    shock = ratio * wheel * (1 + bow * wheel / 200) + np.random.default_rng(seed).normal(0, scatter, count)
    try:
        answer = smooth({"wheel_mm": wheel.tolist(), "shock_mm": (shock - shock[0]).tolist(), "reading_u_mm": 0.5})
    except Refusal:
        return
    assert (np.diff(answer["curve"]["shock_mm"]) > 0).all()
    findings = Findings()
    check_leverage(findings, answer["table"], "leverage", 200.0)
    assert not findings.problems


def test_a_misread_pair_is_named():
    request = pairs(1, u=0.3)
    request["shock_mm"][8] += 6
    note = next(note for note in smooth(request)["notes"] if note["code"] == "scatter")
    assert f"{request['wheel_mm'][8]:g} mm of wheel travel" in note["text"]
    assert "scatter" not in {note["code"] for note in smooth(pairs(1, u=0.3))["notes"]}


@pytest.mark.parametrize(
    ("change", "field", "code"),
    [
        ({"wheel_mm": [0, 50, 100]}, "wheel_mm", "table_size"),
        ({"wheel_mm": [0, 50, 100, 150, 200]}, "shock_mm", "unpaired"),
        ({"wheel_mm": [5, 50, 100, 150]}, "wheel_mm.0", "table_start"),
        ({"shock_mm": [1, 20, 41, 60]}, "shock_mm.0", "table_start"),
        ({"wheel_mm": [0, 100, 50, 150]}, "wheel_mm.2", "table_falls"),
        ({"wheel_mm": [0, 5, 10, 15]}, "wheel_mm.3", "out_of_band"),
        ({"shock_mm": [0, -5, -10, -19]}, "shock_mm", "does_not_rise"),
        ({"shock_mm": [0, 2, 4.1, 6]}, "shock_mm", "out_of_band"),
        ({"shock_mm": [0, 20, 41, 700]}, "shock_mm.3", "out_of_band"),
        ({"shock_mm": [0, 20, "41", 60]}, "shock_mm.2", "not_a_number"),
        ({"reading_u_mm": 0}, "reading_u_mm", "out_of_band"),
    ],
)
def test_refusals_name_their_field(change, field, code):
    with pytest.raises(Refusal) as caught:
        smooth({"wheel_mm": [0, 50, 100, 150], "shock_mm": [0, 20, 41, 60], **change})
    assert {problem.field: problem.code for problem in caught.value.problems}[field] == code


@pytest.mark.parametrize("module", [calc.smoothing, calc.motion])
def test_examples_run(module):
    assert doctest.testmod(module).failed == 0
