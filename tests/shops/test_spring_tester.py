"""A line of the spring list on the tester: its readings beside the stamp, and what cards then reckon with."""

from __future__ import annotations

import pytest

from shops.access import everywhere
from shops.models import AuditEntry, StockSpring
from tests.factories import StockSpringFactory

# 4.12 N/mm read on a spring stamped 4.4: 6.4 % below, outside the usual ±5 % (common practice, no source).
READ = {"deflection_mm": [50, 100, 150, 200], "force_n": [206, 412, 618, 824]}


@pytest.fixture
def line(shop):
    spring = {"kind": "straight", "rate_n_per_mm": 4.4, "solid_deflection_mm": 322}
    return StockSpringFactory(shop=shop, end="front", spring=spring, sort_rate_n_per_mm=4.4)


def test_a_technician_keeps_a_test_beside_the_stamp(technician_client, line):
    answer = technician_client.post(f"/api/springs/{line.pk}/test/", READ)
    assert answer.status_code == 200, answer.json()
    told = answer.json()
    assert (told["spring"]["rate_n_per_mm"], told["tested"]) == (4.4, READ)
    assert told["test"]["rate_n_per_mm"] == pytest.approx(4.12)
    assert told["test"]["stamp_difference_percent"] == pytest.approx(100 * (4.12 / 4.4 - 1))
    assert told["test"]["stamp_within_usual"] is False
    assert told["sort_rate_n_per_mm"] == pytest.approx(4.12)
    assert everywhere(AuditEntry, why="this test").filter(verb="change spring").count() == 1


def test_cards_reckon_with_the_tested_spring(technician_client, line):
    technician_client.post(f"/api/springs/{line.pk}/test/", READ)
    fresh = everywhere(StockSpring, why="this test").get(pk=line.pk)
    assert fresh.curve == {"kind": "tested", **READ, "solid_deflection_mm": 322, "stamped_n_per_mm": 4.4}


def test_a_manager_forgets_a_test(manager_client, line):
    manager_client.post(f"/api/springs/{line.pk}/test/", READ)
    version = everywhere(StockSpring, why="this test").get(pk=line.pk).version
    answer = manager_client.patch(f"/api/springs/{line.pk}/", {"tested": None}, HTTP_IF_MATCH=f'"{version}"')
    assert (answer.status_code, answer.json()["tested"], answer.json()["test"]) == (200, None, None)
    assert answer.json()["sort_rate_n_per_mm"] == 4.4


@pytest.mark.parametrize(
    ("readings", "field", "words"),
    [
        ({"deflection_mm": [50, 100], "force_n": [206, 412]}, "tested.deflection_mm", "three or more"),
        ({"deflection_mm": [50, 100, 150], "force_n": [206, 190, 618]}, "tested.force_n.1", "rises"),
        ({"deflection_mm": [50, 100, 150], "force_n": [2060, 4120, 6180]}, "tested.force_n", "N/mm"),
        ({"deflection_mm": [50, 100, 400], "force_n": [206, 412, 1648]}, "tested.solid_deflection_mm", "322 mm"),
    ],
)
def test_readings_that_no_such_spring_gives_are_refused(technician_client, line, readings, field, words):
    answer = technician_client.post(f"/api/springs/{line.pk}/test/", readings)
    assert answer.status_code == 400
    assert words in next(one["text"] for one in answer.json()["problems"] if one["field"] == field)
    assert everywhere(StockSpring, why="this test").get(pk=line.pk).tested is None
