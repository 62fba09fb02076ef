"""The fitted rate against a certified regression through the origin and SciPy's covariance."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import curve_fit

from calc import tester as bench
from tests.published.source import LIBRARY, source


@source("NIST StRD, linear regression without intercept, data set NoInt1 (certified values from memory)")
def test_the_certified_slope_without_intercept():
    """x 60 to 70, y 130 to 140: B1 2.07438016528926, its standard deviation 0.0165289256198347."""
    answer = bench.tester(
        {
            "deflection_mm": [float(x) for x in range(60, 71)],
            "force_n": [float(y) for y in range(130, 141)],
            "force_resolution_n": 0.001,
        }
    )
    assert answer["rate_n_per_mm"] == pytest.approx(2.07438016528926, rel=1e-13)
    assert answer["rate_u_n_per_mm"] == pytest.approx(0.0165289256198347, rel=1e-7)
    # Certified residual standard deviation 3.56753034006338 with 10 degrees of freedom; ours is the rms of 11.
    if answer["kind"] == "straight":
        assert answer["residual_n"] * (11 / 10) ** 0.5 == pytest.approx(3.56753034006338, rel=1e-10)


@source("SciPy's curve_fit with its covariance", LIBRARY)
def test_the_progressive_fit_is_scipys():
    x = np.arange(5.0, 101.0, 5.0)
    force = 3.8 * x + 1.6 * x**2 / 200 + np.random.default_rng(2).normal(0, 0.8, x.size)
    answer = bench.tester({"deflection_mm": x.tolist(), "force_n": force.tolist(), "force_resolution_n": 0.001})
    assert answer["kind"] == "progressive"
    (start, end), covariance = curve_fit(lambda d, a, b: a * d + (b - a) * d**2 / (2 * x[-1]), x, force, p0=[4, 5])
    assert answer["spring"]["start_n_per_mm"] == pytest.approx(start, rel=1e-6)
    assert answer["spring"]["end_n_per_mm"] == pytest.approx(end, rel=1e-6)
    for key, place in (("start_n_per_mm", 0), ("end_n_per_mm", 1)):
        assert answer["uncertainties"][key] == pytest.approx(covariance[place, place] ** 0.5, rel=1e-4)
