"""A thousand pairs of edits in the same moment: no update is lost, and each loser is shown both versions."""

from __future__ import annotations

import threading

import pytest
from django.db import connections

from setups.models import Customer
from shops.access import everywhere
from shops.models import AuditEntry
from tests import factories

pytestmark = pytest.mark.django_db(transaction=True)
PAIRS = {"customers": 400, "riders": 200, "tools": 200, "bikes": 160, "cards": 40}
"""A card's answer is computed anew each time, so of those there are few."""
FIELD = {"customers": "notes", "riders": "name", "tools": "name", "bikes": "notes", "cards": "complaint"}
PATIENCE_S = 60


def both(work, rounds):
    """Let two threads do round after round of `work(side, round)` in step; return what they returned, by round."""
    gate, found = threading.Barrier(2), [[None, None] for _ in range(rounds)]

    def one(side):
        for number in range(rounds):
            gate.wait(PATIENCE_S)
            try:
                found[number][side] = work(side, number)
            except Exception as error:
                found[number][side] = error
        connections.close_all()

    threads = [threading.Thread(target=one, args=(side,)) for side in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return found


@pytest.fixture
def row_of(shop, technician):
    card = factories.JobCardFactory(shop=shop, opened_by=technician)
    tool = factories.ToolFactory(shop=shop)
    return {
        "customers": card.customer_id,
        "riders": card.rider_id,
        "bikes": card.bike_id,
        "cards": card.pk,
        "tools": tool.pk,
    }


@pytest.mark.parametrize("kind", PAIRS)
def test_of_every_pair_one_is_saved_and_the_other_is_told_412_with_both(
    kind, row_of, client_for, technician, second_technician
):
    address, field = f"/api/{kind}/{row_of[kind]}/", FIELD[kind]
    clients = [client_for(technician), client_for(second_technician)]

    def edit(side, number):
        body = {field: f"{number} by {side}"}
        return clients[side].patch(address, body, format="json", HTTP_IF_MATCH=f'"{number + 1}"')

    for number, answers in enumerate(both(edit, PAIRS[kind])):
        assert sorted(getattr(answer, "status_code", repr(answer)) for answer in answers) == [200, 412], number
        winner = next(side for side in (0, 1) if answers[side].status_code == 200)
        saved, refused = answers[winner].json(), answers[1 - winner].json()
        assert (saved["version"], saved[field]) == (number + 2, f"{number} by {winner}")
        assert refused["yours"] == {field: f"{number} by {1 - winner}"}
        assert (refused["theirs"]["version"], refused["theirs"][field]) == (number + 2, f"{number} by {winner}")
    # One line in the trail for each saved edit: none was saved twice or by nobody.
    changes = everywhere(AuditEntry, why="this test").filter(verb__startswith="change", subject_id=row_of[kind])
    assert changes.filter(subject={"bikes": "bike", "cards": "jobcard"}.get(kind, kind[:-1])).count() == PAIRS[kind]


def test_every_post_retried_at_once_makes_one_row(client_for, technician):
    clients = [client_for(technician), client_for(technician)]

    def post(side, number):
        body = {"name": f"Orla Venn {number}"}
        return clients[side].post("/api/customers/", body, format="json", HTTP_IDEMPOTENCY_KEY=f"retry-{number}")

    for number, answers in enumerate(both(post, 100)):
        assert [getattr(answer, "status_code", repr(answer)) for answer in answers] == [201, 201], number
        assert answers[0].json() == answers[1].json()
    assert everywhere(Customer, why="this test").filter(name__startswith="Orla Venn").count() == 100


