"""Choosing: every row is what evaluate says of that bike, preload by SciPy's brentq."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from calc.choose import choose, soft_wound_up
from calc.evaluate import evaluate, evaluate_front
from calc.refusal import Refusal
from tests.sample import FRONT, LEG, REAR

FORK_SPRINGS = [
    {"id": 1, "label": "soft", "spring": {"kind": "straight", "rate_n_per_mm": 3.6}},
    {"id": 2, "label": "middle", "spring": {"kind": "straight", "rate_n_per_mm": 4.4}},
    {
        "id": "three",
        "label": "dual",
        "spring": {"kind": "dual", "soft_n_per_mm": 3.8, "hard_n_per_mm": 6, "change_mm": 90},
    },
    {
        "id": 4,
        "label": "rising",
        "spring": {"kind": "progressive", "start_n_per_mm": 3.6, "end_n_per_mm": 7, "over_mm": 250},
    },
    {"id": 5, "label": "hard", "spring": {"kind": "straight", "rate_n_per_mm": 9}},
    {
        "id": 6,
        "label": "short",
        "spring": {"kind": "straight", "rate_n_per_mm": 4.4, "solid_deflection_mm": 290},
    },
]
SHOCK_SPRINGS = [
    {"id": rate, "label": f"{rate}", "spring": {"kind": "straight", "rate_n_per_mm": rate}}
    for rate in (52, 60, 68, 74, 80, 86, 110)
]
WANT_FRONT = {"target_static_sag_mm": [25, 40], "target_rider_sag_mm": [55, 75]}
WANT_REAR = {"target_static_sag_mm": [20, 28], "target_rider_sag_mm": [90, 105]}
AS_EVALUATE = (
    "static_sag_mm", "rider_sag_mm", "breakaway_n", "wheel_rate_n_per_mm", "frequency_hz", "full_stroke_n",
    "energy_to_stop_j", "fall_to_stop_mm", "solid_clearance_mm",
)  # fmt: skip


def with_spring(name, end, spring, preload):
    spring = {key: value for key, value in spring.items() if key != "solid_deflection_mm"}
    if name == "rear":
        return {name: {**end, "spring": spring, "preload_mm": preload}}
    legs = [leg if leg["spring"] is None else {**leg, "spring": spring, "preload_mm": preload} for leg in end["legs"]]
    return {name: {**end, "legs": legs}}


@pytest.mark.parametrize(
    ("name", "end", "springs", "want"),
    [
        ("front", FRONT, FORK_SPRINGS, WANT_FRONT),
        ("front", {**FRONT, "legs": [LEG, {**LEG, "spring": None}]}, FORK_SPRINGS, WANT_FRONT),
        ("rear", REAR, SHOCK_SPRINGS, WANT_REAR),
        (
            "rear",
            {**REAR, "shocks": 2, "leverage": {"kind": "ratio", "wheel_per_shock": 1.4}},
            SHOCK_SPRINGS,
            WANT_REAR,
        ),
    ],
)
def test_each_row_is_evaluate_at_the_preload_that_reaches_the_aim(name, end, springs, want):
    found = choose({name: end, "springs": springs, **want})
    aim = sum(want["target_rider_sag_mm"]) / 2
    assert {row["id"] for row in found["ranked"]} == {each["id"] for each in springs}

    def rider_sag(preload, spring):
        return evaluate(with_spring(name, end, spring, preload))[name]["rider_sag_mm"]

    for row in found["ranked"]:
        low, high = rider_sag(0.0, row["spring"]), rider_sag(150.0, row["spring"])
        if low > aim > high:
            wanted = brentq(lambda p, s=row["spring"]: rider_sag(p, s) - aim, 0, 150, xtol=1e-6)
            assert row["preload_mm"] == pytest.approx(wanted, abs=2e-3)
        else:
            assert row["preload_mm"] in (0.0, 150.0)
        again = evaluate(with_spring(name, end, row["spring"], row["preload_mm"]))[name]
        for figure in AS_EVALUATE:
            if figure == "solid_clearance_mm" and "solid_deflection_mm" in row["spring"]:
                continue
            assert row[figure] == pytest.approx(again[figure], rel=1e-4, abs=2e-3), figure


def verdicts(request):
    return {row["label"]: row["verdict"] for row in choose(request)["ranked"]}


def test_verdicts_follow_the_trades_rule():
    """Rider sag right, static sag too small: too soft; too large: too stiff (common practice)."""
    found = choose({"rear": REAR, "springs": SHOCK_SPRINGS, **WANT_REAR})
    for row in found["ranked"]:
        if row["verdict"] == "too_soft":
            assert row["static_sag_mm"] < 20
            assert 90 <= row["rider_sag_mm"] <= 105
        if row["verdict"] == "too_stiff":
            assert row["static_sag_mm"] > 28
        assert row["in_band"] == (row["verdict"] == "suits")
    by_rate = sorted(found["ranked"], key=lambda row: row["id"])
    assert by_rate[0]["verdict"] == "too_soft"
    assert by_rate[-1]["verdict"] == "cannot_reach"
    assert "Too stiff" in by_rate[-1]["text"]
    assert {"too_soft", "suits"} <= {row["verdict"] for row in found["ranked"]}


def test_a_slack_spring_is_allowed_only_by_the_adjuster_and_then_too_stiff():
    request = {"rear": REAR, "springs": SHOCK_SPRINGS, **WANT_REAR, "adjuster_mm": [-30, 40]}
    assert verdicts(request)["110"] == "too_stiff"


def test_the_adjuster_limits_the_preload():
    found = choose({"rear": REAR, "springs": SHOCK_SPRINGS, **WANT_REAR, "adjuster_mm": [4, 9]})
    assert all(4 <= row["preload_mm"] <= 9 for row in found["ranked"])
    softest = next(row for row in found["ranked"] if row["id"] == 52)
    assert (softest["verdict"], softest["preload_mm"]) == ("cannot_reach", 9)
    assert "Too soft" in softest["text"]


def test_a_spring_that_binds_is_last_and_has_no_chance():
    found = choose({"front": FRONT, "springs": FORK_SPRINGS, **WANT_FRONT})
    last = found["ranked"][-1]
    assert (last["label"], last["verdict"], last["probability"], last["in_band"]) == (
        "short",
        "binds",
        0,
        False,
    )
    assert last["solid_clearance_mm"] == pytest.approx(290 - last["preload_mm"] - 300, abs=1e-3)
    assert f"{-last['solid_clearance_mm']:.1f} mm" in last["text"]


def test_the_best_suits_and_suits_come_first_by_probability():
    found = choose({"rear": REAR, "springs": SHOCK_SPRINGS, **WANT_REAR})
    suits = [row for row in found["ranked"] if row["verdict"] == "suits"]
    assert found["best"] == found["ranked"][0]["id"] == suits[0]["id"]
    chances = [row["probability"] for row in suits]
    assert chances == sorted(chances, reverse=True)
    assert found["ranked"][: len(suits)] == suits


def test_where_none_suits_there_is_no_best_and_a_note():
    found = choose({"rear": REAR, "springs": SHOCK_SPRINGS[:1], **WANT_REAR})
    assert found["best"] is None
    assert "none_suits" in [note["code"] for note in found["notes"]]


def test_probabilities_agree_with_a_sample_solved_one_by_one():
    """Another seed and plain Python; a straight spring at a constant ratio needs no root finder."""
    ratio, gas = 2.8, 250.0
    rear = {**REAR, "leverage": {"kind": "ratio", "wheel_per_shock": ratio}}
    want = {"target_static_sag_mm": [24, 32], "target_rider_sag_mm": [94, 102]}
    rows = choose({"rear": rear, "springs": SHOCK_SPRINGS, **want})["ranked"]
    random = np.random.default_rng(7)
    for row in rows:
        hits = 0
        for _ in range(4000):
            rate = row["spring"]["rate_n_per_mm"] * (1 + 0.05 * random.uniform(-1, 1))
            sags = []
            for kg in (57 - 22, 112 - 22):
                load = (kg + random.uniform(-1, 1)) * 9.80665
                shock = (load * ratio - gas) / rate - row["preload_mm"]
                sags.append(min(max(shock * ratio, 0), 300) + random.uniform(-1, 1))
            hits += 24 <= sags[0] <= 32 and 94 <= sags[1] <= 102
        # 200 samples: three standard deviations of a binomial share
        share = hits / 4000
        assert abs(row["probability"] - share) <= 3 * math.sqrt(max(share * (1 - share), 0.005) / 200)


def test_the_answer_repeats():
    request = {"front": FRONT, "springs": FORK_SPRINGS, **WANT_FRONT}
    assert choose(request) == choose(request)


def test_an_aim_alone_means_five_millimetres_either_way():
    aims = {"aim_static_sag_mm": 24, "aim_rider_sag_mm": 97}
    bands = {"target_static_sag_mm": [19, 29], "target_rider_sag_mm": [92, 102]}
    assert choose({"rear": REAR, "springs": SHOCK_SPRINGS, **aims}) == choose(
        {"rear": REAR, "springs": SHOCK_SPRINGS, **bands}
    )


def displaced(cm3):
    return [{**each, "displaced_cm3": cm3} for each in FORK_SPRINGS]


def test_same_curve_corrects_the_gap_for_what_the_spring_displaces():
    """Δgap = ΔV/A_bore per leg: a spring that displaces less lets the oil fall, so read a smaller gap."""
    plain = choose({"front": FRONT, "springs": FORK_SPRINGS, **WANT_FRONT})
    found = choose({"front": FRONT, "springs": displaced(42), "displaced_cm3": 50, **WANT_FRONT})
    change = -8000 / (math.pi / 4 * 42**2)
    for row, unknown in zip(found["ranked"], plain["ranked"], strict=True):
        assert row["gap_change_mm"] == pytest.approx(change, rel=1e-5)
        assert row["air_gap_mm"] == pytest.approx(110 + change, rel=1e-5)
        assert row["full_stroke_n"] == unknown["full_stroke_n"]
        assert unknown["gap_change_mm"] is None
    assert "displaced_unknown" in [note["code"] for note in plain["notes"]]
    assert "displaced_unknown" not in [note["code"] for note in found["notes"]]


def test_same_gap_lets_the_air_change_instead():
    found = choose({"front": FRONT, "springs": displaced(62), "displaced_cm3": 50, "air": "same_gap", **WANT_FRONT})
    for row in found["ranked"]:
        assert (row["gap_change_mm"], row["air_gap_mm"]) == (0, 110)
        legs = [{**LEG, "solids_cm3": 82}] * 2
        again = evaluate(with_spring("front", {**FRONT, "legs": legs}, row["spring"], row["preload_mm"]))["front"]
        assert row["full_stroke_n"] == pytest.approx(again["full_stroke_n"], rel=1e-4)
        assert row["static_sag_mm"] == pytest.approx(again["static_sag_mm"], abs=2e-3)


def test_a_spring_that_leaves_no_air_at_the_same_gap_cannot_be_used():
    found = choose({"front": FRONT, "springs": displaced(140), "displaced_cm3": 50, "air": "same_gap", **WANT_FRONT})
    assert {row["verdict"] for row in found["ranked"]} == {"cannot_reach", "binds"}
    assert {row["probability"] for row in found["ranked"]} == {0}


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"springs": []}, "springs"),
        (
            {"springs": [{"id": 1, "spring": {"kind": "straight", "rate_n_per_mm": 4}}]},
            "springs.0.spring.rate_n_per_mm",
        ),
        ({"target_static_sag_mm": [40, 25]}, "target_static_sag_mm"),
        ({"target_rider_sag_mm": [310, 320]}, "target_rider_sag_mm"),
        ({"target_rider_sag_mm": None}, "aim_rider_sag_mm"),
        ({"adjuster_mm": [0, 200]}, "adjuster_mm.1"),
        ({"aim_rider_sag_mm": 120}, "aim_rider_sag_mm"),
        ({"air": "none"}, "air"),
        ({"displaced_cm3": -1}, "displaced_cm3"),
        ({"rear": {**REAR, "unsprung_kg": -1}}, "rear.unsprung_kg"),
    ],
)
def test_bad_input_is_refused_at_its_field(change, field):
    with pytest.raises(Refusal) as refusal:
        choose({"rear": REAR, "springs": SHOCK_SPRINGS, **WANT_REAR, **change})
    assert [problem.field for problem in refusal.value.problems] == [field]


def test_one_end_at_a_time():
    for request in ({"springs": SHOCK_SPRINGS}, {"front": FRONT, "rear": REAR, "springs": SHOCK_SPRINGS}):
        with pytest.raises(Refusal):
            choose({**request, **WANT_REAR})


def test_a_present_spring_that_binds_is_no_obstacle():
    rear = {**REAR, "spring": {**REAR["spring"], "solid_deflection_mm": 90}}
    assert choose({"rear": rear, "springs": SHOCK_SPRINGS, **WANT_REAR})["best"] is not None


@settings(max_examples=15, deadline=None)
@given(sag=st.floats(42, 68), more=st.floats(0, 20))
def test_a_soft_spring_wound_up_has_the_same_rider_sag_but_breaks_away_later_and_ends_softer(sag, more):
    legs = [LEG, {**LEG, "preload_mm": 10 + more}]
    soft = soft_wound_up({"front": {**FRONT, "legs": legs}}, sag)
    assert soft["rider_sag_mm"] == pytest.approx(sag, rel=1e-5)
    firm = brentq(
        lambda p: evaluate_front({**FRONT, "legs": [{**LEG, "preload_mm": p}] * 2})["rider_sag_mm"] - sag,
        -30,
        150,
    )
    answer = evaluate_front({**FRONT, "legs": [{**LEG, "preload_mm": firm}] * 2})
    if firm > 0:
        assert soft["breakaway_n"] > answer["breakaway_n"]
    assert soft["full_stroke_n"] < answer["full_stroke_n"]
    assert soft["static_sag_mm"] <= answer["static_sag_mm"] + 1e-6


def test_soft_wound_up_scales_a_dual_spring_whole():
    dual = {"kind": "dual", "soft_n_per_mm": 45, "hard_n_per_mm": 60, "change_mm": 30}
    softer = {"kind": "dual", "soft_n_per_mm": 36, "hard_n_per_mm": 48, "change_mm": 30}
    soft = soft_wound_up({"rear": {**REAR, "spring": dual}}, 95.0)
    again = evaluate({"rear": {**REAR, "spring": softer, "preload_mm": soft["preload_mm"]}})["rear"]
    for figure in AS_EVALUATE:
        assert soft[figure] == pytest.approx(again[figure], rel=1e-4), figure
