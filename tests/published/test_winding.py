"""Preload wound on or off, against SciPy's root finder over the whole evaluation."""

from __future__ import annotations

import pytest
from scipy.optimize import brentq

from calc.evaluate import evaluate
from calc.winding import Winding
from tests.published.source import LIBRARY, source
from tests.sample import FRONT, REAR

LIMITS = (-5.0, 20.0)
SPRINGS = {
    "straight": {"kind": "straight", "rate_n_per_mm": 4.6},
    "dual": {"kind": "dual", "soft_n_per_mm": 3.5, "hard_n_per_mm": 5.5, "change_mm": 60},
    "progressive": {"kind": "progressive", "start_n_per_mm": 4, "end_n_per_mm": 6, "over_mm": 150},
}


def fork(spring, preload_mm=10.0):
    return {**FRONT, "legs": [{**leg, "spring": spring, "preload_mm": preload_mm} for leg in FRONT["legs"]]}


@source("SciPy's brentq over the whole evaluation", LIBRARY)
@pytest.mark.parametrize("kind", SPRINGS)
@pytest.mark.parametrize("wanted_mm", [35.0, 48.0, 58.0])
def test_the_change_of_preload_is_the_root_that_scipy_finds(kind, wanted_mm):
    def rider_sag(by_mm):
        return evaluate({"front": fork(SPRINGS[kind], 10 + by_mm)})["front"]["rider_sag_mm"]

    root = brentq(lambda by_mm: rider_sag(by_mm) - wanted_mm, -10, 120, xtol=1e-6)
    found = Winding(fork(SPRINGS[kind]), "front").to(wanted_mm, (-10.0, 120.0))
    assert found.by_mm == pytest.approx(root, abs=2e-3)
    assert found.rider_mm == pytest.approx(wanted_mm, abs=1e-3)
    again = evaluate({"front": fork(SPRINGS[kind], 10 + root)})["front"]
    assert found.static_mm == pytest.approx(again["static_sag_mm"], abs=2e-3)


@source("the evaluation at the end of the range", LIBRARY)
@pytest.mark.parametrize(("wanted_mm", "end_of_range_mm"), [(1.0, LIMITS[1]), (290.0, LIMITS[0])])
def test_a_sag_out_of_reach_ends_at_the_end_of_the_range(wanted_mm, end_of_range_mm):
    found = Winding({**REAR, "spring": {"kind": "straight", "rate_n_per_mm": 74}}, "rear").to(wanted_mm, LIMITS)
    assert found.by_mm == pytest.approx(end_of_range_mm, abs=1e-4)
    preload_mm = REAR["preload_mm"] + end_of_range_mm
    there = evaluate(
        {"rear": {**REAR, "spring": {"kind": "straight", "rate_n_per_mm": 74}, "preload_mm": preload_mm}}
    )["rear"]
    assert found.rider_mm == pytest.approx(there["rider_sag_mm"], abs=1e-3)
