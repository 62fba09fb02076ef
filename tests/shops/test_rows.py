"""Shops, people, tools, springs and the trail, put through what all rows must do, and their own rules."""

from __future__ import annotations

from itertools import count
from typing import ClassVar

import pytest

from shops.access import rows
from shops.models import AuditEntry, Person, Shop, StockSpring, Tool
from tests.factories import AuditEntryFactory, PersonFactory, ShopFactory, StockSpringFactory, ToolFactory
from tests.shops.cases import ChangingCase, CreatingCase, ReadingCase, RemovingCase, problem_codes

MANAGERS = frozenset({"manager", "owner"})
numbers = count(1)


class TestTools(ChangingCase, CreatingCase):
    base = "/api/tools/"
    change: ClassVar = {"certificate": "renewed", "in_use": False}

    def make(self, shop):
        return ToolFactory(shop=shop)

    def new(self, shop):
        return {"shop": shop.pk, "kind": "scale", "name": "Axle scale", "serial": f"S-{next(numbers)}"}

    def count(self, owner):
        return rows(Tool, owner).count()

    def test_two_tools_of_a_shop_cannot_share_a_serial_number(self, technician_client, shop, sister_shop):
        ToolFactory(shop=sister_shop, serial="S-0")
        body = {"shop": shop.pk, "kind": "gauge", "name": "Dial gauge", "serial": "S-0"}
        assert technician_client.post(self.base, body).status_code == 201
        answer = technician_client.post(self.base, body)
        assert answer.status_code == 400
        assert answer.json()["problems"][0]["field"] == "serial"

    def test_a_tool_for_a_sister_shop_is_refused_and_for_a_foreign_one_unknown(
        self, technician_client, sister_shop, other_shop
    ):
        body = {"kind": "gauge", "name": "Dial gauge", "serial": "S-0"}
        assert technician_client.post(self.base, {**body, "shop": sister_shop.pk}).status_code == 403
        foreign = technician_client.post(self.base, {**body, "shop": other_shop.pk})
        missing = technician_client.post(self.base, {**body, "shop": other_shop.pk + 999})
        assert foreign.status_code == missing.status_code == 400
        assert problem_codes(foreign) == problem_codes(missing) == ["no_such_row"]

    def test_calibration_is_due_after_it_was_done(self, technician_client, shop):
        row = self.make(shop)
        dates = {"calibrated_on": "2026-05-01", "calibration_due": "2025-05-01"}
        answer = technician_client.patch(self.one(row), dates, HTTP_IF_MATCH='"1"')
        assert answer.status_code == 400
        assert answer.json()["problems"][0]["field"] == "calibration_due"

    def test_a_calibration_in_the_future_is_a_slip_of_the_year(self, technician_client, shop):
        dates = {"calibrated_on": "2999-01-01", "calibration_due": "3000-01-01"}
        answer = technician_client.post(self.base, {**self.new(shop), **dates})
        assert answer.status_code == 400
        [problem] = answer.json()["problems"]
        assert (problem["field"], problem["code"]) == ("calibrated_on", "in_the_future")

    @pytest.mark.parametrize("text", ["01/05/2026", "2026-13-01", "soon", "", 20260501])
    def test_a_date_is_read_one_way_only(self, technician_client, shop, text):
        row = self.make(shop)
        answer = technician_client.patch(self.one(row), {"calibrated_on": text}, HTTP_IF_MATCH='"1"')
        assert answer.status_code == 400
        assert answer.json()["problems"][0]["field"] == "calibrated_on"

    def test_searching(self, technician_client, shop):
        wanted = ToolFactory(shop=shop, name="Long-armed wrench")
        ToolFactory(shop=shop, name="Dial gauge")
        found = technician_client.get(self.base, {"search": "LONG-arm"}).json()["results"]
        assert [row["id"] for row in found] == [wanted.pk]
        assert technician_client.get(self.base, {"search": "\0"}).status_code == 400


class TestSprings(ChangingCase, CreatingCase, RemovingCase):
    base = "/api/springs/"
    changers = creators = removers = MANAGERS
    change: ClassVar = {"stock": 7, "label": "Fork 4.6 N/mm, painted"}

    def make(self, shop):
        return StockSpringFactory(shop=shop)

    def new(self, shop):
        return {
            "shop": shop.pk, "end": "front", "code": f"N-{next(numbers)}", "label": "Fork 5.0",
            "spring": {"kind": "straight", "rate_n_per_mm": 5.0}, "stock": 2,
        }

    def count(self, owner):
        return rows(StockSpring, owner).count()

    def test_the_list_is_the_own_shops_softest_first_unless_another_is_named(
        self, technician_client, shop, sister_shop
    ):
        for rate in (5.0, 4.4, 4.8):
            StockSpringFactory(shop=shop, sort_rate_n_per_mm=rate)
        theirs = StockSpringFactory(shop=sister_shop, sort_rate_n_per_mm=4.0)
        rear = StockSpringFactory(shop=shop, end="rear", sort_rate_n_per_mm=52.0)
        found = technician_client.get(self.base, {"end": "front"}).json()["results"]
        assert [row["sort_rate_n_per_mm"] for row in found] == [4.4, 4.8, 5.0]
        found = technician_client.get(self.base, {"end": "rear"}).json()["results"]
        assert [row["id"] for row in found] == [rear.pk]
        found = technician_client.get(self.base, {"shop": sister_shop.pk}).json()["results"]
        assert [(row["id"], row["shop_name"]) for row in found] == [(theirs.pk, "Mill Yard")]
        assert technician_client.get(self.base, {"end": "middle"}).status_code == 400

    def test_a_fork_rate_typed_ten_times_too_large_is_refused_with_a_guess(self, manager_client, shop):
        body = {**self.new(shop), "spring": {"kind": "straight", "rate_n_per_mm": 46}}
        answer = manager_client.post(self.base, body)
        assert answer.status_code == 400
        [problem] = answer.json()["problems"]
        assert problem["field"] == "spring.rate_n_per_mm"
        assert problem["value"] == 46
        assert problem["unit"] == "N/mm"
        assert "4.6" in problem["text"]

    @pytest.mark.parametrize(("spring", "field"), [
        ({"kind": "straight"}, "spring.rate_n_per_mm"),
        ({"kind": "straight", "rate_n_per_mm": "5"}, "spring.rate_n_per_mm"),
        ({"kind": "straight", "rate_n_per_mm": True}, "spring.rate_n_per_mm"),
        ({"kind": "straight", "rate_n_per_mm": 5, "colour": "red"}, "spring.colour"),
        ({"kind": "woollen", "rate_n_per_mm": 5}, "spring.kind"),
        ({"kind": "dual", "soft_n_per_mm": 6, "hard_n_per_mm": 5, "change_mm": 50}, "spring.hard_n_per_mm"),
        (None, "spring"), ([], "spring"),
    ])
    def test_a_spring_that_calc_could_not_take_is_refused(self, manager_client, shop, spring, field):
        answer = manager_client.post(self.base, {**self.new(shop), "spring": spring})
        assert answer.status_code == 400
        assert answer.json()["problems"][0]["field"] == field

    @pytest.mark.parametrize(("values", "field"), [
        ({"inner_diameter_mm": 40, "outer_diameter_mm": 36}, "inner_diameter_mm"),
        ({"wire_mm": 20, "outer_diameter_mm": 36}, "wire_mm"),
        ({"free_length_mm": 0}, "free_length_mm"), ({"displaced_cm3": -1}, "displaced_cm3"),
        ({"stock": -1}, "stock"), ({"mass_g": 1e9}, "mass_g"), ({"wire_mm": "5"}, "wire_mm"),
    ])
    def test_measures_that_no_spring_has_are_refused(self, manager_client, shop, values, field):
        answer = manager_client.post(self.base, {**self.new(shop), **values})
        assert answer.status_code == 400
        assert answer.json()["problems"][0]["field"] == field

    def test_a_progressive_spring_is_listed_by_its_mean_rate(self, manager_client, shop):
        body = {
            **self.new(shop), "end": "rear",
            "spring": {"kind": "progressive", "start_n_per_mm": 40, "end_n_per_mm": 60, "over_mm": 60},
        }
        answer = manager_client.post(self.base, body)
        assert answer.status_code == 201, answer.content
        assert answer.json()["sort_rate_n_per_mm"] == 50
        changed = {"spring": {"kind": "straight", "rate_n_per_mm": 55}}
        answer = manager_client.patch(f"{self.base}{answer.json()['id']}/", changed, HTTP_IF_MATCH='"1"')
        assert answer.json()["sort_rate_n_per_mm"] == 55

    def test_the_same_code_and_batch_is_on_the_list_once(self, manager_client, shop):
        body = self.new(shop)
        assert manager_client.post(self.base, body).status_code == 201
        assert manager_client.post(self.base, {**body, "batch": "B2"}).status_code == 201
        answer = manager_client.post(self.base, body)
        assert answer.status_code == 400
        assert answer.json()["problems"][0]["field"] == "code"


class TestPeople(ChangingCase, CreatingCase):
    base = "/api/people/"
    changers = creators = MANAGERS
    change: ClassVar = {"name": "Odo Fenwright-Mere"}

    def make(self, shop):
        return PersonFactory(shop=shop)

    def new(self, shop):
        return {
            "name": "Sunniva Arkwell", "email": f"sunniva{next(numbers)}@springwell.example",
            "role": "technician", "shop": shop.pk, "password": "kettle orchard nine",
        }

    def count(self, owner):
        return rows(Person, owner).count()

    def test_a_new_person_can_sign_in_and_the_password_is_nowhere_in_answer_or_trail(
        self, manager_client, anonymous, owner, shop
    ):
        body = self.new(shop)
        answer = manager_client.post(self.base, body, HTTP_IDEMPOTENCY_KEY="k")
        assert "password" not in answer.json()
        signed_in = anonymous.post("/api/session/", {"email": body["email"], "password": body["password"]})
        assert signed_in.status_code == 200
        kept = str([(line.verb, line.before, line.after) for line in rows(AuditEntry, owner)])
        assert "add person" in kept
        assert body["email"] not in kept
        assert body["name"] not in kept
        assert body["password"] not in kept

    def test_an_address_signs_in_one_person_only_whatever_its_case(self, manager_client, shop, stranger):
        answer = manager_client.post(self.base, {**self.new(shop), "email": stranger.email.upper()})
        assert answer.status_code == 400
        assert answer.json()["problems"][0]["field"] == "email"

    def test_only_an_owner_makes_or_changes_an_owner(
        self, manager_client, owner_client, owner, technician, shop
    ):
        assert manager_client.post(self.base, {**self.new(shop), "role": "owner"}).status_code == 403
        answer = manager_client.patch(self.one(technician), {"role": "owner"}, HTTP_IF_MATCH='"1"')
        assert answer.status_code == 403
        answer = manager_client.patch(self.one(owner), {"is_active": False}, HTTP_IF_MATCH='"1"')
        assert answer.status_code == 403
        answer = owner_client.patch(self.one(technician), {"role": "owner"}, HTTP_IF_MATCH='"1"')
        assert answer.status_code == 200

    @pytest.mark.parametrize("change", [{"is_active": False}, {"role": "manager"}])
    def test_the_last_owner_stays(self, owner_client, owner, shop, change):
        PersonFactory(shop=shop, role="owner", is_active=False)
        answer = owner_client.patch(self.one(owner), change, HTTP_IF_MATCH='"1"')
        assert answer.status_code == 409
        assert problem_codes(answer) == ["last_owner"]
        PersonFactory(shop=shop, role="owner")
        assert owner_client.patch(self.one(owner), change, HTTP_IF_MATCH='"1"').status_code == 200

    def test_a_manager_moves_nobody_to_another_shop(self, manager_client, technician, sister_shop):
        answer = manager_client.patch(self.one(technician), {"shop": sister_shop.pk}, HTTP_IF_MATCH='"1"')
        assert answer.status_code == 403

    def test_a_manager_cannot_hire_for_a_sister_shop(self, manager_client, sister_shop):
        assert manager_client.post(self.base, self.new(sister_shop)).status_code == 403


class TestShops(ChangingCase, CreatingCase):
    base = "/api/shops/"
    changers = MANAGERS
    creators = frozenset({"owner"})
    change: ClassVar = {"paper": "Letter", "time_zone": "Etc/UTC"}

    def make(self, shop):
        return shop

    def another(self, shop):
        return ShopFactory(business=shop.business)

    def new(self, shop):
        return {"name": "Quay Yard", "code": f"Q{next(numbers)}"}

    def count(self, owner):
        return rows(Shop, owner).count()

    def test_an_unknown_time_zone_is_refused(self, manager_client, shop):
        answer = manager_client.patch(self.one(shop), {"time_zone": "Mars/Olympus"}, HTTP_IF_MATCH='"1"')
        assert answer.status_code == 400
        assert answer.json()["problems"][0]["field"] == "time_zone"

    @pytest.mark.parametrize("code", ['A"B', "A\r\nB", "A;B", "A/B", "=1+1"])
    def test_a_code_that_would_speak_in_a_header_or_a_file_name_is_refused(self, owner_client, code):
        answer = owner_client.post(self.base, {"name": "Quay", "code": code})
        assert answer.json()["problems"][0]["field"] == "code"

    def test_a_code_is_used_once_in_a_business(self, owner_client, shop, other_shop):
        assert owner_client.post(self.base, {"name": "Quay", "code": shop.code}).status_code == 400
        assert owner_client.post(self.base, {"name": "Quay", "code": other_shop.code}).status_code == 201


class TestTrail(ReadingCase):
    base = "/api/trail/"
    readers = MANAGERS
    retrieved = False

    def make(self, shop):
        return AuditEntryFactory(shop=shop)

    def test_the_trail_can_be_narrowed_to_one_row(self, manager_client, shop):
        wanted = AuditEntryFactory(shop=shop, subject="tool", subject_id=77)
        AuditEntryFactory(shop=shop, subject="tool", subject_id=78)
        found = manager_client.get(self.base, {"subject": "tool", "subject_id": 77}).json()["results"]
        assert [row["id"] for row in found] == [wanted.pk]

    @pytest.mark.parametrize("method", ["post", "put", "patch", "delete"])
    def test_the_trail_cannot_be_written(self, owner_client, shop, method):
        assert getattr(owner_client, method)(self.base, {}).status_code == 405
        line = self.make(shop)
        assert getattr(owner_client, method)(self.one(line), {}).status_code == 404
