"""One spring for two riders, against statics written anew: a rear of one leverage ratio, no gas."""

from __future__ import annotations

import doctest

import pytest

import calc.each_rider as module
from calc.each_rider import each_rider
from calc.refusal import Refusal

G = 9.80665  # standard gravity, CGPM 1901
RATIO, UNSPRUNG, ALONE, SHARE = 2.5, 22.0, 57.0, 0.65
START, END, OVER = 40.0, 70.0, 90.0  # N/mm, N/mm, mm: rising linearly
REAR = {
    "wheel_travel_mm": 300, "unsprung_kg": UNSPRUNG, "load_static_kg": ALONE, "load_rider_kg": 112,
    "leverage": {"kind": "ratio", "wheel_per_shock": RATIO}, "preload_mm": 7,
    "spring": {"kind": "progressive", "start_n_per_mm": START, "end_n_per_mm": END, "over_mm": OVER},
}  # fmt: skip
BANDS = {"target_static_sag_mm": [25, 35], "target_rider_sag_mm": [90, 100]}


def asked(*riders, **more):
    return {"rear": REAR, "rider_share": SHARE, "riders_kg": list(riders), **BANDS, **more}


def spring_force(deflection):
    """The integral of a rate that rises linearly and then stays."""
    rising = min(deflection, OVER)
    return START * rising + (END - START) * rising**2 / (2 * OVER) + END * max(0.0, deflection - OVER)


def load(rider):
    return (ALONE + SHARE * rider - UNSPRUNG) * G


@pytest.mark.parametrize("rider", [60, 80, 100])
def test_the_straight_spring_meets_both_middles(rider):
    [row] = each_rider(asked(rider))
    rate = (load(rider) - load(0)) * RATIO / ((95 - 30) / RATIO)
    preload = load(0) * RATIO / rate - 30 / RATIO
    assert row["straight"]["rate_n_per_mm"] == pytest.approx(rate, rel=1e-5)
    assert row["straight"]["preload_mm"] == pytest.approx(preload, abs=1e-3)
    assert row["straight"]["static_sag_mm"] == pytest.approx(30, abs=1e-2)
    assert row["straight"]["wheel_rate_n_per_mm"] == pytest.approx(rate / RATIO**2, rel=1e-5)


@pytest.mark.parametrize("rider", [60, 80, 100])
def test_the_spring_fitted_holds_both_loads_where_it_is_said_to(rider):
    [row] = each_rider(asked(rider))
    fitted = row["fitted"]
    assert fitted["rider_sag_mm"] == pytest.approx(95, abs=0.01)
    for sag, held in ((fitted["rider_sag_mm"], load(rider)), (fitted["static_sag_mm"], load(0))):
        assert spring_force(fitted["preload_mm"] + sag / RATIO) / RATIO == pytest.approx(held, rel=1e-4)
    assert fitted["breakaway_n"] == pytest.approx(spring_force(fitted["preload_mm"]) / RATIO, rel=1e-4)
    assert fitted["full_stroke_n"] == pytest.approx(spring_force(fitted["preload_mm"] + 300 / RATIO) / RATIO, rel=1e-4)


def test_an_adjuster_that_ends_holds_the_fitted_spring_short():
    [row] = each_rider(asked(140, adjuster_mm=[0, 10]))
    assert row["fitted"]["preload_mm"] == 10
    assert row["fitted"]["rider_sag_mm"] > 100


def test_each_sentence_names_its_rider_and_both_springs():
    for row in each_rider(asked(60, 100)):
        assert f"{row['rider_kg']} kg" in row["text"]
        assert f"{row['straight']['rate_n_per_mm']:.3g} N/mm" in row["text"]
        assert row["text"].count(".") >= 1
        assert "!" not in row["text"]


@pytest.mark.parametrize(
    ("changed", "field"),
    [({"rider_share": 0}, "rider_share"), ({"riders_kg": [7000]}, "riders_kg.0"), ({"target_static_sag_mm": None}, "")],
)
def test_what_cannot_be_is_refused_by_name(changed, field):
    with pytest.raises(Refusal) as refused:
        each_rider({**asked(80), **changed})
    assert any(problem.field.startswith(field or "target_static_sag_mm") for problem in refused.value.problems)


def test_the_example_holds():
    assert doctest.testmod(module).failed == 0
