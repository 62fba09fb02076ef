"""Two people at one card in the same moment: one is saved, the other is shown both sides, nothing is doubled."""

from __future__ import annotations

import pytest

from setups.bodies import received_body
from setups.models import JobCard, Reading
from shops.access import everywhere
from tests.factories import SettingFactory, TorqueLineFactory, rear_data
from tests.setups.technician import Bench
from tests.shops.test_trail import in_parallel

pytestmark = pytest.mark.django_db(transaction=True)
MATCH = {"HTTP_IF_MATCH": '"1"'}


@pytest.fixture
def bench(technician_client, shop):
    return Bench(technician_client, shop)


def card_of(bench):
    return "patch", "", [{"complaint": "Dives."}, {"complaint": "Bottoms."}], MATCH


def torque_of(bench):
    line = TorqueLineFactory(card=bench.card)
    return "patch", f"torques/{line.pk}/", [{"value_nm": 21}, {"value_nm": 22}], MATCH


def setting_of(bench):
    SettingFactory(card=bench.card)
    body = received_body(rear_data(), "rear")
    return "put", "settings/received/rear/", [body | {"preload_mm": 5}, body | {"preload_mm": 6}], MATCH


def first_setting_of(bench):
    body = received_body(rear_data(), "rear")
    bodies = [body | {"preload_mm": 5}, body | {"preload_mm": 6}]
    return "put", "settings/built/rear/", bodies, {"HTTP_IF_NONE_MATCH": "*"}


@pytest.mark.parametrize("what", [card_of, torque_of, setting_of, first_setting_of])
def test_of_two_writers_at_once_one_is_saved_and_the_other_sees_both_sides(
    bench, client_for, technician, second_technician, what
):
    method, below, bodies, headers = what(bench)
    writers = [(client_for(technician), bodies[0]), (client_for(second_technician), bodies[1])]

    def write():
        client, body = writers.pop()
        return body, getattr(client, method)(f"{bench.address}{below}", body, **headers)

    found = in_parallel(write, 2)
    assert sorted(answer.status_code for _, answer in found) == [200, 412], found
    [(saved, _)] = [one for one in found if one[1].status_code == 200]
    [(sent, late)] = [one for one in found if one[1].status_code == 412]
    both = late.json()
    assert both["problems"][0]["code"] == "changed_meanwhile"
    assert both["yours"] == sent
    theirs = both["theirs"].get("body", both["theirs"])
    assert {key: theirs[key] for key in saved} == saved


@pytest.mark.parametrize(
    ("address", "body", "model"),
    [
        (
            "{card}readings/",
            {"readings": [{"stage": "received", "end": "rear", "quantity": "wheel_free_mm", "value": 640}]},
            Reading,
        ),
        ("/api/cards/", {"loose": "fork"}, JobCard),
    ],
)
def test_of_five_retries_at_once_one_makes_the_row(bench, client_for, technician, address, body, model):
    before = everywhere(model, why="this test").count()
    sent = {"customer": bench.customer.pk, **body} if "loose" in body else body

    def post():
        path = address.format(card=bench.address)
        return client_for(technician).post(path, sent, HTTP_IDEMPOTENCY_KEY="k-1")

    answers = in_parallel(post, 5)
    assert {answer.status_code for answer in answers} <= {200, 201}, answers
    # The same answer, not the same bytes: PostgreSQL keeps a kept reply's names in an order of its own.
    assert all(answer.json() == answers[0].json() for answer in answers)
    assert everywhere(model, why="this test").count() == before + 1
