"""A drag answered from what is sent alone: the numbers that the card gives, in the picture that it began with."""

from __future__ import annotations

import re
from copy import deepcopy

import pint
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from setups.bodies import received_body
from tests.factories import (
    BikeFactory,
    CustomerFactory,
    JobCardFactory,
    ReadingFactory,
    SettingFactory,
    front_data,
    rear_data,
)
from tests.setups.technician import at

pytestmark = pytest.mark.django_db

PRELOAD = {"front": ["legs.0.preload_mm", "legs.1.preload_mm"], "rear": ["preload_mm"]}


@pytest.fixture
def card(shop):
    customer = CustomerFactory(business=shop.business)
    made = JobCardFactory(shop=shop, customer=customer, bike=BikeFactory(business=shop.business, owner=customer))
    for end, alone, ridden in (("front", 58, 88), ("rear", 57, 112)):
        ReadingFactory(card=made, stage="received", end=end, quantity="axle_alone_kg", value=alone)
        ReadingFactory(card=made, stage="received", end=end, quantity="axle_rider_kg", value=ridden)
        SettingFactory(card=made, stage="received", end=end, body=body_of(end))
    return made


def body_of(end):
    return received_body(front_data() if end == "front" else rear_data(), end)


def previewed(client, card, end, body):
    asked = {end: {"body": body}, "against": "received"}
    return client.post(f"/api/cards/{card.pk}/preview/", asked).json()[end]


@pytest.mark.parametrize("end", ["front", "rear"])
def test_a_drag_answers_what_a_preview_of_the_same_value_answers(technician_client, card, end):
    basis = previewed(technician_client, card, end, body_of(end))["basis"]
    turned = body_of(end)
    for path in PRELOAD[end]:
        turned = at(turned, path, 4.5)
    asked = {"basis": basis, "values": dict.fromkeys(PRELOAD[end], 4.5)}
    followed = technician_client.post("/api/follow/", asked)
    assert followed.status_code == 200
    wanted = previewed(technician_client, card, end, turned)
    for key in ("result", "verdict", "damping"):
        assert followed.json()[key] == wanted[key]


def test_the_picture_keeps_the_scale_that_the_drag_began_with(technician_client, card):
    first = previewed(technician_client, card, "front", body_of("front"))
    values = {"legs.0.spring.rate_n_per_mm": 6.4, "legs.1.spring.rate_n_per_mm": 6.4}
    side = technician_client.post("/api/follow/", {"basis": first["basis"], "values": values}).json()
    scale = re.compile(r'data-force-max="[^"]*"')
    assert scale.findall(side["picture"]) == scale.findall(first["picture"])
    assert "6.4 N/mm" in side["picture"]


def test_nothing_but_the_session_is_read(technician_client, card):
    basis = previewed(technician_client, card, "rear", body_of("rear"))["basis"]
    asked = {"basis": basis, "values": {"preload_mm": 5}}
    technician_client.post("/api/follow/", asked)
    with CaptureQueriesContext(connection) as read:
        technician_client.post("/api/follow/", asked)
    assert {re.search(r'FROM "(\w+)"', each["sql"])[1] for each in read.captured_queries} <= {
        "django_session", "shops_person", "shops_shop", "shops_business",
    }  # fmt: skip


def test_a_value_that_cannot_be_is_a_problem_at_its_place_and_gives_no_verdict(technician_client, card):
    basis = previewed(technician_client, card, "rear", body_of("rear"))["basis"]
    side = technician_client.post("/api/follow/", {"basis": basis, "values": {"spring.rate_n_per_mm": -1}}).json()
    assert (side["result"], side["picture"], side["verdict"]["code"]) == (None, None, "unknown")
    assert [problem["field"] for problem in side["problems"]] == ["spring.rate_n_per_mm"]


@pytest.mark.parametrize("path", ["leverage", "legs.7.preload_mm", "spring.kind", "load_rider_kg", "air_gap_mm", ""])
def test_a_path_that_is_nothing_to_drag_is_refused(technician_client, card, path):
    basis = previewed(technician_client, card, "rear", body_of("rear"))["basis"]
    answer = technician_client.post("/api/follow/", {"basis": basis, "values": {path: 5}})
    assert answer.status_code == 400
    assert answer.json()["problems"][0]["code"] == "unknown_field"


def test_a_basis_of_both_ends_or_none_is_refused(technician_client, card):
    basis = previewed(technician_client, card, "rear", body_of("rear"))["basis"]
    both = {**basis, "front": previewed(technician_client, card, "front", body_of("front"))["basis"]["front"]}
    none = {key: value for key, value in basis.items() if key != "rear"}
    for wrong in (both, none):
        assert technician_client.post("/api/follow/", {"basis": wrong, "values": {}}).status_code == 400


def test_the_persons_units_are_the_pictures(technician_client, technician, card):
    technician.units = {**technician.units, "force": "lbf", "length": "in"}
    technician.save()
    first = previewed(technician_client, card, "rear", body_of("rear"))
    asked = {"basis": deepcopy(first["basis"]), "values": {"preload_mm": 5}}
    for svg in (first["picture"], technician_client.post("/api/follow/", asked).json()["picture"]):
        assert "Force at the wheel, lbf" in svg
        assert "Wheel travel, vertical, in" in svg


def test_what_is_said_of_a_drag_is_in_the_persons_units_too(technician_client, technician, card):
    """A picture kept for a metric reader must not be shown to another one; pint converts beside us."""
    asked = {"values": {"preload_mm": 5}}
    asked["basis"] = previewed(technician_client, card, "rear", body_of("rear"))["basis"]
    metric = technician_client.post("/api/follow/", asked).json()
    technician.units = {**technician.units, "force": "lbf", "length": "in", "rate": "lbf/in"}
    technician.save()
    stiffness = pint.UnitRegistry().Quantity(asked["basis"]["rear"]["spring"]["rate_n_per_mm"], "N/mm")
    first = previewed(technician_client, card, "rear", body_of("rear"))
    dragged = technician_client.post("/api/follow/", asked)
    for said in (first, dragged.json()):
        texts = re.findall(r">([^<]+)<", said["picture"])
        assert any(f"{stiffness.to('force_pound/inch').magnitude:.0f} lbf/in" in text for text in texts)
        told = [*texts, said["verdict"]["text"], *(note["text"] for note in said["result"]["notes"])]
        assert not [text for text in told if re.search(r"\d (mm|N/mm|N)\b", text)]
    assert re.search(r"\d mm\b", metric["verdict"]["text"])
    assert re.search(r"\d in\b", said["verdict"]["text"])
