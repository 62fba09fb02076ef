"""A customer's personal data go everywhere at once; what is sealed still holds."""

from __future__ import annotations

import json
import re

import pytest

from setups.data import forgetting, inventory
from setups.data.rows import written
from setups.models import Bike, Customer, CustomerLink, Erasure, JobCard, LinkOpening, PersonalValue, Rider, StoredPdf
from setups.record import links, seal
from setups.record.verify import verify_shop
from setups.search import keep_words
from setups.search_models import SearchWord
from shops.access import Scoped, everywhere
from shops.models import AuditEntry, IdempotentReply
from shops.trail import Actor
from tests.factories import BikeFactory, CustomerFactory, JobCardFactory, RiderFactory
from tests.setups.record import conftest as invented_record
from tests.setups.record import invented

pytestmark = pytest.mark.django_db
make_ready_card = invented_record.make_ready_card
WHY = "a test looks everywhere"


@pytest.fixture(autouse=True)
def _own_data_folder(settings, tmp_path):
    settings.DATA = tmp_path


@pytest.fixture
def card(technician, make_ready_card):
    """Return a sealed card with a link that was opened, a stored PDF, and an open card beside it."""
    card = make_ready_card()
    record = seal.seal(Actor(technician), card)
    _, secret = links.share(Actor(technician), card, days=30, share_mass=True)
    links.open_link(secret, "192.0.2.7")
    StoredPdf.objects.create(record=record, content=b"%PDF-1.7 " + invented.OWNER.encode())
    JobCardFactory(
        shop=card.shop, customer=card.customer, rider=card.rider, bike=card.bike, number="HY-2",
        complaint=f"{invented.OWNER} says it dives.", internal_notes="Pays late.",
    )  # fmt: skip
    card.customer.notes = "Rings after six."
    card.customer.save()
    return card


def erase(client, customer, why="Asked for in writing."):
    return client.post(f"/api/customers/{customer.pk}/erasure/", {"why": why}, HTTP_IDEMPOTENCY_KEY="erase-1")


def all_text():
    found = {model._meta.label: list(written(model, None, secrets=True)) for model in inventory.backed_up()}
    found["replies"] = [reply.body for reply in everywhere(IdempotentReply, why=WHY)]
    return json.dumps(found)


def says(where, text):
    """Tell whether `text` stands there, a number not as a part of another."""
    return re.search(rf"(?<![\d.]){re.escape(str(text))}(?!\d)", where) is not None


PERSONAL = [invented.OWNER, invented.PLATE, invented.FRAME, str(invented.MASS_KG), "rider.example", "000 0101",
            "Rings after six", "Pays late", "192.0.2.7"]  # fmt: skip


class TestErasing:
    def test_nothing_personal_is_left_in_any_table(self, manager_client, card):
        before = all_text()
        assert [text for text in PERSONAL if not says(before, text)] == []
        answer = erase(manager_client, card.customer)
        assert answer.status_code == 200, answer.content
        after = all_text()
        assert [text for text in PERSONAL if says(after, text)] == []
        assert not says(after, invented.AXLE_KG["front"][1])

    def test_the_sealed_record_holds(self, manager_client, card):
        erase(manager_client, card.customer)
        finding = verify_shop(card.shop)
        assert finding.failure is None
        assert finding.records == 1
        values = everywhere(PersonalValue, why=WHY)
        assert values.exists()
        assert not values.exclude(value=None, salt="").exists()

    def test_links_close_pdfs_go_and_the_technical_part_stays(self, manager_client, card):
        erase(manager_client, card.customer)
        assert everywhere(CustomerLink, why=WHY).get().revoked_at is not None
        assert everywhere(LinkOpening, why=WHY).get().address is None
        assert not everywhere(StoredPdf, why=WHY).exists()
        bike = everywhere(Bike, why=WHY).get(pk=card.bike_id)
        assert (bike.make, bike.front) == ("Veldt", invented.FRONT)
        assert manager_client.get(f"/api/cards/{card.pk}/record/").json()["public"]["settings"]
        assert manager_client.get(f"/api/cards/{card.pk}/").status_code == 200
        assert manager_client.get(f"/api/cards/{card.pk}/sides/").status_code == 200

    def test_the_trail_keeps_that_and_why_and_counts_and_nothing_else(self, manager_client, card):
        erase(manager_client, card.customer)
        line = everywhere(AuditEntry, why=WHY).filter(verb="erase customer").get()
        assert line.reason == "Asked for in writing."
        assert line.after["customer"] == 1
        assert all(isinstance(count, int) for count in line.after.values())

    @pytest.mark.parametrize("why", [f"{invented.OWNER} asked.", "Mr MARRANT wrote.", "Call 000 0101", ""])
    def test_a_reason_that_names_the_customer_is_refused(self, manager_client, card, why):
        answer = erase(manager_client, card.customer, why)
        assert answer.status_code == 400
        assert everywhere(Customer, why=WHY).get(pk=card.customer_id).name == invented.OWNER

    def test_others_keep_theirs(self, manager_client, card, business):
        other = CustomerFactory(business=business, name="Orla Venn")
        RiderFactory(customer=other, name="Orla Venn")
        # The bike was the erased customer's once; its plate is its new owner's now.
        sold = BikeFactory(business=business, owner=other, plate="SOLD 1")
        JobCardFactory(shop=card.shop, customer=card.customer, bike=sold, number="HY-3")
        JobCardFactory(shop=card.shop, customer=other, bike=sold, number="HY-4", complaint="Weaves.")
        erase(manager_client, card.customer)
        sold.refresh_from_db()
        assert sold.plate == "SOLD 1"
        assert everywhere(JobCard, why=WHY).get(number="HY-4").complaint == "Weaves."
        assert everywhere(Rider, why=WHY).filter(name="Orla Venn", mass_in_kit_kg=88).exists()

    def test_twice_is_refused_and_nobody_writes_on_the_erased(self, manager_client, card):
        erase(manager_client, card.customer)
        address = f"/api/customers/{card.customer_id}/"
        assert manager_client.post(f"{address}erasure/", {"why": "Again."}).status_code == 409
        version = manager_client.get(address).json()["version"]
        assert manager_client.patch(address, {"name": "X"}, HTTP_IF_MATCH=f'"{version}"').status_code == 409
        rider = {"customer": card.customer_id, "name": "X"}
        assert manager_client.post("/api/riders/", rider).status_code == 409
        card_of = {"bike": card.bike_id, "complaint": "Dives."}
        assert manager_client.post("/api/cards/", card_of).status_code == 409

    def test_the_list_does_not_show_the_erased(self, manager_client, card):
        erase(manager_client, card.customer)
        assert manager_client.get("/api/customers/").json()["count"] == 0
        text = b"".join(manager_client.get("/api/lists/customers/").streaming_content).decode()
        assert len(text.splitlines()) == 1


    def test_nothing_is_found_by_the_erased_words(self, manager_client, card):
        keep_words(card.customer)
        keep_words(card.bike)
        kept = " ".join(bytes(word).decode() for word in everywhere(SearchWord, why=WHY).values_list("word", flat=True))
        assert "ilse" in kept
        erase(manager_client, card.customer)
        kept = " ".join(bytes(word).decode() for word in everywhere(SearchWord, why=WHY).values_list("word", flat=True))
        for word in ("ilse", "marrant", "771", "vkd450r0001932", "0101"):
            assert word not in kept
        assert "kestrel" in kept


class TestKeptAnswers:
    def test_a_retry_of_what_was_done_is_told_so_and_does_nothing_again(self, manager_client, card, business):
        body = {"name": invented.OWNER, "phone": "000 0101"}
        first = manager_client.post("/api/customers/", body, HTTP_IDEMPOTENCY_KEY="k-1")
        assert first.status_code == 201
        erase(manager_client, card.customer)
        again = manager_client.post("/api/customers/", body, HTTP_IDEMPOTENCY_KEY="k-1")
        assert again.status_code == 410
        assert again.json()["problems"][0]["code"] == "answer_erased"
        assert everywhere(Customer, why=WHY).filter(name=invented.OWNER).count() == 1


class TestTablets:
    def test_ids_and_nothing_else_are_told_to_the_own_business(
        self, technician_client, manager_client, stranger_client, card
    ):
        erase(manager_client, card.customer)
        [told] = technician_client.get("/api/erasures/").json()["results"]
        cards = sorted(everywhere(JobCard, why=WHY).values_list("pk", flat=True))
        assert told == {
            "id": told["id"], "customers": [card.customer_id], "riders": [card.rider_id], "bikes": [card.bike_id],
            "cards": cards,
        }  # fmt: skip
        assert technician_client.get(f"/api/erasures/?after={told['id']}").json()["count"] == 0
        assert stranger_client.get("/api/erasures/").json()["count"] == 0

    def test_a_records_own_erasure_is_told_too(self, technician_client, manager_client, card):
        manager_client.post(f"/api/cards/{card.pk}/erasure/", {"why": "Asked for."})
        [told] = technician_client.get("/api/erasures/").json()["results"]
        assert (told["cards"], told["customers"]) == ([card.pk], [])
        assert everywhere(Erasure, why=WHY).get().card_id == card.pk


class TestTheMap:
    def test_every_personal_field_has_a_blank(self):
        for model in forgetting.paths(Customer):
            for name in model.personal_fields:
                blank = forgetting.blank_of(model._meta.get_field(name))
                assert blank in [None, "", "(erased)", b"", {}, []], (model, name)

    def test_whatever_hangs_on_a_card_is_reached(self):
        reached = forgetting.paths(Customer)
        for model in inventory.exported():
            if not issubclass(model, Scoped) or model is Erasure:
                continue
            refers = {field.related_model for field in inventory.fields_of(model) if field.is_relation}
            if refers & {Customer, JobCard, Bike, Rider}:
                assert model in reached, f"{model._meta.label} hangs on a customer's rows: erasure must reach it"

    def test_free_text_and_bytes_that_hang_on_a_customer_are_personal(self):
        for model in forgetting.paths(Customer):
            if model in forgetting.SPECIAL:
                continue
            for field in inventory.fields_of(model):
                loose = field.get_internal_type() in {"TextField", "BinaryField", "FileField", "EmailField"}
                if loose and field.name not in model.personal_fields:
                    pytest.fail(f"{inventory.label(field)} may describe a person: is it personal?")
