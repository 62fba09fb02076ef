"""Which batches a card put into a bike follows what is written as built and which parts are fitted."""

from __future__ import annotations

import pytest

from setups.models import BatchUse
from setups.verbs import parts, settings
from shops.access import everywhere
from shops.trail import Actor
from tests.factories import JobCardFactory, StockSpringFactory
from tests.setups.record import invented


@pytest.fixture
def card(shop):
    return JobCardFactory(shop=shop)


@pytest.fixture
def actor(technician):
    return Actor(technician)


def used(card):
    found = everywhere(BatchUse, why="this test").filter(card=card).order_by("what", "batch", "end")
    return [(one.what, one.end, one.batch) for one in found]


def front(spring=None, **values):
    body = invented.front_body(4.0, 8, 108, "", "measured", 11) | values
    for leg in body["legs"]:
        leg["stock_spring"] = spring
    return body


def test_springs_and_oil_as_built_count_and_what_is_only_chosen_does_not(card, actor, shop):
    spring = StockSpringFactory(shop=shop, batch="B-17")
    settings.write_setting(actor, card, "chosen", "front", front(spring.pk, oil_batch="Q 4"), None)
    assert used(card) == []
    settings.write_setting(actor, card, "built", "front", front(spring.pk, oil_batch="Q 4"), None)
    assert used(card) == [("oil", "front", "Q 4"), ("spring", "front", "B-17")]


def test_what_is_written_over_no_longer_counts(card, actor):
    first = settings.write_setting(actor, card, "built", "front", front(oil_batch="Q 4"), None)
    settings.write_setting(actor, card, "built", "front", front(oil_batch="Q 5"), first.version)
    assert used(card) == [("oil", "front", "Q 5")]


def test_parts_come_and_go_and_what_is_given_back_was_not_put_in(card, actor):
    seals = parts.add_part(actor, card, direction="fitted", description="Fork seals", batch="S-9")
    parts.add_part(actor, card, direction="given_back", description="Old seals", batch="S-1")
    assert used(card) == [("part", "", "S-9")]
    parts.change_part(actor, seals, 1, {"batch": "S-10"})
    assert used(card) == [("part", "", "S-10")]
    seals.refresh_from_db()
    parts.remove_part(actor, seals, seals.version)
    assert used(card) == []


def test_another_businesss_spring_named_by_its_id_tells_nothing(card, actor, other_shop):
    foreign = StockSpringFactory(shop=other_shop, batch="THEIRS")
    settings.write_setting(actor, card, "built", "front", front(foreign.pk), None)
    assert used(card) == []


def test_a_list_springs_own_batch_counts_where_the_parts_line_names_none(card, actor, shop):
    spring = StockSpringFactory(shop=shop, batch="B-17")
    parts.add_part(actor, card, direction="fitted", description="Fork springs", spring=spring)
    assert used(card) == [("part", "", "B-17")]
