"""The needed spring, put back into evaluate, gives the target sags; by hand where there is only a spring."""

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from calc.evaluate import evaluate
from calc.needed import needed
from calc.refusal import Refusal
from tests import sample
from tests.sample import without

G = 9.80665
LEG = {**without(sample.LEG, "preload_mm"), "spring": {"kind": "straight", "rate_n_per_mm": None}}
FRONT = {**sample.FRONT, "legs": [LEG, LEG]}
REAR = without(sample.REAR, "spring", "preload_mm")


def fitted(end, answer):
    spring = {"kind": "straight", "rate_n_per_mm": answer["rate_n_per_mm"]}
    if "legs" not in end:
        return {**end, "spring": spring, "preload_mm": answer["preload_mm"]}
    legs = [
        leg if leg["spring"] is None else {**leg, "spring": spring, "preload_mm": answer["preload_mm"]}
        for leg in end["legs"]
    ]
    return {**end, "legs": legs}


def test_a_spring_alone_has_its_closed_form():
    """k = ΔF/Δs, p = F1/k − s1, by hand: 35 and 90 kg at leverage 2.5."""
    rear = {**REAR, "leverage": {"kind": "ratio", "wheel_per_shock": 2.5}, "gas_force_n": 0}
    answer = needed({"rear": {**rear, "target_static_sag_mm": 30, "target_rider_sag_mm": 95}})["rear"]
    rate = (90 - 35) * G * 2.5 / (38 - 12)
    assert answer["rate_n_per_mm"] == pytest.approx(rate, rel=1e-5)
    assert answer["preload_mm"] == pytest.approx(35 * G * 2.5 / rate - 12, rel=1e-5)
    assert (answer["feasible"], answer["why"], answer["nearest"]) == (True, None, None)


@settings(max_examples=80, deadline=None)
@given(
    static=st.floats(5, 60),
    more=st.floats(10, 90),
    rider_kg=st.floats(70, 160),
    altitude=st.floats(-500, 6000),
    empty=st.booleans(),
    end=st.sampled_from(["front", "rear"]),
)
def test_the_needed_spring_gives_the_target_sags(static, more, rider_kg, altitude, empty, end):
    given_end = {**(FRONT if end == "front" else REAR), "load_rider_kg": rider_kg}
    if end == "front":
        given_end |= {"altitude_m": altitude, "legs": [LEG, {**LEG, "spring": None} if empty else LEG]}
    targets = {"target_static_sag_mm": static, "target_rider_sag_mm": static + more}
    answer = needed({end: {**given_end, **targets}})[end]
    if not answer["feasible"]:
        assert answer["why"]
        return
    got = evaluate({end: fitted(given_end, answer)})[end]
    assert got["static_sag_mm"] == pytest.approx(static, abs=2e-3)
    assert got["rider_sag_mm"] == pytest.approx(static + more, abs=2e-3)


def test_targets_may_stand_beside_the_ends():
    targets = {"target_static_sag_mm": 30, "target_rider_sag_mm": 90}
    assert needed({"rear": REAR, **targets}) == needed({"rear": {**REAR, **targets}})


@settings(max_examples=60, deadline=None)
@given(static=st.floats(1, 100), more=st.floats(2, 150), high=st.floats(1, 30))
def test_the_nearest_possible_keeps_to_the_adjuster_and_tells_its_true_sags(static, more, high):
    targets = {"target_static_sag_mm": static, "target_rider_sag_mm": static + more, "adjuster_mm": [0, high]}
    answer = needed({"rear": {**REAR, **targets}})["rear"]
    assume(not answer["feasible"])
    nearest = answer["nearest"]
    assert 0 <= nearest["preload_mm"] <= high * (1 + 1e-5)
    assert 5 <= nearest["rate_n_per_mm"] <= 500
    got = evaluate({"rear": fitted(REAR, nearest)})["rear"]
    for sag in ("static_sag_mm", "rider_sag_mm"):
        assert got[sag] == pytest.approx(nearest[sag], abs=5e-3)


@settings(max_examples=10, deadline=None)
@given(static=st.floats(1, 100), more=st.floats(2, 150))
def test_no_possible_spring_with_the_same_rider_sag_comes_nearer(static, more):
    """SciPy's brentq finds, at preloads all over the range, the rate that keeps the rider sag."""
    rider = static + more
    targets = {"target_static_sag_mm": static, "target_rider_sag_mm": rider, "adjuster_mm": [2, 14]}
    answer = needed({"rear": {**REAR, **targets}})["rear"]
    assume(not answer["feasible"])
    nearest = answer["nearest"]
    assume(abs(nearest["rider_sag_mm"] - rider) < 1e-2)

    def sags(rate, preload):
        return evaluate({"rear": fitted(REAR, {"rate_n_per_mm": rate, "preload_mm": preload})})["rear"]

    for preload in (2, 8, 14):
        if sags(5, preload)["rider_sag_mm"] > rider > sags(500, preload)["rider_sag_mm"]:
            rate = brentq(lambda k, p=preload: sags(k, p)["rider_sag_mm"] - rider, 5, 500, xtol=1e-4)
            other = abs(sags(rate, preload)["static_sag_mm"] - static)
            assert abs(nearest["static_sag_mm"] - static) <= other + 2e-2


@pytest.mark.parametrize(
    ("targets", "said"),
    [
        ({"target_static_sag_mm": 60, "target_rider_sag_mm": 95}, "loose at full extension"),
        ({"target_static_sag_mm": 10, "target_rider_sag_mm": 95, "adjuster_mm": [0, 8]}, "past the adjuster"),
        (
            {"target_static_sag_mm": 40, "target_rider_sag_mm": 95, "adjuster_mm": [6, 8]},
            "below the adjuster",
        ),
        ({"target_static_sag_mm": 10, "target_rider_sag_mm": 10.5}, "outside the 5 to 500 N/mm"),
    ],
)
def test_an_impossible_pair_says_why_and_offers_the_nearest(targets, said):
    answer = needed({"rear": {**REAR, **targets}})["rear"]
    assert not answer["feasible"]
    assert said in answer["why"]
    assert answer["nearest"]["rider_sag_mm"] > 0


def test_air_that_leaves_nothing_for_a_spring_says_so():
    pressed = {**LEG, "pressure_kpa": 400}
    targets = {"target_static_sag_mm": 60, "target_rider_sag_mm": 150}
    answer = needed({"front": {**FRONT, "legs": [pressed, pressed], **targets}})["front"]
    assert not answer["feasible"]
    assert answer["rate_n_per_mm"] is None or answer["preload_mm"] < 0 or "outside" in answer["why"]
    assert answer["nearest"] is None


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"target_rider_sag_mm": 20}, "rear.target_rider_sag_mm"),
        ({"target_rider_sag_mm": 300}, "rear.target_rider_sag_mm"),
        ({"target_static_sag_mm": None}, "rear.target_static_sag_mm"),
        ({"adjuster_mm": [12, 4]}, "rear.adjuster_mm"),
        ({"adjuster_mm": [0, 151]}, "rear.adjuster_mm.1"),
        ({"gas_force_n": -5}, "rear.gas_force_n"),
    ],
)
def test_bad_targets_are_refused_at_their_field(change, field):
    rear = {**REAR, "target_static_sag_mm": 30, "target_rider_sag_mm": 90, **change}
    with pytest.raises(Refusal) as refusal:
        needed({"rear": rear})
    assert [problem.field for problem in refusal.value.problems] == [field]


def test_a_fork_without_a_spring_has_none_to_find():
    front = {**FRONT, "legs": [{**LEG, "spring": None}] * 2}
    with pytest.raises(Refusal) as refusal:
        needed({"front": {**front, "target_static_sag_mm": 30, "target_rider_sag_mm": 60}})
    assert [problem.field for problem in refusal.value.problems] == ["front.legs"]
    with pytest.raises(Refusal):
        needed({})
