"""How many queries an address takes: as many for a hundred rows as for ten, and no more than the table says.

The table is the budget, written down beside what needs it; a change that asks row by row fails here.
"""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from setups.approval_models import Override
from setups.models import BatchUse, SealedRecord
from shops import hands
from tests import factories

SIGN_IN = 2
"""Session and person, at every address."""
BUDGET = {
    "/api/cards/": SIGN_IN + 2,
    "/api/cards/?search=brackwater": SIGN_IN + 4,
    "/api/cards/?step=received": SIGN_IN + 2,
    "/api/cards/?page=after-{last}": SIGN_IN + 3,
    "/api/cards/{card}/": SIGN_IN + 20,
    "/api/bikes/": SIGN_IN + 2,
    "/api/bikes/?search=brackwater": SIGN_IN + 3,
    "/api/bikes/?page=after-{bike}": SIGN_IN + 3,
    "/api/bikes/{bike}/history/": SIGN_IN + 7,
    "/api/customers/": SIGN_IN + 3,
    "/api/customers/?search=quarrel": SIGN_IN + 4,
    "/api/kinds/": SIGN_IN + 2,
    "/api/people/": SIGN_IN + 2,
    "/api/tools/": SIGN_IN + 2,
    "/api/springs/": SIGN_IN + 2,
    "/api/trail/": SIGN_IN + 2,
    "/api/trail/?subject=jobcard&subject_id={card}": SIGN_IN + 2,
    "/api/audit/unchecked/": SIGN_IN + 2,
    "/api/audit/unsourced/": SIGN_IN + 2,
    "/api/audit/uncalibrated/": SIGN_IN + 4,
    "/api/audit/tools/": SIGN_IN + 2,
    "/api/audit/late/": SIGN_IN + 2,
    "/api/audit/overridden/": SIGN_IN + 2,
    "/api/audit/amended/": SIGN_IN + 4,
    "/api/audit/recalled/?batch=q4": SIGN_IN + 2,
    "/api/audit/sags/": SIGN_IN + 2,
    "/api/audit/sags/?since=2020-01-01": SIGN_IN + 4,
    "/api/audit/trail/": SIGN_IN + 6,
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
        audited(other)
    for _ in range(many):
        factories.ToolFactory(shop=shop)
        factories.StockSpringFactory(shop=shop)
        factories.ReadingFactory(card=first)
        factories.TorqueLineFactory(card=first)
        factories.PartLineFactory(card=first)
    factories.SettingFactory(card=first)
    return {"card": first.pk, "bike": first.bike_id, "last": other.pk}


def audited(card):
    """Give the card what every list of the audit looks for."""
    shop, person, now = card.shop, card.opened_by, timezone.now()
    factories.TorqueLineFactory(
        card=card, value_nm=20, tightened_by=person, tightened_at=now, wrench=factories.ToolFactory(shop=shop)
    )
    factories.JobCardFactory(shop=shop, opened_by=person, opened_at=now - timedelta(days=40))
    factories.BuiltSagFactory(card=card, model_key=f"model {card.pk}")
    Override.objects.create(card=card, code="not_checked", about="x", text="x", reason="x", by=person)
    BatchUse.objects.create(
        business=shop.business, shop=shop, card=card, what="oil", batch="Q 4", batch_key="q4", label="5 W"
    )
    text = '{"amendment": {"new": "Wallows.", "old": "Dives.", "path": "complaint", "why": "Misheard."}}'
    SealedRecord.objects.create(
        shop=shop, card=card, what="amendment", number=card.pk, public=text, internal='{"amendment": null}',
        head=f"{card.pk:064x}", sealed_by=person, sealed_at=now,
    )  # fmt: skip


def counted(client, addresses):
    told = {}
    for name, address in addresses.items():
        with CaptureQueriesContext(connection) as asked:
            answer = client.get(address)
        assert answer.status_code == 200, (address, answer.content[:200])
        told[name] = len(asked)
    return told


@pytest.mark.django_db
def test_a_hundred_rows_take_as_many_queries_as_ten(shop, technician, manager_client, monkeypatch):
    # On a slow machine any request may be the one that notes that the session was used.
    monkeypatch.setattr(hands, "_NOTED_EVERY_S", 10**6)
    few = fill(shop, technician, 10)
    manager_client.get("/api/shops/")
    before = counted(manager_client, {name: name.format(**few) for name in BUDGET})
    many = fill(shop, technician, 90)
    after = counted(manager_client, {name: name.format(**many) for name in BUDGET})
    # A list that has a second page is counted: one query more, however long it is.
    grown = {name: (before[name], after[name]) for name in BUDGET if after[name] > before[name] + 1}
    assert not grown
    over = {name: (after[name], most) for name, most in BUDGET.items() if after[name] > most}
    assert not over
