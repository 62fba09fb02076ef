"""Sag from a pair of readings, against the uncertainties library and the trade's own rule."""

import pytest
from uncertainties import ufloat

from calc.sag import sag
from tests.published.source import BALANCE, LIBRARY, source

READ = {
    "end": "rear",
    "wheel_free_mm": 640.0,
    "alone_from_above_mm": 612.0,
    "alone_from_below_mm": 606.0,
    "rider_from_above_mm": 548.0,
    "rider_from_below_mm": 538.0,
}


@source("common practice, no source: L1 − (L2 + L3)/2", BALANCE)
def test_sag_is_the_free_length_less_the_mean_of_both_readings():
    answer = sag(READ)
    assert answer["static_sag_mm"] == 640 - (612 + 606) / 2
    assert answer["rider_sag_mm"] == 640 - (548 + 538) / 2


@source("the uncertainties library, linear propagation (JCGM 100)", LIBRARY)
@pytest.mark.parametrize("u", [0.5, 1.0, 3.0])
def test_a_sags_uncertainty_is_that_of_the_library(u):
    free, above, below = ufloat(640, u), ufloat(548, u), ufloat(538, u)
    answer = sag({**READ, "reading_u_mm": u})
    assert answer["rider_u_mm"] == pytest.approx((free - (above + below) / 2).std_dev, rel=1e-5)
    single = sag({key: value for key, value in READ.items() if key != "rider_from_below_mm"} | {"reading_u_mm": u})
    assert single["rider_u_mm"] == pytest.approx((free - above).std_dev, rel=1e-5)
