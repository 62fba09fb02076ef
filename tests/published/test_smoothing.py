"""Smoothed pairs against numpy's polynomial fit and its covariance."""

import numpy as np
import pytest

from calc.smoothing import smooth
from tests.published.source import LIBRARY, source


@source("numpy's polyfit, value, slope and covariance", LIBRARY)
def test_the_smoothed_curve_is_numpys_polynomial():
    wheel = np.linspace(0, 200, 21)
    noise = np.random.default_rng(5).normal(0, 0.3, wheel.size)
    shock = 0.33 * wheel + 0.0004 * wheel**2 + noise
    shock[0] = 0.0
    answer = smooth({"wheel_mm": wheel.tolist(), "shock_mm": shock.tolist(), "reading_u_mm": 2.0})
    degree = answer["degree"]
    t = wheel / 100 - 1
    variance = 2.0**2 * (1 + (shock[-1] / wheel[-1]) ** 2)
    fitted, covariance = np.polyfit(t, shock, degree, cov="unscaled")
    at = np.array(answer["curve"]["travel_mm"]) / 100 - 1
    assert answer["curve"]["shock_mm"] == pytest.approx(np.polyval(fitted, at) - np.polyval(fitted, -1.0), abs=5e-4)
    slope = np.polyval(np.polyder(fitted), at) / 100  # travels come back at six figures
    assert answer["curve"]["leverage_ratio"] == pytest.approx(1 / slope, rel=1e-5)
    rows = np.vander(at, degree + 1) - np.vander([-1.0], degree + 1)
    spread = np.sqrt(np.einsum("ni,ij,nj->n", rows, covariance * variance, rows))
    assert answer["curve"]["shock_u_mm"][1:] == pytest.approx(spread[1:], rel=1e-4)
