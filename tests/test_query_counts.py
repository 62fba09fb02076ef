"""How many queries an address takes: as many for thirty rows as for three, and no more than the table says.

The table is the budget, written down beside what needs it; a change that asks row by row fails here.
"""

from __future__ import annotations

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from tests import factories

SIGN_IN = 2
"""Session and person, at every address."""
BUDGET = {
    "/api/cards/": SIGN_IN + 2,
    "/api/cards/?search=brackwater": SIGN_IN + 5,
    "/api/cards/?step=received": SIGN_IN + 2,
    "/api/cards/{card}/": SIGN_IN + 20,
    "/api/bikes/": SIGN_IN + 2,
    "/api/bikes/?search=brackwater": SIGN_IN + 5,
    "/api/bikes/{bike}/history/": SIGN_IN + 7,
    "/api/customers/": SIGN_IN + 3,
    "/api/customers/?search=quarrel": SIGN_IN + 6,
    "/api/kinds/": SIGN_IN + 2,
    "/api/people/": SIGN_IN + 2,
    "/api/tools/": SIGN_IN + 2,
    "/api/springs/": SIGN_IN + 2,
    "/api/trail/": SIGN_IN + 2,
}
"""Queries at most, by address."""


def fill(shop, technician, many):
    """Put `many` rows of everything into the shop, all cards on one bike, and return the ids of the addresses."""
    first = factories.JobCardFactory(shop=shop, opened_by=technician)
    for _ in range(many - 1):
        other = factories.JobCardFactory(shop=shop, opened_by=technician)
        factories.JobCardFactory(shop=shop, opened_by=technician, bike=first.bike, customer=first.customer)
        factories.PersonFactory(shop=shop)
        factories.AuditEntryFactory(shop=shop, person=technician)
        factories.RiderFactory(customer=other.customer)
    for _ in range(many):
        factories.ToolFactory(shop=shop)
        factories.StockSpringFactory(shop=shop)
        factories.ReadingFactory(card=first)
        factories.TorqueLineFactory(card=first)
        factories.PartLineFactory(card=first)
    factories.SettingFactory(card=first)
    return {"card": first.pk, "bike": first.bike_id}


def counted(client, addresses):
    told = {}
    for name, address in addresses.items():
        # Now and then a request also notes that the session was used: the one before takes that upon itself.
        client.get(address)
        with CaptureQueriesContext(connection) as asked:
            answer = client.get(address)
        assert answer.status_code == 200, (address, answer.content[:200])
        told[name] = len(asked)
    return told


@pytest.mark.django_db
def test_thirty_rows_take_as_many_queries_as_three(shop, technician, manager_client):
    few = fill(shop, technician, 3)
    before = counted(manager_client, {name: name.format(**few) for name in BUDGET})
    fill(shop, technician, 30)
    many = fill(shop, technician, 30)
    after = counted(manager_client, {name: name.format(**many) for name in BUDGET})
    # A list that has a second page is counted: one query more, however long it is.
    grown = {name: (before[name], after[name]) for name in BUDGET if after[name] > before[name] + 1}
    assert not grown
    over = {name: (after[name], most) for name, most in BUDGET.items() if after[name] > most}
    assert not over
