"""What a workshop really sends wrong: each answers 400 with one clear sentence, or a note where both may be right.

A sentence says what was read with its unit, what is accepted, and what is likely to have gone wrong.
"""

from __future__ import annotations

import copy
import json

import pytest
from rest_framework.test import APIClient

from shops.models import Person
from tests.sample import LEG, LOADS, RATIO, REAR, fork, without

SPORTS = {
    "kind": "linkage",
    "pivot_mm": [-128.9, -111.6],
    "axle_mm": [-677.9, -175.4],
    "shock_top_mm": [-190.9, 16.4],
    "shock_foot_mm": [-233.6, -294.2],
    "rocker": {
        "on": "frame",
        "pivot_mm": [-138.9, -284.6],
        "rod_near_mm": [-183.3, -320.2],
        "rod_far_mm": [-305.7, -197.6],
    },
}
TURN = {"wire_mm": 4.6, "mean_diameter_mm": 34, "gap_mm": 10}
TESTED = {"kind": "tested", "deflection_mm": [10, 20, 30, 40], "force_n": [46, 91, 139, 184]}
BARE = {**without(REAR, *LOADS), "leverage": RATIO}
SURE = {field: {"from": "measured"} for field in ("leverage", "spring", "preload_mm", "unsprung_kg", "gas_force_n")}


@pytest.fixture(autouse=True)
def _quiet(caplog):
    caplog.set_level("CRITICAL", "django.request")


@pytest.fixture
def send():
    client = APIClient(raise_request_exception=False)
    client.force_authenticate(Person(pk=1, email="ansel@springwell.example", name="Ansel Thorpe"))

    def sent(name, body):
        return client.post(f"/api/calc/{name}/", json.dumps(body), content_type="application/json")

    return sent


def lever(**rocker):
    return {"use": "curve", "wheel_travel_mm": 100, "leverage": {**SPORTS, "rocker": {**SPORTS["rocker"], **rocker}}}


def with_spring(spring):
    return {"front": fork({**LEG, "spring": spring})}


def smoothed(**change):
    return {"use": "smooth", "wheel_mm": [0, 30, 60, 90, 120], "shock_mm": [0, 10, 20, 31, 42], **change}


WOUND = {"kind": "wound", "shear_modulus_gpa": 79, "turns": [TURN] * 24}
LINKAGES = [
    (lever(rod_length_mm=900), "rocker.rod_length_mm", ["900 mm", "131.2 and 245 mm", "eye to eye?"]),
    (lever(rod_length_mm=20), "rocker.rod_length_mm", ["20 mm", "131.2 and 245 mm", "eye to eye?"]),
    (lever(rod_length_mm=0), "rocker.rod_length_mm", ["0 mm for the rod's length", "1 to 1000 mm", "left at zero?"]),
    (lever(rod_far_mm=[-183.3, -320.2]), "rocker.rod_far_mm", ["The rod has no length", "same point", "in mm"]),
    ({**lever(), "wheel_travel_mm": 400}, "", ["400 mm", "up to 153 mm of wheel travel", "check its points"]),
]


@pytest.mark.parametrize(("body", "field", "said"), LINKAGES)
def test_a_linkage_that_cannot_be(send, body, field, said):
    problem = only(send("leverage", body), f"leverage.{field}".rstrip("."))
    assert_said(problem, said)
    rear = {**REAR, "wheel_travel_mm": body["wheel_travel_mm"], "leverage": body["leverage"]}
    inside = only(send("evaluate", {"rear": rear}), f"rear.leverage.{field}".rstrip("."))
    assert inside["text"] == problem["text"]


def wound(gap):
    return with_spring({**WOUND, "turns": [{**TURN, "gap_mm": gap}, *[TURN] * 23]})


SPRINGS = [
    (wound(-2), "turns.0.gap_mm", ["-2 mm for the gap", "more than 0, up to 100 mm", "did you mean 2?"]),
    (wound(0), "turns.0.gap_mm", ["0 mm for the gap", "leave out those that lie closed", "more than 0"]),
    (wound(140), "turns.0.gap_mm", ["140 mm for the gap", "100 mm accepted", "did you mean 14"]),
    (
        with_spring({**TESTED, "force_n": [46, 91, 88, 184]}),
        "force_n.2",
        ["Reading 3 is 88 N", "not above the one before", "swapped, or did the spring buckle?"],
    ),
    (
        with_spring({**TESTED, "deflection_mm": [10, 30, 20, 40]}),
        "deflection_mm.2",
        ["Reading 3 is 20 mm", "not above the one before", "swapped"],
    ),
    (
        with_spring({**TESTED, "deflection_mm": [10, 20], "force_n": [46, 91]}),
        "force_n",
        ["2 values of a force read on the tester, in N,", "at least 3", "was a line left out?"],
    ),
    (
        with_spring({**TESTED, "force_n": [46, 91, 139]}),
        "force_n",
        ["4 deflections and 3 forces", "each deflection needs its force"],
    ),
]


@pytest.mark.parametrize(("body", "field", "said"), SPRINGS)
def test_a_spring_that_cannot_be(send, body, field, said):
    both = problems(send("evaluate", body))
    assert_said(both[f"front.legs.0.spring.{field}"], said)
    assert_said(both[f"front.legs.1.spring.{field}"], said)


@pytest.mark.parametrize(
    ("change", "field", "said"),
    [
        ({"force_n": [46, 91, 88, 184]}, "force_n.2", ["Reading 3 is 88 N", "did the spring buckle?"]),
        ({"force_n": [46]}, "force_n", ["1 value of a force read on the tester, in N, was read", "at least 3"]),
        ({"force_n": [46, 91, 139]}, "force_n", ["4 deflections and 3 forces"]),
    ],
)
def test_tester_readings_that_fall_or_are_too_few(send, change, field, said):
    assert_said(problems(send("tester", {**without(TESTED, "kind"), **change}))[field], said)


@pytest.mark.parametrize(
    ("change", "field", "said"),
    [
        ({"shock_mm": [0, 10, 20, 31]}, "shock_mm", ["5 wheel readings but 4 shock readings", "left out?"]),
        ({"wheel_mm": [5, 30, 60, 90, 120]}, "wheel_mm.0", ["first wheel reading is 5 mm", "begin at 0 mm"]),
        ({"wheel_mm": [0, 60, 30, 90, 120]}, "wheel_mm.2", ["30 mm follows 60 mm", "must rise", "swapped?"]),
        ({"shock_mm": [0, -10, -15, -19, -20]}, "shock_mm", ["do not rise", "swapped?"]),
        ({"shock_mm": [0, 10]}, "shock_mm", ["2 values of a shock reading, in mm,", "at least 4"]),
    ],
)
def test_leverage_pairs_that_cannot_be_smoothed(send, change, field, said):
    assert_said(problems(send("leverage", smoothed(**change)))[field], said)


def test_an_angle_is_written_without_a_space(send):
    problem = only(send("evaluate", {"front": fork(rake_deg=64)}), "front.rake_deg")
    assert_said(problem, ["64° for the rake", "0 to 60°", "from the ground (26° from the vertical)"])
    assert problem["unit"] == "°"


def test_loads_the_wrong_way_round(send):
    rear = {**REAR, "load_static_kg": 112, "load_rider_kg": 57}
    said = ["with the rider, 57 kg", "bike alone, 112 kg", "swapped?"]
    assert_said(only(send("evaluate", {"rear": rear}), "rear.load_rider_kg"), said)
    scales = {"static_kg": 112, "rider_kg": 57}
    assert_said(only(send("loads", {"rear": BARE, "scales": scales}), "scales.rider_kg"), said)


def test_loads_that_contradict_each_other_beyond_any_uncertainty_are_said_not_refused(send):
    body = {
        "rear": BARE,
        "sources": SURE,
        "scales": {"static_kg": 57, "rider_kg": 112},
        "sags": {"static_sag_mm": 60, "rider_sag_mm": 200},
    }
    answer = send("loads", body)
    assert answer.status_code == 200
    found = answer.json()["compared"][0]
    assert found["verdict"] == "contradict"
    assert_said(found, ["kg apart cannot both be right", "Trust neither before the cause is found."])
    assert found["causes"]
    for cause in found["causes"]:
        assert cause["text"][0].isupper()


def test_no_cause_is_offered_that_cannot_be(send):
    """A gas force, a mass or a leverage below zero explains nothing."""
    body = {"rear": BARE, "scales": {"rider_kg": 112}, "sags": {"rider_sag_mm": 200}}
    causes = send("loads", body).json()["compared"][0]["causes"]
    assert {cause["code"] for cause in causes} >= {"leverage", "spring"}
    assert not {cause["code"] for cause in causes} & {"gas_force_n", "unsprung_kg"}


def test_every_problem_of_one_request_is_told_at_once(send):
    body = copy.deepcopy({**with_spring({**TESTED, "force_n": [46, 91, 88, 184]}), "rear": REAR})
    body["rear"]["leverage"] = {**SPORTS, "rocker": {**SPORTS["rocker"], "rod_length_mm": 900}}
    body["front"]["rake_deg"] = 64
    assert {"front.rake_deg", "front.legs.0.spring.force_n.2", "rear.leverage.rocker.rod_length_mm"} <= set(
        problems(send("evaluate", body))
    )


def problems(answer):
    assert answer.status_code == 400, answer.content[:300]
    return {problem["field"]: problem for problem in answer.json()["problems"]}


def only(answer, field):
    found = problems(answer)
    assert list(found) == [field]
    return found[field]


def assert_said(problem, words):
    assert [each for each in words if each not in problem["text"]] == [], problem["text"]
    assert problem["text"].endswith((".", "?"))
