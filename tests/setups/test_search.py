"""Rows are found by how their words begin, and by nothing that they no longer hold."""

from __future__ import annotations

import pytest

from setups import search
from setups.models import Customer
from setups.search_models import SearchWord
from shops.access import everywhere
from tests.factories import BikeFactory, CustomerFactory, JobCardFactory, RiderFactory


@pytest.fixture
def found(technician_client):
    """Return the ids that an address answers to what is typed."""

    def ask(kind, typed):
        answer = technician_client.get(f"/api/{kind}/", {"search": typed})
        return [row["id"] for row in answer.json()["results"]]

    return ask


def test_a_plate_is_found_however_it_is_spaced_and_a_frame_number_by_its_end(found, business):
    bike = BikeFactory(business=business, plate="ZK 77-B", frame_number="BRKH00981234")
    BikeFactory(business=business)
    for typed in ("zk 77", "ZK77B", "zk77", "zk-77-b", "77b", "brkh0098", "981234", "1234"):
        assert found("bikes", typed) == [bike.pk], typed
    for typed in ("k77", "98123", "zk 78", "34"):
        assert found("bikes", typed) == [], typed


def test_names_are_found_without_their_accents_and_in_any_case(found, business):
    customer = CustomerFactory(business=business, name="Séverine Ångstrøm-Vale")
    for typed in ("severine", "SÉVERINE ang", "vale", "ångstrøm-v"):
        assert found("customers", typed) == [customer.pk], typed


def test_what_is_changed_is_found_by_what_it_holds_now(found, technician_client, business):
    customer = CustomerFactory(business=business, name="Orla Venn")
    address = f"/api/customers/{customer.pk}/"
    answer = technician_client.patch(address, {"name": "Petra Moor"}, format="json", HTTP_IF_MATCH='"1"')
    assert answer.status_code == 200
    assert found("customers", "moor") == [customer.pk]
    assert found("customers", "orla") == []
    body = {"customer": customer.pk, "name": "Jonas Feld"}
    rider = technician_client.post("/api/riders/", body, format="json").json()
    assert found("customers", "feld") == [customer.pk]
    address = f"/api/riders/{rider['id']}/"
    technician_client.patch(address, {"name": "Jonas Wick"}, format="json", HTTP_IF_MATCH='"1"')
    assert found("customers", "wick") == [customer.pk]
    assert found("customers", "feld") == []


def test_what_is_deleted_leaves_no_word_behind(business):
    customer = CustomerFactory(business=business)
    kept = everywhere(SearchWord, why="this test").filter(business=business)
    assert kept.exists()
    customer.delete()
    assert not kept.exists()


def test_what_is_written_in_bulk_is_found_once_it_is_told(found, business):
    [row] = Customer.objects.bulk_create([Customer(business=business, name="Bulk Quarrel", phone="000 555")])
    RiderFactory(customer=row, name="Pim")
    search.keep_words_of_customers([row])
    for typed in ("quarrel", "pim", "000555", "555"):
        assert found("customers", typed) == [row.pk], typed


def test_a_card_is_found_by_number_bike_customer_and_loose_part(found, shop, business):
    card = JobCardFactory(shop=shop, number=f"{shop.code}-0042", customer__name="Ravel Stoop", bike__plate="QY 8")
    loose = JobCardFactory(
        shop=shop, number=f"{shop.code}-0043", bike=None, loose="fork", loose_description="Fork, gold caps"
    )
    for typed in ("42", f"{shop.code}-0042".lower(), "ravel", "qy8 stoop"):
        assert found("cards", typed) == [card.pk], typed
    assert found("cards", "gold caps") == [loose.pk]


def test_a_word_that_very_many_have_is_asked_of_each_row_and_finds_the_same(found, shop, business, monkeypatch):
    cards = [JobCardFactory(shop=shop, bike__make="Halvard") for _ in range(6)]
    JobCardFactory(shop=shop)
    few = found("cards", "halv")
    monkeypatch.setattr(search, "FEW", 2)
    monkeypatch.setattr(search, "MOST_FOUND", 3)
    assert found("cards", "halv") == few == [card.pk for card in reversed(cards)]
    assert found("cards", f"halv {cards[2].bike.plate}") == [cards[2].pk]


def test_another_business_is_never_found(found, stranger):
    JobCardFactory(shop=stranger.shop, bike__make="Veldt", customer__name="Jory Elsewhere")
    for kind, typed in (("cards", "veldt"), ("bikes", "veldt"), ("customers", "jory"), ("cards", "jory")):
        assert found(kind, typed) == []
