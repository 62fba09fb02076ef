"""Customers, riders, kinds, bikes and cards, each put through what every set of rows must do, and
their own rules.
"""

from __future__ import annotations

from typing import ClassVar

import pytest

from setups.models import Bike, Customer, JobCard, Rider
from shops.access import rows
from shops.models import AuditEntry
from tests.factories import (
    BikeFactory,
    CustomerFactory,
    JobCardFactory,
    KindOfBikeFactory,
    RiderFactory,
    SettingFactory,
    front_data,
    rear_data,
)
from tests.shops.cases import ChangingCase, CreatingCase, problem_codes


class TestCustomers(ChangingCase, CreatingCase):
    base = "/api/customers/"
    shared = True
    change: ClassVar = {"phone": "000 0202", "notes": "Rings after six."}

    def make(self, shop):
        return CustomerFactory(business=shop.business)

    def another(self, shop):
        return RiderFactory(customer=self.make(shop)).customer

    def new(self, shop):
        return {"name": f"Corin Ashdale {Customer.objects.all().declare_scope().count()}"}

    def count(self, owner):
        return rows(Customer, owner).count()

    def test_search_finds_by_name_phone_and_rider(self, technician_client, business):
        customer = CustomerFactory(business=business, name="Orla Venn", phone="000 7788")
        RiderFactory(customer=customer, name="Pim Venn")
        CustomerFactory(business=business, name="Somebody Else", phone="1")
        for words in ("orla", "7788", "pim"):
            found = technician_client.get(self.base, {"search": words}).json()["results"]
            assert [row["name"] for row in found] == ["Orla Venn"], words

    def test_personal_values_never_reach_the_trail(self, technician_client, owner, business):
        customer = CustomerFactory(business=business)
        technician_client.patch(self.one(customer), {"name": "Zephra Quillon"}, HTTP_IF_MATCH='"1"')
        rider = technician_client.post(
            "/api/riders/", {"customer": customer.pk, "name": "Zephra Quillon", "mass_in_kit_kg": 91.37}
        )
        assert rider.status_code == 201
        for line in rows(AuditEntry, owner):
            assert "Zephra" not in f"{line.before}{line.after}"
            assert "91.37" not in f"{line.before}{line.after}"

    def test_a_customer_is_never_deleted(self, owner_client, shop):
        assert owner_client.delete(self.one(self.make(shop)), HTTP_IF_MATCH='"1"').status_code == 405


class TestRiders(ChangingCase, CreatingCase):
    base = "/api/riders/"
    shared = True
    listed = False
    change: ClassVar = {"mass_in_kit_kg": 93.5}

    def make(self, shop):
        return RiderFactory(customer=CustomerFactory(business=shop.business))

    def new(self, shop):
        return {
            "customer": CustomerFactory(business=shop.business).pk,
            "name": "Ravel Stoop",
            "mass_in_kit_kg": 80,
        }

    def count(self, owner):
        return rows(Rider, owner).count()

    @pytest.mark.parametrize("mass", [0, -4, 251, 1e6])
    def test_an_unbelievable_mass_is_refused(self, technician_client, shop, mass):
        answer = technician_client.post(self.base, {**self.new(shop), "mass_in_kit_kg": mass})
        assert answer.status_code == 400
        [problem] = answer.json()["problems"]
        assert (problem["field"], problem["unit"], problem["high"]) == ("mass_in_kit_kg", "kg", 250)

    @pytest.mark.parametrize("mass", ["82", True, [82]])
    def test_a_mass_is_a_number(self, technician_client, shop, mass):
        assert (
            technician_client.post(self.base, {**self.new(shop), "mass_in_kit_kg": mass}).status_code == 400
        )

    def test_a_foreign_customer_is_unknown(self, technician_client, shop, other_shop):
        body = {**self.new(shop), "customer": CustomerFactory(business=other_shop.business).pk}
        answer = technician_client.post(self.base, body)
        assert problem_codes(answer) == ["no_such_row"]


class TestKinds(ChangingCase):
    base = "/api/kinds/"
    shared = True
    changers = frozenset({"manager", "owner"})
    change: ClassVar = {"rider_low_percent": 24.0, "source": "our own records"}

    def make(self, shop):
        return KindOfBikeFactory(business=shop.business)

    def test_thirty_rows_cost_as_many_queries_as_three(
        self, owner_client, django_assert_max_num_queries, shop
    ):
        with django_assert_max_num_queries(8):
            assert owner_client.get(self.base).json()["count"] == 10

    def test_a_new_business_starts_with_every_kind_at_both_ends(self, technician_client):
        found = technician_client.get(self.base).json()["results"]
        assert len({(row["kind"], row["end"]) for row in found}) == len(found) == 10
        assert {row["source"] for row in found} == {"common practice, no source"}

    def test_where_usual_values_come_from_is_read_in_the_readers_language(self, manager_client, manager):
        """What a German sends back as it was read stays what it was: an Englishman reads it in English again."""
        manager.language = "de"
        manager.save()
        kind = manager_client.get(self.base).json()["results"][0]
        assert "no source" not in kind["source"]
        address, match = f"{self.base}{kind['id']}/", {"HTTP_IF_MATCH": f'"{kind["version"]}"'}
        sent = {"source": kind["source"], "rider_high_percent": kind["rider_high_percent"] + 1}
        assert manager_client.patch(address, sent, **match).json()["source"] == kind["source"]
        manager.language = "en"
        manager.save()
        assert manager_client.get(address).json()["source"] == "common practice, no source"
        typed = {"source": "manual"}  # a word that has a translation, and was typed all the same
        manager_client.patch(address, typed, HTTP_IF_MATCH=f'"{kind["version"] + 1}"')
        manager.language = "de"
        manager.save()
        assert manager_client.get(address).json()["source"] == "manual"

    @pytest.mark.parametrize(
        ("change", "field"),
        [
            ({"static_low_percent": 20.0, "static_high_percent": 12.0}, "static_high_percent"),
            ({"static_high_percent": 27.0}, "static_high_percent"),
            ({"rider_high_percent": 61.0}, "rider_high_percent"),
            ({"unsprung_kg": 81.0}, "unsprung_kg"),
        ],
    )
    def test_bands_that_cannot_be_are_refused(self, manager_client, shop, change, field):
        answer = manager_client.patch(self.one(self.make(shop)), change, HTTP_IF_MATCH='"1"')
        assert answer.status_code == 400
        assert field in [problem["field"] for problem in answer.json()["problems"]]


class TestBikes(ChangingCase, CreatingCase):
    base = "/api/bikes/"
    shared = True
    change: ClassVar = {"plate": "QX 0001", "year": 2020}

    def make(self, shop):
        return BikeFactory(business=shop.business)

    def new(self, shop):
        number = Bike.objects.all().declare_scope().count()
        return {"make": "Brackwater", "model": f"Otter {number}", "kind": "enduro", "front": front_data()}

    def count(self, owner):
        return rows(Bike, owner).count()

    def test_search_takes_all_words(self, technician_client, business):
        bike = BikeFactory(business=business, make="Halvard", model="Curlew", plate="ZZ 9")
        BikeFactory(business=business, make="Halvard", model="Dunlin")
        found = technician_client.get(self.base, {"search": "halvard zz"}).json()["results"]
        assert [row["id"] for row in found] == [bike.pk]
        assert found[0]["title"] == "Halvard Curlew 2019"

    def test_a_bike_may_be_known_in_part(self, technician_client):
        body = {
            "make": "Brackwater",
            "model": "Otter",
            "kind": "street",
            "front": {"stroke_mm": 120, "legs": None},
            "rear": {"wheel_travel_mm": 130},
            "sources": {"front.stroke_mm": {"from": "manual", "edition": "1", "page": "3"}},
        }
        answer = technician_client.post(self.base, body)
        assert answer.status_code == 201, answer.content
        assert answer.json()["front"] == body["front"]

    def test_what_is_typed_is_kept_as_it_was_typed(self, technician_client):
        front = {**front_data(), "stroke_mm": 299.123456789}
        answer = technician_client.post(
            self.base, {"make": "B", "model": "O", "kind": "enduro", "front": front, "rear": rear_data()}
        )
        assert answer.json()["front"] == front
        assert answer.json()["rear"] == rear_data()

    @pytest.mark.parametrize(
        ("end", "change", "field", "hint"),
        [
            ("front", {"stroke_mm": 30000}, "front.stroke_mm", "20 to 400 mm"),
            ("front", {"stroke_mm": "300"}, "front.stroke_mm", "not a number"),
            ("front", {"stroke_mm": True}, "front.stroke_mm", "not a number"),
            ("front", {"bore_diameter_mm": 21}, "front.legs.0.air_gap_mm", "no air would be left"),
            ("front", {"mood": 1}, "front.mood", "no field"),
            ("front", {"adjuster_mm": [20, 5]}, "front.adjuster_mm", "swapped"),
            ("front", {"adjuster_mm": [0, 5]}, "front.legs.0.preload_mm", "past the adjuster"),
            ("front", {"legs": "two"}, "front.legs", "one or two legs"),
            ("front", {"seat_length_mm": 10}, "front.seat_length_mm", "50 to 1200 mm"),
            (
                "rear",
                {"leverage": {"kind": "ratio", "wheel_per_shock": 0.43}},
                "rear.leverage.wheel_per_shock",
                "inverted",
            ),
            (
                "rear",
                {"spring": {"kind": "straight", "rate_n_per_mm": 5200}},
                "rear.spring.rate_n_per_mm",
                "520",
            ),
            ("rear", {"spring": {"kind": "bouncy"}}, "rear.spring.kind", "no kind of spring"),
            ("rear", {"shocks": 3}, "rear.shocks", "1 to 2"),
        ],
    )
    def test_data_that_cannot_be_are_refused_by_name(self, technician_client, end, change, field, hint):
        data = {**(front_data() if end == "front" else rear_data()), **change}
        answer = technician_client.post(self.base, {"make": "B", "model": "O", "kind": "enduro", end: data})
        assert answer.status_code == 400
        texts = {problem["field"]: problem["text"] for problem in answer.json()["problems"]}
        assert hint in texts[field]

    def test_every_problem_of_both_ends_is_told_at_once(self, technician_client):
        body = {
            "make": "B",
            "model": "O",
            "kind": "enduro",
            "front": {**front_data(), "rake_deg": 80},
            "rear": {**rear_data(), "preload_mm": 900},
            "sources": {"front.rake_deg": {"from": "hearsay"}},
        }
        found = {problem["field"] for problem in technician_client.post(self.base, body).json()["problems"]}
        assert {"front.rake_deg", "rear.preload_mm", "sources.front.rake_deg.from"} <= found


class TestCards(ChangingCase, CreatingCase):
    base = "/api/cards/"
    change: ClassVar = {"complaint": "Harsh over roots.", "distance_km": 18250.0}

    def make(self, shop):
        return JobCardFactory(shop=shop)

    def new(self, shop):
        bike = BikeFactory(business=shop.business)
        return {"bike": bike.pk, "customer": bike.owner_id, "complaint": "Bottoms on landings."}

    def count(self, owner):
        return rows(JobCard, owner).count()

    def test_cards_are_numbered_one_after_another_per_shop(
        self, technician_client, sister_technician_client, shop
    ):
        numbers = [technician_client.post(self.base, self.new(shop)).json()["number"] for _ in range(3)]
        assert numbers == ["HY-0001", "HY-0002", "HY-0003"]
        assert sister_technician_client.post(self.base, self.new(shop)).json()["number"] == "MY-0001"

    def test_search_finds_by_number_bike_plate_and_customer(self, technician_client, shop):
        card = self.make(shop)
        self.make(shop)
        for words in (
            card.number,
            card.bike.plate,
            card.customer.name,
            f"{card.bike.model} {card.customer.name}",
        ):
            found = technician_client.get(self.base, {"search": words}).json()["results"]
            assert [row["id"] for row in found] == [card.pk], words

    def test_the_list_narrows_by_step_and_shop(self, technician_client, shop, sister_shop):
        mine, theirs = self.make(shop), JobCardFactory(shop=sister_shop, step="built")
        assert [r["id"] for r in technician_client.get(self.base, {"step": "built"}).json()["results"]] == [
            theirs.pk
        ]
        assert [r["id"] for r in technician_client.get(self.base, {"shop": shop.pk}).json()["results"]] == [
            mine.pk
        ]
        assert technician_client.get(self.base, {"step": "dreamt"}).status_code == 400

    def test_a_card_needs_a_bike_or_a_loose_part_and_a_customer(self, technician_client):
        answer = technician_client.post(self.base, {"complaint": "?"})
        assert {problem["field"] for problem in answer.json()["problems"]} == {"bike", "customer"}

    def test_anothers_rider_is_refused(self, technician_client, shop):
        body = {**self.new(shop), "rider": RiderFactory(customer=CustomerFactory(business=shop.business)).pk}
        assert problem_codes(technician_client.post(self.base, body)) == ["not_their_rider"]

    def test_a_sister_shop_continues_with_a_card_of_its_own(
        self, technician_client, sister_technician_client, stranger_client, shop
    ):
        body = self.new(shop)
        first = technician_client.post(self.base, body).json()
        second = sister_technician_client.post(self.base, body).json()
        history = technician_client.get(f"/api/bikes/{body['bike']}/history/").json()
        assert [(card["id"], card["shop_name"]) for card in history] == [
            (second["id"], "Mill Yard"),
            (first["id"], "Harbour Yard"),
        ]
        assert technician_client.get(f"{self.base}{second['id']}/").json()["may_change"] is False
        assert stranger_client.get(f"/api/bikes/{body['bike']}/history/").status_code == 404

    def test_history_says_what_was_changed(self, technician_client, shop):
        card = self.make(shop)
        received = SettingFactory(card=card)
        built = {**received.body, "spring": {"kind": "straight", "rate_n_per_mm": 56}, "preload_mm": 9}
        SettingFactory(card=card, stage="built", body=built)
        [past] = technician_client.get(f"/api/bikes/{card.bike_id}/history/").json()
        assert past["changes"] == ["Shock: spring 52 N/mm to 56 N/mm", "Shock: preload 7 to 9 mm"]

    @pytest.mark.parametrize(
        ("change", "field"),
        [
            ({"step": "sealed"}, "step"),
            ({"distance_km": -1.0}, "distance_km"),
            ({"altitude_m": 9000.0}, "altitude_m"),
            ({"next_service_on": "next spring"}, "next_service_on"),
            (
                {"targets": {"rear": {"static_sag_mm": [40, 25], "rider_sag_mm": [90, 105]}}},
                "targets.rear.static_sag_mm",
            ),
            (
                {"targets": {"rear": {"static_sag_mm": [25, 40], "rider_sag_mm": [90, 500]}}},
                "targets.rear.rider_sag_mm",
            ),
        ],
    )
    def test_what_cannot_be_on_a_cards_face_is_refused(self, technician_client, shop, change, field):
        answer = technician_client.patch(self.one(self.make(shop)), change, HTTP_IF_MATCH='"1"')
        assert answer.status_code == 400
        assert [problem["field"] for problem in answer.json()["problems"]] == [field]

    def test_targets_follow_the_kind_until_the_card_has_its_own(self, technician_client, shop):
        KindOfBikeFactory(business=shop.business)
        card = self.make(shop)
        before = technician_client.get(self.one(card)).json()["targets"]
        # 10 to 15 % and 25 to 30 % of the invented fork's stroke of 300 mm.
        assert before["front"] == {"static_sag_mm": [30, 45], "rider_sag_mm": [75, 90]}
        own = {"front": {"static_sag_mm": [20.0, 30.0], "rider_sag_mm": [60.0, 75.0]}}
        after = technician_client.patch(self.one(card), {"targets": own}, HTTP_IF_MATCH='"1"').json()[
            "targets"
        ]
        assert after["front"] == own["front"]
        assert after["rear"] == before["rear"]
        assert after["source"].endswith("front set for this job")
