"""The large demo: rows written in bulk are as the verbs would leave them, and its chain is a chain."""

from __future__ import annotations

import pytest
from django.db import connection

from setups import sag_totals
from setups.demo import many
from setups.models import BuiltSag, JobCard, SagMonth, SagTotal, SealedRecord
from setups.record import append_only, page, reading
from setups.record.verify import verify_shop
from shops.access import everywhere

WHY = "this test"


@pytest.fixture
def enlarged(shop, technician, monkeypatch):
    """Add thirty cards, the last five of them open, in three batches."""
    monkeypatch.setattr(many, "LEFT_OPEN", 5)
    monkeypatch.setattr(many, "BATCH", 12)
    assert many.enlarge(shop, technician, 30, say=lambda text: None) == 30
    shop.refresh_from_db()


@pytest.mark.usefixtures("enlarged")
def test_the_chain_holds_and_every_card_is_whole(shop):
    finding = verify_shop(shop)
    assert (finding.records, finding.failure) == (25, None)
    cards = everywhere(JobCard, why=WHY).filter(shop=shop)
    assert cards.count() == shop.cards_opened == 30
    assert all(card.readings.count() == 4 for card in cards)
    assert cards.filter(step="sealed").count() == 25


@pytest.mark.usefixtures("enlarged")
def test_a_change_in_it_is_detected(shop, db):
    with connection.cursor() as cursor:
        for statement in append_only.lower_guard(connection.vendor):
            cursor.execute(statement)
    record = everywhere(SealedRecord, why=WHY).filter(shop=shop, number=17)
    assert record.update(public=record.get().public.replace(shop.name, f"{shop.name} 2")) == 1
    assert verify_shop(shop).failure.number == 17


@pytest.mark.usefixtures("enlarged")
def test_verbs_go_on_from_it_and_a_second_run_adds_only_what_is_missing(shop, technician, technician_client, business):
    card = everywhere(JobCard, why=WHY).filter(shop=shop).latest("id")
    answer = technician_client.post("/api/cards/", {"bike": card.bike_id, "complaint": "Dives."}, format="json")
    assert (answer.status_code, answer.json()["number"]) == (201, f"{shop.code}-0031")
    assert many.enlarge(shop, technician, 31, say=lambda text: None) == 0
    shop.refresh_from_db()
    assert many.enlarge(shop, technician, 33, say=lambda text: None) == 2
    found = technician_client.get("/api/cards/", {"search": card.bike.plate.replace(" ", "")}).json()["results"]
    assert card.pk in [row["id"] for row in found]


@pytest.mark.usefixtures("enlarged")
def test_its_sags_are_added_up_as_sealing_adds_them_up(shop):
    def kept():
        totals = everywhere(SagTotal, why=WHY).filter(shop=shop)
        months = everywhere(SagMonth, why=WHY).filter(total__shop=shop)
        group = ("model_key", "end", "sag", "first", *sag_totals.SUMS)
        return (
            sorted(totals.values_list(*group)),
            sorted(months.values_list("total__model_key", "total__end", "month", *sag_totals.SUMS)),
        )

    in_bulk = kept()
    assert len(in_bulk[1]) > len(in_bulk[0]) > 1
    everywhere(SagTotal, why=WHY).filter(shop=shop).delete()
    sag_totals.add(everywhere(BuiltSag, why=WHY).filter(shop=shop).order_by("id"))
    assert kept() == in_bulk


@pytest.mark.usefixtures("enlarged")
def test_a_record_of_it_can_be_read(shop, technician_client):
    record = everywhere(SealedRecord, why=WHY).get(shop=shop, number=20)
    told = technician_client.get(f"/api/cards/{record.card_id}/record/").json()
    assert told["personal"]["public.customer.name"] == record.card.customer.name
    html = page.html(reading.read(reading.links_of(record.card)))
    assert record.card.bike.plate in html
    assert "@" not in record.public
