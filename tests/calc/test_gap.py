"""The air gap after a swap and for a wanted force, and the spacer."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from calc.gap import gap, spacer_length
from calc.refusal import Refusal
from tests.calc.oracle import FrontEnd

SWAP = {
    "use": "swap",
    "bore_diameter_mm": 42.0,
    "air_gap_mm": 110.0,
    "solids_old_cm3": 80.0,
    "solids_new_cm3": 70.0,
    "read_with": "spring_out",
}
FORCE = {
    "use": "end_force",
    "bore_diameter_mm": 42.0,
    "seal_diameter_mm": 48.0,
    "solids_cm3": 70.0,
    "stroke_mm": 300.0,
    "wanted_force_n": 1500.0,
    "at_stroke_mm": 290.0,
    "air_gap_mm": 110.0,
}
SPACER = {"use": "spacer", "seat_length_mm": 520.0, "free_length_mm": 460.0, "preload_mm": 12.0}


def problem(request):
    with pytest.raises(Refusal) as caught:
        gap(request)
    return caught.value.problems[0]


def leg_force(gap_mm, request, n):
    """One leg's air force along the fork, by the second solver."""
    leg = {
        "spring": None,
        "seal_diameter_mm": request["seal_diameter_mm"],
        "bore_diameter_mm": request["bore_diameter_mm"],
        "air_gap_mm": gap_mm,
        "solids_cm3": request["solids_cm3"],
        "pressure_kpa": request.get("pressure_kpa", 0.0),
    }
    front = {"stroke_mm": request["stroke_mm"], "rake_deg": 0.0, "legs": [leg]}
    return FrontEnd({**front, "altitude_m": request.get("altitude_m", 0.0)}).air(
        request["at_stroke_mm"] / 1000, n
    )


def test_a_spring_that_displaces_less_wants_oil_and_a_smaller_gap():
    answer = gap(SWAP)
    area_mm2 = math.pi / 4 * 42**2
    assert answer["gap_change_mm"] == pytest.approx(-10_000 / area_mm2, rel=1e-5)
    assert answer["air_gap_mm"] == pytest.approx(110 - 10_000 / area_mm2, rel=1e-5)
    assert answer["oil_to_add_cm3"] == pytest.approx(10.0, rel=1e-5)


@given(
    old=st.floats(0, 150),
    new=st.floats(0, 150),
    bore=st.floats(30, 60),
    air=st.floats(150, 300),
    n=st.floats(1, 1.4),
)
def test_the_swapped_gap_keeps_the_air_curve(old, new, bore, air, n):
    request = {
        **SWAP,
        "solids_old_cm3": old,
        "solids_new_cm3": new,
        "bore_diameter_mm": bore,
        "air_gap_mm": air,
    }
    area = math.pi / 4 * bore**2 / 1000
    if air * area - old < 5 or air + (new - old) / area <= 0:
        return
    body = {"seal_diameter_mm": bore + 4, "bore_diameter_mm": bore, "stroke_mm": 250.0, "at_stroke_mm": 240.0}
    before = leg_force(air, {**body, "solids_cm3": old}, n)
    after = leg_force(gap(request)["air_gap_mm"], {**body, "solids_cm3": new}, n)
    assert after == pytest.approx(before, rel=1e-3)


def test_a_pour_measures_the_bore():
    area = math.pi / 4 * 42**2
    poured = {**SWAP, "pour": {"cm3": area * 20 / 1000, "rise_mm": 20.0}}
    del poured["bore_diameter_mm"]
    assert gap(poured)["air_gap_mm"] == pytest.approx(gap(SWAP)["air_gap_mm"], rel=1e-5)


def test_a_pour_that_disagrees_with_the_bore_is_told():
    answer = gap({**SWAP, "pour": {"cm3": 20.0, "rise_mm": 20.0}})
    assert "pour_and_bore_differ" in {note["code"] for note in answer["notes"]}


@pytest.mark.parametrize("n", [1.0, 1.2, 1.4])
@pytest.mark.parametrize("pressure", [0.0, 40.0])
def test_the_wanted_force_is_met(n, pressure):
    request = {**FORCE, "n": n, "pressure_kpa": pressure, "altitude_m": 1500.0}
    answer = gap(request)
    assert leg_force(answer["air_gap_mm"], request, n) == pytest.approx(1500.0, rel=1e-4)
    by_root = brentq(lambda mm: leg_force(mm, request, n) - 1500.0, 60.0, 800.0)
    assert answer["air_gap_mm"] == pytest.approx(by_root, rel=1e-4)
    area = math.pi / 4 * 42**2
    assert answer["oil_to_add_cm3"] == pytest.approx((110.0 - answer["air_gap_mm"]) * area / 1000, rel=1e-3)


def test_a_hard_hit_is_the_default():
    assert gap(FORCE)["air_gap_mm"] == gap({**FORCE, "n": 1.4})["air_gap_mm"]


def test_without_todays_gap_no_oil_is_told():
    assert gap({**FORCE, "air_gap_mm": None})["oil_to_add_cm3"] is None


def test_spacer_as_the_trade_cuts_it():
    # Common practice, no source: cap to seat at full extension − free length + preload − washers.
    assert spacer_length(520, 460, 12, 2) == 70
    assert gap({**SPACER, "washers_mm": 2.0})["spacer_mm"] == 70


@pytest.mark.parametrize(
    ("request_", "field", "code"),
    [
        ({**SWAP, "read_with": "spring_in"}, "read_with", "spring_in"),
        ({**SWAP, "bore_diameter_mm": None}, "bore_diameter_mm", "missing"),
        ({**SWAP, "air_gap_mm": 11.0}, "air_gap_mm", None),
        ({**SWAP, "air_gap_mm": 0.0}, "air_gap_mm", "out_of_band"),
        ({**SWAP, "solids_old_cm3": 400.0, "solids_new_cm3": 10.0}, "solids_new_cm3", "no_gap_left"),
        ({**SWAP, "pour": {"cm3": 20.0, "rise_mm": 0.0}}, "pour.rise_mm", "out_of_band"),
        ({**FORCE, "at_stroke_mm": 310.0}, "at_stroke_mm", "past_stroke"),
        ({**FORCE, "wanted_force_n": 49_000.0, "at_stroke_mm": 200.0}, "wanted_force_n", "out_of_reach"),
        ({**FORCE, "pressure_kpa": 1000.0}, "wanted_force_n", "below_charge"),
        ({**FORCE, "n": 1.6}, "n", "out_of_band"),
        ({**SPACER, "free_length_mm": 600.0}, "free_length_mm", "no_room"),
        ({**SPACER, "preload_mm": 400.0}, "preload_mm", "out_of_band"),
    ],
)
def test_what_cannot_be_is_refused(request_, field, code):
    if code is None:
        assert gap(request_)["air_gap_mm"] > 0
        return
    found = problem(request_)
    assert (found.field, found.code) == (field, code)
    assert found.text.endswith((".", "?"))


def test_a_gap_outside_the_band_is_told():
    answer = gap({**SWAP, "air_gap_mm": 12.0})
    assert "gap_out_of_band" in {note["code"] for note in answer["notes"]}
