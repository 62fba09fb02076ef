"""The calculations on how sure, which loads and whom a spring suits, over HTTP: nothing sent makes them fail."""

import copy

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from rest_framework.test import APIClient

from shops.models import Person
from tests.calc.test_web import (
    ANYTHING,
    FRONT,
    NASTY,
    NASTY_STEP,
    REAR,
    described_in,
    places,
    refused,
    schema,  # noqa: F401 -- a fixture
    send,
    tried_with_other_numbers,
    with_value,
)

SPRINGS = [
    {"id": "a", "label": "3.8", "spring": {"kind": "straight", "rate_n_per_mm": 3.8}},
    {
        "id": 2,
        "label": "",
        "spring": {"kind": "dual", "soft_n_per_mm": 3.6, "hard_n_per_mm": 5, "change_mm": 90},
    },
]
SHOCK = [{"id": 1, "label": "52", "spring": {"kind": "straight", "rate_n_per_mm": 52, "solid_deflection_mm": 120}}]
IN_FRONT = {"target_static_sag_mm": [15, 40], "target_rider_sag_mm": [45, 75]}
BEHIND = {"target_static_sag_mm": [10, 35], "target_rider_sag_mm": [85, 110]}
STAMPED = {"spring": {"from": "stamped", "u": 3}, "load_rider_kg": {"from": "measured"}, "preload_mm": None}
BARE = {key: value for key, value in REAR.items() if not key.startswith("load_")}
GOOD = {
    "uncertainty": [
        {"front": FRONT, "sources": STAMPED, "springs": SPRINGS, "adjuster_mm": [0, 30], **IN_FRONT},
        {"rear": REAR, "sources": None},
    ],
    "loads": [
        {
            "rear": BARE,
            "sources": STAMPED,
            "scales": {"static_kg": 60, "rider_kg": 140, "u_kg": 0.5},
            "rider": {"mass_kg": 84, "share": 0.65, "alone_kg": 57, "u_kg": None},
            "sags": {"static_sag_mm": 30, "rider_sag_mm": 100, "u_mm": 1},
        },
    ],
    "suits": [{"front": FRONT, "rider_share": 0.4, "rider_mass_kg": 80, "springs": SPRINGS, **IN_FRONT}],
    "cases": [
        {
            "rear": REAR,
            "cases": [{"label": "solo", "load_kg": 112}, {"label": "", "load_kg": 160}],
            "target_rider_sag_mm": [85, 110],
            "adjuster_mm": [0, 20],
        }
    ],
    "window": [
        {"rear": REAR, "rates_n_per_mm": [30, 80], "adjuster_mm": [0, 20], **BEHIND},
        {"front": FRONT, **IN_FRONT},
    ],
}
GOOD["suits"].append({"rear": REAR, "rider_share": 0.65, "springs": SHOCK, **BEHIND})
CASES = [(name, request) for name, requests in GOOD.items() for request in requests]


@pytest.fixture(autouse=True)
def _quiet(caplog):
    caplog.set_level("CRITICAL", "django.request")


@pytest.fixture
def client():
    signed_in = APIClient(raise_request_exception=False)
    signed_in.force_authenticate(Person(pk=1, email="ansel@springwell.example", name="Ansel Thorpe"))
    return signed_in


@pytest.mark.parametrize(("name", "request_"), CASES)
def test_a_good_request_is_answered(client, name, request_):
    answer = send(client, name, request_)
    assert answer.status_code == 200, answer.content[:500]
    assert b"NaN" not in answer.content
    assert b"Infinity" not in answer.content


@pytest.mark.django_db
@pytest.mark.parametrize("name", list(GOOD))
def test_nobody_signed_in_is_refused(anonymous, name):
    assert send(anonymous, name, GOOD[name][0]).status_code == 401


@pytest.mark.parametrize("name", list(GOOD))
@pytest.mark.parametrize("body", ["", "null", "[]", "{}", '"text"', "12", '{"rear": 1}', '{"front": {}, "rear": {}}'])
def test_bodies_of_no_use_are_refused(client, name, body):
    refused(send(client, name, body))


@pytest.mark.parametrize(("name", "request_"), CASES)
def test_no_value_anywhere_makes_it_fail(client, name, request_):
    for index, path in enumerate(places(request_)):
        for nasty in NASTY[index % NASTY_STEP :: NASTY_STEP]:
            answer = send(client, name, with_value(request_, path, nasty))
            if answer.status_code != 200:
                refused(answer)


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_no_combination_makes_it_fail(client, data):
    name, request = data.draw(st.sampled_from(CASES))
    path = data.draw(st.sampled_from(list(places(request))))
    answer = send(client, name, with_value(request, path, data.draw(ANYTHING)))
    assert answer.status_code in (200, 400)


@settings(max_examples=80, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_no_number_makes_it_fail_or_answer_what_json_cannot_hold(client, data):
    tried_with_other_numbers(client, CASES, data)


@pytest.mark.parametrize("name", list(GOOD))
def test_the_schema_names_every_field_answered(client, schema, name):  # noqa: F811
    operation = schema["paths"][f"/api/calc/{name}/"]["post"]
    assert {"400", "401", "403"} <= set(operation["responses"])
    for request in GOOD[name]:
        described_in(schema, name, send(client, name, request).json())


def test_a_source_of_the_other_end_is_refused(client):
    request = copy.deepcopy(GOOD["uncertainty"][1])
    request["sources"] = {"rake_deg": {"from": "measured"}}
    assert "sources.rake_deg" in refused(send(client, "uncertainty", request))
