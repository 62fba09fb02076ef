"""Loads three ways: the bike as its own scale against the tests' second solver, disagreements against by-hand sums."""

import copy
import json

import numpy as np
import pytest
from rest_framework.test import APIClient
from scipy.optimize import minimize_scalar

from calc.loads import loads
from calc.refusal import Refusal
from shops.models import Person
from tests import sample
from tests.calc.oracle import FrontEnd, G, RearEnd, solve
from tests.sample import LOADS, fork, without

LEG = {**sample.LEG, "air_gap_mm": 130}
FRONT = without(fork(LEG), *LOADS)
REAR = {
    **without(sample.REAR, *LOADS),
    "leverage": sample.RATIO,
    "spring": {"kind": "straight", "rate_n_per_mm": 62},
    "preload_mm": 3,
}
TABLE = {**REAR, "leverage": {"kind": "table", "wheel_mm": [0, 100, 200, 300], "shock_mm": [0, 32, 67, 106]}}
MEASURED = {field: {"from": "measured"} for field in ("spring", "preload_mm", "leverage", "gas_force_n", "unsprung_kg")}


@pytest.mark.parametrize(("name", "end"), [("front", FRONT), ("rear", REAR), ("rear", TABLE)])
def test_a_sag_solved_by_the_second_solver_gives_its_load_back(name, end):
    stated = {"load_static_kg": 61.3, "load_rider_kg": 103.7}
    sags = solve(name, {**end, **stated})
    read = {key: sags[key] for key in ("static_sag_mm", "rider_sag_mm")}
    told = loads({name: end, "sags": read})["ways"]["sags"]
    assert told["static_kg"] == pytest.approx(61.3, abs=1e-3)
    assert told["rider_kg"] == pytest.approx(103.7, abs=1e-3)


def test_a_sags_load_is_as_sure_as_the_linear_law_says():
    """JCGM 100:2008, equation 10, with differences of the second solver."""
    own = {"spring": 1.0, "preload_mm": 0.5, "leverage": 1.5, "gas_force_n": 10, "unsprung_kg": 0.5}
    sources = {field: {"from": "measured", "u": u} for field, u in own.items()}
    told = loads({"rear": REAR, "sources": sources, "sags": {"rider_sag_mm": 100, "u_mm": 1.2}})["ways"]["sags"]

    def load(**off):
        end = copy.deepcopy(REAR)
        end["spring"]["rate_n_per_mm"] *= 1 + off.get("spring", 0) / 100
        end["leverage"]["wheel_per_shock"] *= 1 + off.get("leverage", 0) / 100
        for field in ("preload_mm", "gas_force_n", "unsprung_kg"):
            end[field] += off.get(field, 0)
        solver, sag = RearEnd(end), 0.1 + off.get("sag", 0)
        return (solver.springs(sag) + solver.air(sag, 1.0)) / G + end["unsprung_kg"]

    parts = {**own, "sag": 0.0012}
    variance = sum(((load(**{field: u}) - load(**{field: -u})) / 2) ** 2 for field, u in parts.items())
    assert told["rider_kg"] == pytest.approx(load(), abs=1e-3)
    assert told["rider_u_kg"] == pytest.approx(variance**0.5, rel=1e-3)


def test_a_rakes_error_moves_the_forks_load():
    sources = {field: {"from": "measured", "u": 0} for field in (
        "unsprung_kg", "spring", "preload_mm", "seal_diameter_mm", "bore_diameter_mm", "air_gap_mm", "solids_cm3",
    )}  # fmt: skip
    sources["rake_deg"] = {"from": "measured", "u": 1}
    told = loads({"front": FRONT, "sources": sources, "sags": {"rider_sag_mm": 60, "u_mm": 0}})["ways"]["sags"]
    up, down = (FrontEnd({**FRONT, "rake_deg": 26.5 + off}) for off in (1, -1))
    by_hand = abs(up.springs(0.06) + up.air(0.06, 1) - down.springs(0.06) - down.air(0.06, 1)) / 2 / G
    assert told["rider_u_kg"] == pytest.approx(by_hand, rel=1e-4)


def test_the_riders_share_adds_up():
    told = loads({"rear": REAR, "rider": {"mass_kg": 80, "share": 0.65, "alone_kg": 57, "u_kg": 1, "share_u": 0.04}})
    assert told["ways"]["rider"]["rider_kg"] == pytest.approx(57 + 52)
    by_hand = (0.6**2 + (80 * 0.04) ** 2 + 0.65**2) ** 0.5
    assert told["ways"]["rider"]["rider_u_kg"] == pytest.approx(by_hand, rel=1e-5)


def test_ways_that_agree_say_so_and_need_no_cause():
    sags = solve("rear", {**REAR, "load_static_kg": 57, "load_rider_kg": 112})
    request = {
        "rear": REAR,
        "sources": MEASURED,
        "scales": {"static_kg": 57.4, "rider_kg": 111.5},
        "rider": {"mass_kg": 84, "share": 0.66},
        "sags": {key: sags[key] for key in ("static_sag_mm", "rider_sag_mm")},
    }
    found = loads(request)
    assert [each["verdict"] for each in found["compared"]] == ["agree"] * 3
    assert [each["causes"] for each in found["compared"]] == [[], [], []]
    assert found["best"] == {"static_kg": 57.4, "static_from": "scales", "rider_kg": 111.5, "rider_from": "scales"}


def faulty(**wrong):
    """Return the comparison of true scales with the sags of a bike that truly differs from what is stated."""
    true = copy.deepcopy(REAR)
    true["spring"]["rate_n_per_mm"] *= wrong.get("spring", 1)
    true["leverage"]["wheel_per_shock"] *= wrong.get("leverage", 1)
    true["preload_mm"] += wrong.get("preload_mm", 0)
    sags = solve("rear", {**true, "load_static_kg": 57, "load_rider_kg": 112})
    read = {key: sags[key] + wrong.get("friction_mm", 0) for key in ("static_sag_mm", "rider_sag_mm")}
    scale = wrong.get("scale_kg", 0)
    sources = {**MEASURED, **wrong.get("sources", {})}
    scales = {"static_kg": 57 + scale, "rider_kg": 112 + scale, "u_kg": wrong.get("scale_u_kg", 0.6)}
    return loads({"rear": REAR, "sources": sources, "scales": scales, "sags": read})["compared"][0]


@pytest.mark.parametrize(
    ("wrong", "code", "change"),
    [
        ({"spring": 0.88, "sources": {"spring": {"from": "stamped"}}}, "spring", -12),
        ({"leverage": 1.2, "sources": {"leverage": {"from": "assumed"}}}, "leverage", 20),
        ({"preload_mm": 8, "sources": {"preload_mm": {"from": "assumed"}}}, "preload_mm", 8),
    ],
)
def test_the_guilty_figure_is_ranked_first_and_by_how_much_it_is_off(wrong, code, change):
    found = faulty(**wrong)
    assert found["verdict"] in ("differ", "contradict")
    first = found["causes"][0]
    assert first["code"] == code
    assert first["change"] == pytest.approx(change, rel=0.25)
    assert [each["misfit"] for each in found["causes"]] == sorted(each["misfit"] for each in found["causes"])


@pytest.mark.parametrize(
    ("unsure", "code"),
    [
        ({"scale_u_kg": 3, "sources": {"preload_mm": {"from": "measured", "u": 0.1}}}, "scale"),
        ({"sources": {"preload_mm": {"from": "measured", "u": 1.5}}}, "preload_mm"),
    ],
)
def test_of_two_that_shift_both_loads_alike_the_less_sure_is_blamed(unsure, code):
    """A scale's zero and a straight spring's preload add the same load to both states."""
    assert faulty(scale_kg=9, **unsure)["causes"][0]["code"] == code


def test_a_contradiction_beyond_any_uncertainty_is_said_plainly():
    found = faulty(scale_kg=25)
    assert found["verdict"] == "contradict"
    assert found["times_u"] > 4
    assert "cannot both be right" in found["text"]
    assert found["static_apart_kg"] == pytest.approx(-25, abs=0.01)


def test_the_ranking_is_the_best_of_a_least_squares_search():
    """Each cause's change minimises the misfit: SciPy's minimiser finds none lower."""
    found = faulty(spring=0.85, sources={"spring": {"from": "stamped"}})
    wheel_rate = 62 / 2.8**2
    # Half of each reading's variance is its own, half is common: friction in the sags, the scale's zero.
    noise = np.hypot(wheel_rate * 1.0 / G, 0.6) / 2**0.5
    gap = np.array([found["static_apart_kg"], found["rider_apart_kg"]])
    sprung = np.array([57 - 22, 112 - 22]) + gap
    # A rate off by one uncertainty moves the spring's part of the load by 2.9 %.
    adds = 0.029 * (sprung - 250 / 2.8 / G)
    best = minimize_scalar(lambda t: float(np.sum((gap + adds * t) ** 2 / noise**2) + t**2))
    first = next(each for each in found["causes"] if each["code"] == "spring")
    assert first["change"] == pytest.approx(best.x * 2.9, rel=2e-3)
    assert first["misfit"] == pytest.approx(best.fun, rel=5e-3)


@pytest.mark.parametrize(
    ("more", "field"),
    [
        ({}, ""),
        ({"scales": {}}, "scales.static_kg"),
        ({"scales": {"static_kg": 60, "rider_kg": 50}}, "scales.rider_kg"),
        ({"rider": {"mass_kg": 80, "share": 0.6}}, "rider.alone_kg"),
        ({"rider": {"mass_kg": 800, "share": 0.6, "alone_kg": 57}}, "rider.mass_kg"),
        ({"sags": {}}, "sags.static_sag_mm"),
        ({"sags": {"static_sag_mm": 90, "rider_sag_mm": 30}}, "sags.rider_sag_mm"),
        ({"sags": {"rider_sag_mm": 310}}, "sags.rider_sag_mm"),
    ],
)
def test_what_cannot_be_is_refused_with_its_field(more, field):
    with pytest.raises(Refusal) as refused:
        loads({"rear": REAR, **more})
    assert field in [problem.field for problem in refused.value.problems]


def test_it_answers_over_http_as_the_function_does():
    client = APIClient()
    client.force_authenticate(Person(pk=1, email="ansel@springwell.example", name="Ansel Thorpe"))
    for request in (
        {"front": FRONT, "scales": {"static_kg": 58}, "sags": {"static_sag_mm": 20, "rider_sag_mm": 55}},
        {"rear": REAR, "sources": MEASURED, "scales": {"rider_kg": 140}, "sags": {"rider_sag_mm": 90}},
    ):
        answer = client.post("/api/calc/loads/", json.dumps(request), content_type="application/json")
        assert answer.status_code == 200, answer.content
        assert answer.json() == loads(request)
