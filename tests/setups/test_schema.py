"""Every operation of setups, called with what the OpenAPI schema allows: no defect, and no undocumented answer."""

from __future__ import annotations

import json
import re

import pytest
import schemathesis
from drf_spectacular.generators import SchemaGenerator
from hypothesis import HealthCheck, given, settings

from tests.factories import (
    CustomerFactory,
    JobCardFactory,
    PartLineFactory,
    ReadingFactory,
    SettingFactory,
    TorqueLineFactory,
)

ROOMS = re.compile(r"/api/(customers|riders|kinds|bikes|cards)/")
RECORDS = re.compile(r"/(record|seal|links|amendments)")


def operations():
    schema = schemathesis.openapi.from_dict(SchemaGenerator().get_schema(request=None, public=True))
    found = [result.ok() for result in schema.get_all_operations()]
    return [one for one in found if ROOMS.match(one.path) and not RECORDS.search(one.path)]


OPERATIONS = operations()


@pytest.fixture
def ids(shop, business):
    """Return real ids for the addresses, by the collection or the parameter's name."""
    card = JobCardFactory(shop=shop)
    SettingFactory(card=card)
    return {
        "cards": card.pk,
        "bikes": card.bike_id,
        "riders": card.rider_id,
        "customers": CustomerFactory(business=business).pk,
        "kinds": business.kinds.first().pk,
        "rid": ReadingFactory(card=card).pk,
        "tid": TorqueLineFactory(card=card).pk,
        "lid": PartLineFactory(card=card).pk,
    }


def address(operation, ids, generated):
    """Return the operation's address with real ids where it asks for one, generated words elsewhere."""
    room = ROOMS.match(operation.path)[1]
    words = {"stage": "received", "end": "rear", "key": "first_ride"}

    def filled(found):
        name = found[1]
        return str(ids[room] if name in ("id", "pk") else ids.get(name) or words.get(name) or generated[name])

    return re.sub(r"{(\w+)}", filled, operation.path)


@pytest.mark.parametrize("operation", OPERATIONS, ids=lambda one: one.label)
def test_what_the_schema_allows_is_answered_as_it_says(operation, technician_client, ids):
    technician_client.raise_request_exception = False
    documented = {int(code) for code in operation.definition.raw["responses"]}

    @settings(max_examples=5, database=None, deadline=None, suppress_health_check=list(HealthCheck))
    @given(case=operation.as_strategy())
    def called(case):
        body = case.body if isinstance(case.body, dict | list | str | int | float) else {}
        headers = {"If-Match": '"1"'} if operation.method.upper() in ("PATCH", "PUT", "DELETE") else {}
        answer = technician_client.generic(
            operation.method.upper(),
            address(operation, ids, case.path_parameters or {}),
            json.dumps(body) if operation.method.upper() != "GET" else "",
            content_type="application/json",
            headers=headers,
            QUERY_STRING="",
        )
        assert answer.status_code in documented, (answer.status_code, body, answer.content[:400])

    called()


def test_every_room_is_described():
    assert {ROOMS.match(one.path)[1] for one in OPERATIONS} == {"customers", "riders", "kinds", "bikes", "cards"}
    assert len(OPERATIONS) > 30
