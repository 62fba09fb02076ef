"""Sag from raw readings."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from calc.refusal import Refusal
from calc.sag import sag

READ = {
    "end": "rear",
    "wheel_free_mm": 640.0,
    "alone_from_above_mm": 612.0,
    "alone_from_below_mm": 606.0,
    "rider_from_above_mm": 548.0,
    "rider_from_below_mm": 538.0,
}


def codes(answer):
    return [note["code"] for note in answer["notes"]]


def problems(**change):
    with pytest.raises(Refusal) as caught:
        sag({**READ, **change})
    return {problem.field: problem for problem in caught.value.problems}


def test_the_mean_of_the_pair_and_half_its_gap():
    answer = sag(READ)
    assert (answer["static_sag_mm"], answer["rider_sag_mm"]) == (31, 97)
    assert (answer["static_band_mm"], answer["rider_band_mm"]) == (3, 5)
    assert answer["friction_n"] is None
    assert answer["notes"] == []


def test_friction_is_the_ridden_pairs_band_times_the_rate():
    assert sag({**READ, "rate_n_per_mm": 20.0})["friction_n"] == 100
    alone = {key: value for key, value in READ.items() if not key.startswith("rider")}
    assert sag({**alone, "rate_n_per_mm": 20.0})["friction_n"] == 60


@pytest.mark.parametrize("u", [0.5, 1.0, 2.0])
def test_uncertainty_by_the_uncertainties_rule(u):
    # JCGM 100:2008, eq. 11a for uncorrelated inputs: sag = L0 − (a + b)/2, so u² = u² + u²/4 + u²/4.
    answer = sag({**READ, "reading_u_mm": u})
    assert answer["static_u_mm"] == pytest.approx((u**2 + 2 * (u / 2) ** 2) ** 0.5, rel=1e-5)


def test_a_single_reading_is_taken_with_a_warning_and_is_less_sure():
    answer = sag({**READ, "alone_from_below_mm": None})
    assert answer["static_sag_mm"] == 28
    assert answer["static_band_mm"] is None
    assert answer["static_u_mm"] > answer["rider_u_mm"]
    assert codes(answer) == ["single_reading"]


def test_either_state_may_be_missing():
    alone = sag({key: value for key, value in READ.items() if not key.startswith("rider")})
    assert alone["static_sag_mm"] == 31
    assert alone["rider_sag_mm"] is None
    ridden = sag({key: value for key, value in READ.items() if not key.startswith("alone")})
    assert ridden["rider_sag_mm"] == 97
    assert ridden["static_sag_mm"] is None


def test_a_wide_pair_hints_at_binding():
    answer = sag({**READ, "rider_from_above_mm": 556.0})
    assert codes(answer) == ["wide_pair"]
    assert "binding" in answer["notes"][0]["text"]
    assert codes(sag({**READ, "rider_from_above_mm": 553.0})) == []


def test_topped_out_and_frictionless_is_no_error():
    answer = sag({**READ, "alone_from_above_mm": 640.0, "alone_from_below_mm": 640.0})
    assert answer["static_sag_mm"] == 0
    assert answer["static_band_mm"] == 0


@pytest.mark.parametrize(
    ("change", "field", "code", "words"),
    [
        (
            {"alone_from_above_mm": 606.0, "alone_from_below_mm": 612.0},
            "alone_from_above_mm",
            "pair_swapped",
            "swapped",
        ),
        ({"rider_from_above_mm": 530.0}, "rider_from_above_mm", "pair_swapped", "swapped"),
        ({"alone_from_above_mm": 650.0}, "alone_from_above_mm", "longer_than_free", "650 mm"),
        (
            {"alone_from_above_mm": 540.0, "alone_from_below_mm": 520.0},
            "rider_from_above_mm",
            "rider_not_above_static",
            "swapped",
        ),
        ({"travel_mm": 90.0}, "rider_from_above_mm", "past_travel", "90 mm"),
        ({"wheel_free_mm": 64.0}, "wheel_free_mm", "out_of_band", "64 mm"),
        ({"reading_u_mm": -1.0}, "reading_u_mm", "out_of_band", "-1 mm"),
    ],
)
def test_what_cannot_be_is_refused(change, field, code, words):
    problem = problems(**change)[field]
    assert problem.code == code
    assert words in problem.text
    assert problem.unit == "mm"


def test_nothing_read_is_refused():
    with pytest.raises(Refusal, match="wheel loaded"):
        sag({"end": "front", "wheel_free_mm": 640.0})


@given(
    free=st.floats(500, 900),
    static=st.floats(5, 60),
    more=st.floats(10, 100),
    friction=st.floats(0, 7),
)
def test_readings_made_from_a_sag_give_it_back(free, static, more, friction):
    request = {"end": "front", "wheel_free_mm": free}
    for who, value in (("alone", static), ("rider", static + more)):
        request[f"{who}_from_above_mm"] = min(free, free - value + friction)
        request[f"{who}_from_below_mm"] = free - value - (request[f"{who}_from_above_mm"] - (free - value))
    answer = sag(request)
    assert answer["static_sag_mm"] == pytest.approx(static, abs=1e-3)
    assert answer["rider_sag_mm"] == pytest.approx(static + more, abs=1e-3)
