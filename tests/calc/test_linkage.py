"""What a linkage refuses, in one sentence each."""

import pytest

from calc.evaluate import evaluate_rear
from calc.linkage import linkage_from
from calc.refusal import Refusal
from tests.published.test_linkage import REAR, SPORTS


def changed(path, value):
    holder, _, name = path.rpartition(".")
    return {**SPORTS, "rocker": {**SPORTS["rocker"], name: value}} if holder else {**SPORTS, name: value}


@pytest.mark.parametrize(
    ("path", "value", "code", "words"),
    [
        ("rocker.rod_far_mm", SPORTS["rocker"]["rod_near_mm"], "points_meet", "The rod has no length"),
        ("rocker.rod_near_mm", SPORTS["rocker"]["pivot_mm"], "points_meet", "eye lies on the rocker's pivot"),
        ("shock_foot_mm", SPORTS["shock_top_mm"], "points_meet", "The shock has no length"),
        ("axle_mm", SPORTS["pivot_mm"], "points_meet", "axle lies on the swingarm pivot"),
        ("axle_mm", [-128.9, -640.0], "swingarm_upright", "x points forward, z up"),
        ("rocker.rod_near_mm", [-222.3, -241.1], "dead_centre", "cannot turn the rocker"),
        ("rocker.rod_length_mm", 900.0, "cannot_close", "cannot close with a rod of 900 mm"),
        ("rocker.rod_length_mm", 20.0, "cannot_close", "cannot close with a rod of 20 mm"),
        ("shock_extended_mm", 900.0, "out_of_reach", "only lets it be"),
        ("rocker.rod_length_mm", 60.0, "cannot_close", "it takes one between"),
        ("shock_top_mm", [-190.9, -600.0], "shock_extends", "no shorter as the wheel rises"),
    ],
)
def test_what_cannot_work_is_refused_in_one_sentence(path, value, code, words):
    with pytest.raises(Refusal) as caught:
        linkage_from(changed(path, value))
    assert len(caught.value.problems) == 1
    problem = caught.value.problems[0]
    assert (problem.code, problem.field) == (code, path if code != "shock_extends" else "shock_foot_mm")
    assert words in problem.text


@pytest.mark.parametrize(
    ("change", "field", "code"),
    [
        ({"wheel_travel_mm": 490}, "rear.leverage", "past_reach"),
        ({"leverage": {**SPORTS, "axle_mm": [-677.9]}}, "rear.leverage.axle_mm", "not_a_point"),
        ({"leverage": {**SPORTS, "axle_mm": [-677.9, 9000]}}, "rear.leverage.axle_mm.1", "out_of_band"),
        ({"leverage": {**SPORTS, "rocker": {"on": "wheel"}}}, "rear.leverage.rocker.on", "unknown_kind"),
        ({"leverage": changed("rocker.rod_length_mm", 0)}, "rear.leverage.rocker.rod_length_mm", "out_of_band"),
        ({"leverage": changed("shock_extended_mm", 900)}, "rear.leverage.shock_extended_mm", "out_of_reach"),
    ],
)
def test_an_end_with_an_impossible_linkage_is_refused_by_its_field(change, field, code):
    with pytest.raises(Refusal) as caught:
        evaluate_rear({**REAR, **change})
    assert {problem.field: problem.code for problem in caught.value.problems}[field] == code
