"""A drag answered from what is sent alone: the numbers that the card gives, in the picture that it began with."""

from __future__ import annotations

import json
import re
from copy import deepcopy
from xml.etree import ElementTree

import pint
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from calc.evaluate import evaluate
from setups import following, sums
from setups.bodies import received_body
from setups.web.follow_serializers import MOST_TRIES
from setups.writing import writing_of
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

METRIC = writing_of({})
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


def followed(client, basis, *tries):
    answer = client.post("/api/follow/", {"basis": basis, "tries": list(tries)})
    assert answer.status_code == 200, answer.content
    return answer.json()


def shown(picture, changes):
    """Return a picture with what is different in it put in, read by a general XML parser: tag, attributes, text."""
    elements = list(ElementTree.fromstring(picture).iter())  # noqa: S314  # our own
    for place, values in changes.items():
        for name, value in values.items():
            if name:
                elements[int(place)].set(name, value)
            else:
                elements[int(place)].text = value
    ids = {"id", "aria-labelledby", "aria-describedby"}
    return [
        (one.tag, {name: value for name, value in one.attrib.items() if name not in ids}, (one.text or "").strip())
        for one in elements
    ]


def previewed(client, card, end, body):
    asked = {end: {"body": body}, "against": "received"}
    return client.post(f"/api/cards/{card.pk}/preview/", asked).json()[end]


@pytest.mark.parametrize("end", ["front", "rear"])
def test_a_drag_answers_what_a_preview_of_the_same_value_answers(technician_client, card, end):
    basis = previewed(technician_client, card, end, body_of(end))["basis"]
    turned = body_of(end)
    for path in PRELOAD[end]:
        turned = at(turned, path, 4.5)
    found = followed(technician_client, basis, dict.fromkeys(PRELOAD[end], 4.5))
    wanted = previewed(technician_client, card, end, turned)
    for key in ("result", "verdict", "damping"):
        assert found["tries"][0][key] == wanted[key]


@pytest.mark.parametrize("end", ["front", "rear"])
def test_several_are_answered_in_their_order_as_each_alone(technician_client, card, end):
    basis = previewed(technician_client, card, end, body_of(end))["basis"]
    tries = [dict.fromkeys(PRELOAD[end], preload) for preload in (12, 3, 8.5)]
    together = followed(technician_client, basis, *tries)
    assert together["tries"] == [followed(technician_client, basis, one)["tries"][0] for one in tries]
    sags = [one["result"]["rider_sag_mm"] for one in together["tries"]]
    assert sags[0] < sags[2] < sags[1], "more preload, less sag"


@pytest.mark.parametrize("end", ["front", "rear"])
def test_what_is_different_makes_of_the_first_picture_the_one_drawn_whole(technician_client, card, end):
    basis = previewed(technician_client, card, end, body_of(end))["basis"]
    values = dict.fromkeys(PRELOAD[end], 4.5)
    found = followed(technician_client, basis, values)
    assert found["tries"][0]["picture"] is None
    moved = deepcopy(basis)
    for path in PRELOAD[end]:
        moved[end] = at(moved[end], path, 4.5)
    ready = following._ready(json.dumps(basis, sort_keys=True), json.dumps(METRIC), "en")
    whole = following._tried(ready, values, METRIC)
    side = sums.told(ready.ground, moved[end], evaluate({end: moved[end]})[end])
    drawn = sums.beside(side, ready.ground, ready.against, METRIC, ready.held).picture
    assert whole.changes == found["tries"][0]["changes"]
    assert shown(found["picture"], found["tries"][0]["changes"]) == shown(drawn, {})
    assert shown(found["picture"], {}) != shown(drawn, {})


def test_the_picture_keeps_the_scale_that_the_drag_began_with(technician_client, card):
    first = previewed(technician_client, card, "front", body_of("front"))
    values = {"legs.0.spring.rate_n_per_mm": 6.4, "legs.1.spring.rate_n_per_mm": 6.4}
    found = followed(technician_client, first["basis"], values)
    scale = re.compile(r'data-force-max="[^"]*"')
    assert scale.findall(found["picture"]) == scale.findall(first["picture"])
    changes = found["tries"][0]["changes"]
    assert "0" not in changes, "the scale stands on the picture itself"
    assert any("6.4 N/mm" in values.get("", "") for values in changes.values())


def test_nothing_but_the_session_is_read(technician_client, card):
    basis = previewed(technician_client, card, "rear", body_of("rear"))["basis"]
    asked = {"basis": basis, "tries": [{"preload_mm": 5}]}
    technician_client.post("/api/follow/", asked)
    with CaptureQueriesContext(connection) as read:
        technician_client.post("/api/follow/", asked)
    assert {re.search(r'FROM "(\w+)"', each["sql"])[1] for each in read.captured_queries} <= {
        "django_session", "shops_person", "shops_shop", "shops_business",
    }  # fmt: skip


def test_a_value_that_cannot_be_is_a_problem_at_its_place_and_gives_no_verdict(technician_client, card):
    basis = previewed(technician_client, card, "rear", body_of("rear"))["basis"]
    fine, side = followed(technician_client, basis, {"preload_mm": 5}, {"spring.rate_n_per_mm": -1})["tries"]
    assert (fine["problems"], fine["result"] is None) == ([], False)
    assert (side["result"], side["picture"], side["changes"]) == (None, None, None)
    assert side["verdict"]["code"] == "unknown"
    assert [problem["field"] for problem in side["problems"]] == ["spring.rate_n_per_mm"]


@pytest.mark.parametrize("path", ["leverage", "legs.7.preload_mm", "spring.kind", "load_rider_kg", "air_gap_mm", ""])
def test_a_path_that_is_nothing_to_drag_is_refused(technician_client, card, path):
    basis = previewed(technician_client, card, "rear", body_of("rear"))["basis"]
    answer = technician_client.post("/api/follow/", {"basis": basis, "tries": [{"preload_mm": 5}, {path: 5}]})
    assert answer.status_code == 400
    assert answer.json()["problems"][0]["code"] == "unknown_field"


@pytest.mark.parametrize("count", [0, MOST_TRIES + 1])
def test_none_and_too_many_at_once_are_refused(technician_client, card, count):
    basis = previewed(technician_client, card, "rear", body_of("rear"))["basis"]
    answer = technician_client.post("/api/follow/", {"basis": basis, "tries": [{"preload_mm": 5}] * count})
    assert answer.status_code == 400
    assert answer.json()["problems"][0]["field"] == "tries"


def test_a_basis_of_both_ends_or_none_is_refused(technician_client, card):
    basis = previewed(technician_client, card, "rear", body_of("rear"))["basis"]
    both = {**basis, "front": previewed(technician_client, card, "front", body_of("front"))["basis"]["front"]}
    none = {key: value for key, value in basis.items() if key != "rear"}
    for wrong in (both, none):
        assert technician_client.post("/api/follow/", {"basis": wrong, "tries": [{}]}).status_code == 400


def test_the_persons_units_are_the_pictures(technician_client, technician, card):
    technician.units = {**technician.units, "force": "lbf", "length": "in"}
    technician.save()
    first = previewed(technician_client, card, "rear", body_of("rear"))
    for svg in (first["picture"], followed(technician_client, deepcopy(first["basis"]), {"preload_mm": 5})["picture"]):
        assert "Force at the wheel, lbf" in svg
        assert "Wheel travel, vertical, in" in svg


def test_what_is_said_of_a_drag_is_in_the_persons_units_too(technician_client, technician, card):
    """A picture kept for a metric reader must not be shown to another one; pint converts beside us."""
    basis = previewed(technician_client, card, "rear", body_of("rear"))["basis"]
    metric = followed(technician_client, basis, {"preload_mm": 5})
    technician.units = {**technician.units, "force": "lbf", "length": "in", "rate": "lbf/in"}
    technician.save()
    stiffness = pint.UnitRegistry().Quantity(basis["rear"]["spring"]["rate_n_per_mm"], "N/mm")
    first = previewed(technician_client, card, "rear", body_of("rear"))
    dragged = followed(technician_client, basis, {"preload_mm": 5})
    for picture, said in ((first["picture"], first), (dragged["picture"], dragged["tries"][0])):
        changed = [values[""] for values in (said.get("changes") or {}).values() if "" in values]
        texts = re.findall(r">([^<]+)<", picture)
        assert any(f"{stiffness.to('force_pound/inch').magnitude:.0f} lbf/in" in text for text in texts)
        told = [*texts, *changed, said["verdict"]["text"], *(note["text"] for note in said["result"]["notes"])]
        assert not [text for text in told if re.search(r"\d (mm|N/mm|N)\b", text)]
    assert re.search(r"\d mm\b", metric["tries"][0]["verdict"]["text"])
    assert re.search(r"\d in\b", said["verdict"]["text"])
