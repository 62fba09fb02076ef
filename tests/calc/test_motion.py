"""The leverage laid out: held against the table's own points, the linkage's law of cosines, and what is refused."""

import numpy as np
import pytest

from calc.motion import motion
from calc.refusal import Refusal

TABLE = {"kind": "table", "wheel_mm": [0, 60, 120, 180, 240, 300], "shock_mm": [0, 18.5, 38, 59, 82, 107]}
BARE = {
    "kind": "linkage",
    "pivot_mm": [0, 0],
    "axle_mm": [-520, -90],
    "shock_top_mm": [-200, 330],
    "shock_foot_mm": [-360, -20],
}


def test_a_table_passes_through_its_pairs_and_ends_where_it_ends():
    answer = motion({"wheel_travel_mm": 240, "leverage": TABLE})
    assert (answer["reach_mm"], answer["shock_stroke_mm"], answer["shock_extended_mm"]) == (300, 82, None)
    curve = answer["curve"]
    assert curve["shock_mm"][10] == 18.5
    assert curve["travel_mm"][10] == 60
    worked_back = np.trapezoid(curve["motion_ratio"], curve["travel_mm"])
    assert worked_back == pytest.approx(82, rel=1e-3)
    assert np.array(curve["motion_ratio"]) * curve["leverage_ratio"] == pytest.approx(1, rel=1e-5)


def test_a_shock_between_frame_and_swingarm_is_two_sides_and_an_angle():
    answer = motion({"wheel_travel_mm": 100, "leverage": BARE})
    arm = np.hypot(520, 90)
    swing = np.arcsin(90 / arm) + np.arcsin((100 - 90) / arm)
    one, other = np.array([-200, 330]), np.array([-360, -20])
    a, b = np.hypot(*one), np.hypot(*other)
    angle = np.arccos(one @ other / a / b)
    lengths = [np.sqrt(a**2 + b**2 - 2 * a * b * np.cos(angle - turned)) for turned in (0, swing)]
    assert answer["shock_extended_mm"] == pytest.approx(lengths[0], rel=1e-5)
    assert answer["shock_stroke_mm"] == pytest.approx(lengths[0] - lengths[1], rel=1e-5)
    # The shock is shortest where its foot points at its top; just before, it hardly moves any more.
    assert answer["reach_mm"] == pytest.approx(arm * np.sin(angle - np.arcsin(90 / arm)) + 90, rel=2e-3)


@pytest.mark.parametrize(
    ("shock", "code"),
    [([0, 30, 70, 120], "motion_rises"), ([0, 50, 90, 120], "motion_falls"), ([0, 40, 80, 120], "motion_stays")],
)
def test_the_note_says_which_way_it_goes(shock, code):
    answer = motion(
        {"wheel_travel_mm": 300, "leverage": {"kind": "table", "wheel_mm": [0, 100, 200, 300], "shock_mm": shock}}
    )
    assert code in {note["code"] for note in answer["notes"]}


def test_where_the_shock_stands_still_there_is_no_leverage_ratio():
    # So curved at its start that the monotone cubic leaves full extension level.
    table = {"kind": "table", "wheel_mm": [0, 10, 100], "shock_mm": [0, 0.1, 40]}
    curve = motion({"wheel_travel_mm": 100, "leverage": table})["curve"]
    assert curve["leverage_ratio"][0] is None
    assert curve["motion_ratio"][0] == 0


@pytest.mark.parametrize(
    ("request_", "field"),
    [
        ({"wheel_travel_mm": 300, "leverage": {"kind": "cam"}}, "leverage.kind"),
        ({"wheel_travel_mm": 301, "leverage": TABLE}, "leverage.wheel_mm"),
        ({"wheel_travel_mm": 5, "leverage": TABLE}, "wheel_travel_mm"),
        ({"wheel_travel_mm": 300, "leverage": {**BARE, "shock_foot_mm": [0, 0]}}, "leverage.shock_foot_mm"),
    ],
)
def test_refusals_name_their_field(request_, field):
    with pytest.raises(Refusal) as caught:
        motion(request_)
    assert field in {problem.field for problem in caught.value.problems}
