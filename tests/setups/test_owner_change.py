"""A bike changes owner: its technical history stays; nowhere does a technician read whose it was before.

Every way in which the former owner could show is tried with a technician of the own and of the sister shop;
managers and owners of the business still read everything.
"""

from __future__ import annotations

import json
import re
from datetime import timedelta

import pytest
from django.utils import timezone

from setups.bike_models import OwnerChange
from setups.models import JobCard, Setting
from setups.record import links, seal
from setups.verbs.ownership import change_owner
from shops.access import everywhere, rows
from shops.models import AuditEntry
from shops.trail import Actor
from tests.factories import (
    BikeFactory,
    CustomerFactory,
    JobCardFactory,
    PartLineFactory,
    ReadingFactory,
    RiderFactory,
    SettingFactory,
)
from tests.setups.record import conftest as invented_record
from tests.setups.record import invented
from tests.shops.cases import problem_codes

make_ready_card = invented_record.make_ready_card

NAME, PHONE, RIDER = "Quillon Abernethy", "000 4711", "Zephra Abernethy"
SECRETS = (NAME, "Quillon", "Zephra", PHONE, "quillon@rider.example", "Zebedee says", "pays late", "91.737")


@pytest.fixture
def former(business):
    return CustomerFactory(business=business, name=NAME, phone=PHONE, email="quillon@rider.example")


@pytest.fixture
def buyer(business):
    return CustomerFactory(business=business, name="Marit Solberg-Vane")


@pytest.fixture
def bike(business, former):
    return BikeFactory(business=business, owner=former, notes="Quillon pays late. Link greased.", plate="QX 77")


@pytest.fixture
def old_card(shop, bike, former, technician):
    """Return a card of the former owner with his words, his mass and his load on it."""
    card = JobCardFactory(
        shop=shop, bike=bike, customer=former, opened_by=technician, hours=41.5, distance_km=12_300,
        rider=RiderFactory(customer=former, name=RIDER, mass_in_kit_kg=91.737),
        complaint="Zebedee says it dives.", explanation="Quillon, it is stiffer now.",
        internal_notes="He pays late.", next_service_note="Ring Quillon.",
    )  # fmt: skip
    SettingFactory(card=card, stage="received", end="rear")
    SettingFactory(card=card, stage="built", end="rear", body=_body(rate=56, preload_mm=9))
    for stage, readings in {"received": (640, 606, 600, 540, 532), "built": (640, 610, 604, 548, 540)}.items():
        for quantity, value in zip(LENGTHS, readings, strict=True):
            ReadingFactory(card=card, stage=stage, end="rear", quantity=quantity, value=value)
    ReadingFactory(card=card, end="rear", quantity="axle_rider_kg", value=121.3)
    PartLineFactory(card=card, description="Shock seal head", batch="SH-3")
    return card


LENGTHS = (
    "wheel_free_mm", "alone_from_above_mm", "alone_from_below_mm", "rider_from_above_mm", "rider_from_below_mm",
)  # fmt: skip


def _body(rate, preload_mm):
    return {
        "spring": {"kind": "straight", "rate_n_per_mm": rate}, "preload_mm": preload_mm, "gas_force_n": 250,
        "clickers": [], "sources": {},
    }  # fmt: skip


@pytest.fixture
def sold(bike, buyer, old_card, technician):
    """Return the bike after it was sold, with the old card hanging on it."""
    change_owner(Actor(technician), bike, 1, owner=buyer, reason="Sold.", notes="Link greased.")
    bike.refresh_from_db()
    return bike


def hold_back(answer, code=200):
    """Check that an answer holds none of the former owner's values."""
    assert answer.status_code == code, answer.content[:400]
    text = json.dumps(answer.json()) if answer.content else ""
    # A mass is looked for as a number of its own: a picture's coordinates may end in the same digits.
    assert [each for each in SECRETS if re.search(rf"(?<!\d){re.escape(each)}(?!\d)", text)] == []
    return answer.json()


class TestTheVerb:
    def test_the_owner_changes_with_a_reason_and_a_line_that_names_nobody(
        self, technician_client, owner, bike, buyer
    ):
        body = {
            "owner": buyer.pk, "version": 1, "reason": "Sold on.", "plate": "QX 88", "notes": "Link greased.",
        }  # fmt: skip
        answer = technician_client.post(f"/api/bikes/{bike.pk}/owner/", body)
        assert answer.status_code == 200, answer.content
        assert (answer.json()["owner"], answer.json()["plate"]) == (buyer.pk, "QX 88")
        assert answer.json()["notes"] == "Link greased."
        assert answer["ETag"] == '"2"'
        [line] = rows(AuditEntry, owner)
        assert (line.verb, line.reason) == ("change owner", "Sold on.")
        assert line.before["owner"] == bike.owner_id
        assert line.after["owner"] == buyer.pk
        text = f"{line.before}{line.after}{line.reason}"
        assert [word for word in ("Quillon", "Marit", "QX 88", "pays late", "greased") if word in text] == []

    def test_the_notes_are_put_aside_for_managers_alone(self, sold):
        [change] = everywhere(OwnerChange, why="this test").filter(bike=sold)
        assert change.notes == "Quillon pays late. Link greased."
        assert sold.notes == "Link greased."

    @pytest.mark.parametrize(
        ("body", "code"),
        [
            ({"reason": "  "}, "blank"),
            ({"reason": ""}, "blank"),
            ({"version": 7}, "changed_meanwhile"),
            ({"owner": 9_000_000}, "unknown_row"),
        ],
    )
    def test_what_is_refused_changes_nothing(self, technician_client, bike, buyer, body, code):
        wanted = {"owner": buyer.pk, "version": 1, "reason": "Sold."} | body
        answer = technician_client.post(f"/api/bikes/{bike.pk}/owner/", wanted)
        assert answer.status_code in {400, 412}
        if code == "changed_meanwhile":
            assert problem_codes(answer) == [code]
            assert answer.json()["theirs"]["version"] == 1
        bike.refresh_from_db()
        assert bike.owner.name == NAME
        assert not everywhere(OwnerChange, why="this test").exists()

    def test_to_the_same_owner_is_no_change(self, technician_client, bike):
        body = {"owner": bike.owner_id, "version": 1, "reason": "Sold."}
        assert problem_codes(technician_client.post(f"/api/bikes/{bike.pk}/owner/", body)) == ["unchanged"]

    def test_another_businesss_customer_is_unknown(self, technician_client, bike, other_shop):
        body = {"owner": CustomerFactory(business=other_shop.business).pk, "version": 1, "reason": "Sold."}
        assert technician_client.post(f"/api/bikes/{bike.pk}/owner/", body).status_code == 400

    def test_an_owner_is_not_changed_behind_its_back(self, technician_client, bike, buyer):
        answer = technician_client.patch(f"/api/bikes/{bike.pk}/", {"owner": buyer.pk}, HTTP_IF_MATCH='"1"')
        assert problem_codes(answer) == ["change_owner"]
        nobodys = BikeFactory(business=bike.business, owner=None)
        answer = technician_client.patch(f"/api/bikes/{nobodys.pk}/", {"owner": buyer.pk}, HTTP_IF_MATCH='"1"')
        assert answer.json()["owner"] == buyer.pk


@pytest.fixture(params=["technician", "sister_technician"])
def looker(request, client_for):
    return client_for(request.getfixturevalue(request.param))


class TestWhatATechnicianReads:
    def test_the_bike_names_its_owner_of_today_alone(self, looker, sold, buyer):
        assert hold_back(looker.get(f"/api/bikes/{sold.pk}/"))["owner_name"] == buyer.name

    def test_the_history_tells_the_work_and_not_whose_it_was(self, looker, sold, old_card):
        [past] = hold_back(looker.get(f"/api/bikes/{sold.pk}/history/"))
        assert past["former_owner"] is True
        assert (past["hours"], past["distance_km"], past["complaint"]) == (41.5, 12_300, "")
        assert "Shock: spring 52 N/mm to 56 N/mm" in past["changes"]
        assert "Fitted: 2 × Shock seal head, batch SH-3" in past["parts"]
        # By hand: wheel free 640 less the mean of the readings from above and below.
        sag = {"end": "rear", "static_before_mm": 37, "static_after_mm": 33}
        assert past["sags"] == [{**sag, "rider_before_mm": 104, "rider_after_mm": 96}]

    def test_the_card_is_the_technical_record(self, looker, sold, old_card):
        card = hold_back(looker.get(f"/api/cards/{old_card.pk}/"))
        assert card["former_owner"] is True
        assert (card["customer"], card["rider"], card["links"]) == (None, None, [])
        assert card["settings"]["built"]["rear"]["body"]["spring"]["rate_n_per_mm"] == 56
        assert card["sag"]["built"]["rear"]["rider_sag_mm"] == 96
        assert "axle_rider_kg" not in {one["quantity"] for one in card["readings"]}
        assert card["loads"] == {stage: {"front": None, "rear": None} for stage in ("received", "built")}

    def test_computed_sides_do_not_give_a_load_back(self, looker, sold, old_card):
        sides = hold_back(looker.get(f"/api/cards/{old_card.pk}/sides/"))
        for stage in ("received", "chosen", "built"):
            for end in ("front", "rear"):
                assert (sides[stage][end]["result"], sides[stage][end]["picture"]) == (None, None)
        assert sides["preload_no_cure"] == {"front": None, "rear": None}

    @pytest.mark.parametrize(
        ("verb", "body"),
        [
            ("preview", {"rear": {"body": {"spring": None, "sources": {}}}}),
            ("choose", {"end": "rear"}),
            ("suits", {"end": "rear"}),
            ("window", {"end": "rear"}),
        ],
    )
    def test_no_spring_is_computed_for_a_rider_one_may_not_know(self, looker, sold, old_card, verb, body):
        answer = looker.post(f"/api/cards/{old_card.pk}/{verb}/", body)
        assert (answer.status_code, problem_codes(answer)) == (403, ["former_owner"])

    @pytest.mark.parametrize("what", ["sure/", "ladder/rear.pdf"])
    def test_no_look_ahead_tells_his_load(self, looker, sold, old_card, what):
        assert problem_codes(looker.get(f"/api/cards/{old_card.pk}/{what}")) == ["former_owner"]

    @pytest.mark.parametrize("words", ["Quillon", "Abernethy", "QX 77 Quillon"])
    def test_searching_the_cards_for_the_name_finds_nothing(self, looker, sold, old_card, words):
        assert looker.get("/api/cards/", {"search": words}).json()["count"] == 0

    def test_searching_by_plate_finds_the_card_without_a_name(self, looker, sold, old_card):
        [row] = hold_back(looker.get("/api/cards/", {"search": "QX 77"}))["results"]
        assert (row["id"], row["customer_name"]) == (old_card.pk, "")

    def test_searching_the_bikes_for_the_name_finds_nothing(self, looker, sold):
        assert looker.get("/api/bikes/", {"search": "Quillon"}).json()["count"] == 0

    def test_a_stale_write_shows_the_other_side_without_him(self, technician_client, sold, old_card):
        answer = technician_client.patch(f"/api/cards/{old_card.pk}/", {"hours": 42}, HTTP_IF_MATCH='"9"')
        hold_back(answer, 412)

    def test_work_can_go_on_but_not_over_his_words(self, technician_client, sold, old_card):
        at = f"/api/cards/{old_card.pk}/"
        hold_back(technician_client.patch(at, {"hours": 42}, HTTP_IF_MATCH='"1"'))
        for field in ("complaint", "explanation", "internal_notes", "next_service_note"):
            answer = technician_client.patch(at, {field: "x"}, HTTP_IF_MATCH='"2"')
            assert (answer.status_code, problem_codes(answer)) == (403, ["former_owner"])
        hold_back(technician_client.post(f"{at}torques/", {"fastener": "Rear axle"}))


class TestTheRecord:
    @pytest.fixture
    def sealed(self, make_ready_card, technician, buyer):
        card = make_ready_card()
        seal.seal(Actor(technician), card)
        bike = card.bike
        change_owner(Actor(technician), bike, bike.version, owner=buyer, reason="Sold.")
        return card

    SECRET_WORDS = (
        invented.OWNER, invented.PLATE, invented.FRAME, invented.card()["complaint"],
        invented.card()["explanation"], invented.card()["internal_notes"],
    )  # fmt: skip

    def test_it_is_read_without_the_person_and_says_what_is_withheld(self, looker, sealed):
        answer = looker.get(f"/api/cards/{sealed.pk}/record/")
        record = answer.json()
        text = json.dumps(record, ensure_ascii=False)
        assert [word for word in self.SECRET_WORDS if word in text] == []
        assert (record["personal"], record["texts"]) == ({}, {})
        assert record["internal"]["results"] is None
        assert {"complaint", "personal", "internal.internal_notes"} <= set(record["withheld"])
        assert record["public"]["torques"]
        assert record["public"]["settings"]["built"]["front"]

    def test_the_pdf_is_the_former_owners(self, looker, sealed):
        answer = looker.get(f"/api/cards/{sealed.pk}/record.pdf")
        assert (answer.status_code, problem_codes(answer)) == (403, ["former_owner"])

    def test_no_new_link_leads_to_it(self, technician_client, sealed):
        answer = technician_client.post(f"/api/cards/{sealed.pk}/links/", {})
        assert (answer.status_code, problem_codes(answer)) == (403, ["former_owner"])

    def test_it_is_not_amended_by_who_may_not_read_it(self, technician_client, sealed):
        body = {"path": "complaint", "new": "x", "why": "Misheard."}
        assert technician_client.post(f"/api/cards/{sealed.pk}/amendments/", body).status_code == 403

    def test_an_amendments_old_text_is_withheld_too(self, make_ready_card, technician, looker, buyer):
        card = make_ready_card()
        seal.seal(Actor(technician), card)
        seal.amend(Actor(technician), card, path="complaint", new="Zebedee says it dives.", why="Zebedee says so.")
        change_owner(Actor(technician), card.bike, card.bike.version, owner=buyer, reason="Sold.")
        hold_back(looker.get(f"/api/cards/{card.pk}/record/"))

    def test_a_manager_reads_all_of_it(self, manager_client, sealed):
        record = manager_client.get(f"/api/cards/{sealed.pk}/record/").json()
        assert record["withheld"] == []
        assert record["personal"]["public.customer.name"] == invented.OWNER
        assert record["texts"]["complaint"] == invented.card()["complaint"]

    def test_the_former_owners_own_link_still_opens_his_record(
        self, make_ready_card, technician, buyer, anonymous
    ):
        card = make_ready_card()
        seal.seal(Actor(technician), card)
        _, secret = links.share(Actor(technician), card, days=30, share_mass=False)
        change_owner(Actor(technician), card.bike, card.bike.version, owner=buyer, reason="Sold.")
        page = anonymous.post("/api/record/open/", {"secret": secret}).json()["html"]
        assert invented.OWNER in page
        assert buyer.name not in page


class TestWhoStillReadsIt:
    @pytest.mark.parametrize("who", ["manager_client", "owner_client"])
    def test_managers_and_owners_read_everything(self, request, who, sold, old_card):
        client = request.getfixturevalue(who)
        card = client.get(f"/api/cards/{old_card.pk}/").json()
        assert (card["customer"]["name"], card["rider"]["name"]) == (NAME, RIDER)
        assert card["complaint"] == "Zebedee says it dives."
        assert card["former_owner"] is True
        assert client.get("/api/cards/", {"search": "Quillon"}).json()["count"] == 1
        [past] = client.get(f"/api/bikes/{sold.pk}/history/").json()
        assert past["complaint"] == "Zebedee says it dives."
        assert client.get(f"/api/cards/{old_card.pk}/sides/").json()["received"]["rear"]["verdict"]["text"]

    def test_the_new_owners_card_is_read_by_all(self, technician_client, sold, buyer, old_card):
        body = {"bike": sold.pk, "complaint": "Weaves."}
        card = technician_client.post("/api/cards/", body).json()
        assert (card["customer"]["name"], card["complaint"]) == (buyer.name, "Weaves.")
        assert card["former_owner"] is False

    def test_a_card_of_somebody_elses_before_any_sale_is_read_by_all(self, technician_client, shop, bike, business):
        father = CustomerFactory(business=business, name="Somebody Who Pays")
        card = JobCardFactory(shop=shop, bike=bike, customer=father, rider=None)
        assert technician_client.get(f"/api/cards/{card.pk}/").json()["customer"]["name"] == father.name

    def test_whoever_buys_it_back_finds_the_own_card_again(self, technician_client, technician, sold, former, old_card):
        change_owner(Actor(technician), sold, sold.version, owner=former, reason="Bought back.")
        card = technician_client.get(f"/api/cards/{old_card.pk}/").json()
        assert card["customer"]["name"] == NAME
        assert technician_client.get("/api/cards/", {"search": "Quillon"}).json()["count"] == 1

    def test_an_owner_not_known_yet_hides_the_former_one_too(self, technician_client, technician, bike, old_card):
        change_owner(Actor(technician), bike, 1, owner=None, reason="Sold, to whom is not known.")
        hold_back(technician_client.get(f"/api/cards/{old_card.pk}/"))
        [row] = hold_back(technician_client.get("/api/cards/"))["results"]
        assert row["customer_name"] == ""

    def test_a_card_opened_after_the_sale_for_another_customer_is_read(self, technician_client, shop, sold, business):
        guest = CustomerFactory(business=business, name="A Guest")
        later = timezone.now() + timedelta(minutes=1)
        card = JobCardFactory(shop=shop, bike=sold, customer=guest, rider=None, opened_at=later)
        assert technician_client.get(f"/api/cards/{card.pk}/").json()["customer"]["name"] == "A Guest"


def test_sealing_an_open_card_after_the_sale_still_commits_to_its_own_customer(make_ready_card, technician, buyer):
    card = make_ready_card()
    change_owner(Actor(technician), card.bike, card.bike.version, owner=buyer, reason="Sold.")
    record = seal.seal(Actor(technician), JobCard.objects.declare_scope().get(pk=card.pk))
    kept = {value.path: value.value for value in record.personal_values.all()}
    assert kept["public.customer.name"] == invented.OWNER
    assert Setting.objects.declare_scope().filter(card=card).exists()
