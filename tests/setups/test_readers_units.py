"""What the API says is said in the units of who asks, by every way that a sentence takes; its numbers stay metric."""

from __future__ import annotations

import re

import pytest

from calc.units import FACTORS
from shops.models import default_units
from tests.setups.technician import Bench, straight

FOREIGN = {"length": "in", "rate": "lbf/in", "mass": "lb"}
METRIC = re.compile(r"\d (mm|N/mm|kg)\b")
PAIRS = {
    "end": "front",
    "wheel_free_mm": 640,
    "alone_from_above_mm": 614,
    "alone_from_below_mm": 608,
    "rider_from_above_mm": 560,
    "rider_from_below_mm": 552,
}


@pytest.fixture
def foreigner(second_technician):
    second_technician.units = {**default_units(), **FOREIGN}
    second_technician.save()
    return second_technician


@pytest.fixture
def both(client_for, technician, foreigner):
    """The same question by a reader of metric units and by one of others."""
    return client_for(technician), client_for(foreigner)


def without_words(said):
    if isinstance(said, dict):
        return {key: without_words(value) for key, value in said.items() if key != "text"}
    return [without_words(one) for one in said] if isinstance(said, list) else said


@pytest.mark.parametrize(
    ("status", "change", "key", "read"),
    [
        (400, {"rider_from_above_mm": 540}, "problems", {"540 mm": 540, "552 mm": 552}),
        (200, {"rider_from_above_mm": 592}, "notes", {"40 mm": 40}),
    ],
)
def test_a_calculations_sentences_are_in_the_askers_units_and_its_numbers_are_not(both, status, change, key, read):
    metric, other = (client.post("/api/calc/sag/", {**PAIRS, **change}, format="json") for client in both)
    assert metric.status_code == other.status_code == status
    assert without_words(metric.json()) == without_words(other.json())
    plain, told = (" ".join(one["text"] for one in answer.json()[key]) for answer in (metric, other))
    assert not METRIC.search(told)
    inches = [float(found) for found in re.findall(r"([\d.]+) in\b", told)]
    for words, value in read.items():
        assert words in plain
        assert min(abs(each - value / FACTORS["length"]["in"]) for each in inches) < 0.01, told


def test_a_value_is_refused_in_the_units_it_was_typed_in_and_no_slip_guessed_from_others(client_for, foreigner, shop):
    bench = Bench(client_for(foreigner), shop)
    answer = bench.setting("front", "legs.0.spring", straight(46))
    assert answer.status_code == 400
    (problem,) = answer.json()["problems"]
    assert problem["field"] == "legs.0.spring.rate_n_per_mm"
    assert problem["text"] == "263 lbf/in for the rate of a fork leg's spring is outside 11 to 143 lbf/in."


def test_who_reads_metric_units_is_asked_about_a_slip(technician_client, shop):
    (problem,) = Bench(technician_client, shop).setting("front", "legs.0.spring", straight(46)).json()["problems"]
    assert "46 N/mm for" in problem["text"]
    assert problem["text"].endswith("?")


def test_nobody_is_told_in_anybodys_units(client, both):
    assert both[1].post("/api/calc/sag/", {}, format="json").status_code == 400
    assert client.post("/api/calc/sag/", {}, content_type="application/json").json()["problems"][0]["code"] == "sign_in"


def test_a_files_figures_are_refused_as_they_stand_in_it(client_for, manager):
    manager.units = {**default_units(), **FOREIGN}
    manager.save()
    answer = client_for(manager).post(
        "/api/lists/springs/look/", b"code;end;rate_n_per_mm\nF1;fork;46\n", content_type="text/csv"
    )
    (problem,) = answer.json()["problems"]
    assert "46 N/mm for" in problem["text"]
    assert "did you mean 4.6" in problem["text"]
