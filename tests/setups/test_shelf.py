"""The count on the shelf falls by what was fitted when the card is sealed, and never below none."""

from __future__ import annotations

import pytest

from setups.models import Setting
from setups.record import seal
from shops.access import everywhere
from shops.models import AuditEntry
from shops.trail import Actor
from tests.factories import StockSpringFactory
from tests.setups.record import conftest as invented_record

pytestmark = pytest.mark.django_db
make_ready_card = invented_record.make_ready_card
WHY = "a test looks at the shelf"


def build(card, stage, front=None, rear=None):
    """Name listed springs in a stage's settings: two for the fork's legs, one for the shock."""
    for end, spring in (("front", front), ("rear", rear)):
        if spring is not None:
            setting = everywhere(Setting, why=WHY).get(card=card, stage=stage, end=end)
            for holder in setting.body["legs"] if end == "front" else [setting.body]:
                holder["stock_spring"] = spring.pk
            setting.save()


@pytest.fixture
def fork(shop):
    return StockSpringFactory(shop=shop, code="F460", batch="B7", stock=5)


@pytest.fixture
def shock(shop):
    return StockSpringFactory(shop=shop, code="R52", end="rear", stock=1)


def test_two_legs_take_two_and_a_shock_one(make_ready_card, technician, fork, shock):
    card = make_ready_card()
    build(card, "built", fork, shock)
    seal.seal(Actor(technician), card)
    fork.refresh_from_db()
    shock.refresh_from_db()
    assert (fork.stock, fork.version) == (3, 2)
    assert shock.stock == 0
    line = everywhere(AuditEntry, why=WHY).get(verb="take from shelf", subject_id=fork.pk)
    assert (line.before, line.after) == ({"stock": 5}, {"stock": 3, "card": card.pk, "fitted": 2})


def test_never_below_none_and_the_trail_says_what_was_missing(make_ready_card, technician, technician_client, fork):
    fork.stock = 1
    fork.save()
    card = make_ready_card()
    build(card, "built", fork)
    [told] = technician_client.get(f"/api/cards/{card.pk}/shelf/").json()["springs"]
    assert told == {"id": fork.pk, "code": "F460", "batch": "B7", "stock": 1, "count": 2, "short": 1}
    seal.seal(Actor(technician), card)
    fork.refresh_from_db()
    assert fork.stock == 0
    assert everywhere(AuditEntry, why=WHY).get(verb="take from shelf").after["short"] == 1


def test_what_the_bike_brought_is_not_taken(make_ready_card, technician, fork):
    card = make_ready_card()
    build(card, "received", fork)
    build(card, "built", fork)
    seal.seal(Actor(technician), card)
    fork.refresh_from_db()
    assert fork.stock == 5


def test_another_shops_spring_is_not_counted(make_ready_card, technician, sister_shop):
    theirs = StockSpringFactory(shop=sister_shop, stock=5)
    card = make_ready_card()
    build(card, "built", theirs)
    seal.seal(Actor(technician), card)
    theirs.refresh_from_db()
    assert theirs.stock == 5
