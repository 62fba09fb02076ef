"""Lists taken in from spreadsheet files: looked at first, all or nothing, once, and nothing personal in the trail."""

from __future__ import annotations

import csv
import io
import json

import pytest

from setups.models import Customer, Rider
from shops.access import rows
from shops.models import AuditEntry, IdempotentReply, StockSpring
from shops.spreadsheet import MOST_BYTES
from tests.factories import CustomerFactory, RiderFactory, StockSpringFactory

pytestmark = pytest.mark.django_db

HEAD = "code;end;label;rate_n_per_mm;free_length_mm;stock\n"
GOOD = f"{HEAD}F460;fork;Fork 4,6;4,6;470;2\nR52;shock;Shock 52;52;250;1\n"


def look(client, text, what="springs", **query):
    address = f"/api/lists/{what}/look/?" + "&".join(f"{name}={value}" for name, value in query.items())
    return client.post(address, text if isinstance(text, bytes) else text.encode(), content_type="text/csv")


def take(client, text, what="springs", plan=None, key=None, **query):
    plan = plan or look(client, text, what, **query).json()["plan"]
    address = f"/api/lists/{what}/?plan={plan}" + "".join(f"&{name}={value}" for name, value in query.items())
    headers = {"HTTP_IDEMPOTENCY_KEY": key} if key else {}
    return client.post(address, text.encode(), content_type="text/csv", **headers)


def springs(owner):
    return {one.code: one for one in rows(StockSpring, owner)}


class TestLooking:
    def test_it_says_how_the_file_was_read_and_what_would_happen_and_does_nothing(self, manager_client, owner, shop):
        StockSpringFactory(shop=shop, code="R52", end="rear", label="Shock 52", sort_rate_n_per_mm=52, stock=3)
        answer = look(manager_client, GOOD).json()
        assert (answer["separator"], answer["decimal"], answer["encoding"]) == ("semicolon", "comma", "UTF-8")
        assert (answer["new"], answer["changed"], answer["same"], answer["wrong"]) == (1, 1, 0, 0)
        [new, changed] = answer["rows"]
        assert new["changes"]["spring"][1] == {"kind": "straight", "rate_n_per_mm": 4.6}
        assert changed["changes"] == {"stock": [3, 1], "free_length_mm": [470.0, 250.0]}
        assert set(springs(owner)) == {"R52"}
        assert not rows(AuditEntry, owner).exists()

    @pytest.mark.parametrize(
        ("row", "column", "read", "band", "cause"),
        [
            # The design's own example of a slip: 46 for 4.6.
            ("F1;fork;;46;;", "rate_n_per_mm", 46.0, (2, 25), "4.6"),
            ("F1;fork;;;;", "rate_n_per_mm", None, None, "missing"),
            (";fork;;4,6;;", "code", None, None, "blank"),
            ("F1;left;;4,6;;", "end", "left", None, "fork"),
            (";;;4,6;;", "code", None, None, "blank"),
            ("F1;;;4,6;;", "end", None, None, "fork or shock"),
            ("F1;fork;;4,6;;two", "stock", "two", (0, 9999), "digits"),
            ("F1;fork;;4,6;;1,5", "stock", "1,5", (0, 9999), "whole"),
            ("F1;fork;;4,6;;-1", "stock", "-1", (0, 9999), ""),
            ("F1;fork;;4,6;4700;", "free_length_mm", "4700", (0, 1000), ""),
            ("F1;fork;;4.6 N/mm;;", "rate_n_per_mm", "4.6 N/mm", (0, 1000), "no unit"),
            ("x" * 41 + ";fork;;4,6;;", "code", "x" * 41, None, "40 fit"),
        ],
    )
    def test_a_bad_row_is_shown_with_line_column_value_band_and_cause(
        self, manager_client, row, column, read, band, cause
    ):
        answer = look(manager_client, f"{GOOD}{row}\n").json()
        assert answer["wrong"] == 1
        found = [one for one in answer["problems"] if one["column"] == column]
        assert found, answer["problems"]
        assert found[0]["line"] == 4
        assert cause in found[0]["text"]
        if read is not None:
            assert found[0]["value"] == read
        if band is not None:
            assert (found[0]["low"], found[0]["high"]) == band

    def test_every_bad_row_is_named_not_the_first_alone(self, manager_client):
        answer = look(manager_client, f"{GOOD}A;fork;;46;;\nB;shock;;5200;;\nF460;fork;;4,6;;\n").json()
        assert [one["line"] for one in answer["problems"]] == [4, 5, 6]
        assert "line 2" in answer["problems"][2]["text"]

    def test_a_number_that_may_be_two_is_asked_about(self, manager_client):
        answer = look(manager_client, "code;end;rate_n_per_mm;free_length_mm\nF1;fork;5;1,000\n").json()
        [problem] = answer["problems"]
        assert problem["code"] == "doubtful"
        assert "1 or 1000" in problem["text"]

    def test_units_in_brackets_are_converted(self, manager_client, owner):
        """NIST SP 811, appendix B: 1 lbf = 4.4482216 N, 1 in = 25.4 mm, so 26 lbf/in = 4.5533 N/mm."""
        text = "code,end,rate (lbf/in),free length (in)\nF26,fork,26,18.5\n"
        assert take(manager_client, text).status_code == 200
        spring = springs(owner)["F26"]
        assert spring.spring["rate_n_per_mm"] == pytest.approx(26 * 4.4482216 / 25.4)
        assert spring.free_length_mm == pytest.approx(18.5 * 25.4)

    def test_a_column_in_two_units_is_refused(self, manager_client):
        answer = look(manager_client, "code,end,rate_n_per_mm,rate (lbf/in)\nF26,fork,4.6,26\n")
        assert answer.status_code == 400
        assert answer.json()["problems"][0]["code"] == "twice"

    def test_a_column_that_means_nothing_is_said_to_be_left_out(self, manager_client):
        answer = look(manager_client, "code,end,rate_n_per_mm,mood\nF26,fork,4.6,good\n").json()
        assert answer["ignored"] == ["mood"]

    @pytest.mark.parametrize(
        ("data", "code"),
        [
            (b"", "empty"),
            (b"name,rate\nA,4.6\n", "no_column"),
            (b"code\x00\n", "not_text"),
            (b"PK\x03\x04", "not_text"),
            (b'code,end\n"F', "not_csv"),
            (b"code,end\n" + b"F" * MOST_BYTES, "too_large"),
        ],
    )
    def test_what_is_no_list_is_refused_in_a_sentence(self, manager_client, data, code):
        answer = look(manager_client, data)
        assert answer.status_code == 400
        assert [one["code"] for one in answer.json()["problems"]] == [code]

    def test_other_spring_kinds_and_fields_that_do_not_go_together(self, manager_client, owner):
        head = "code,end,kind,soft_n_per_mm,hard_n_per_mm,change_mm,rate_n_per_mm\n"
        assert take(manager_client, f"{head}D1,fork,dual,4,6,100,\n").status_code == 200
        assert springs(owner)["D1"].spring == {
            "kind": "dual", "soft_n_per_mm": 4, "hard_n_per_mm": 6, "change_mm": 100,
        }  # fmt: skip
        [problem] = look(manager_client, f"{head}D2,fork,dual,4,6,100,5\n").json()["problems"]
        assert problem["column"] == "rate_n_per_mm"
        [problem] = look(manager_client, f"{head}D2,fork,dual,6,4,100,\n").json()["problems"]
        assert "swapped" in problem["text"]


class TestTakingIn:
    def test_all_of_it_is_taken_with_a_line_in_the_trail_for_each_row(self, manager_client, owner, shop):
        answer = take(manager_client, GOOD)
        assert answer.json() == {"new": 2, "changed": 0, "same": 0}
        assert springs(owner)["F460"].stock == 2
        assert springs(owner)["R52"].sort_rate_n_per_mm == 52
        verbs = sorted(rows(AuditEntry, owner).values_list("verb", flat=True))
        assert verbs == ["add spring", "add spring", "take list in"]

    def test_a_second_time_changes_nothing(self, manager_client, owner):
        take(manager_client, GOOD)
        answer = take(manager_client, GOOD)
        assert answer.json() == {"new": 0, "changed": 0, "same": 2}
        assert {one.version for one in springs(owner).values()} == {1}

    def test_a_retry_with_the_same_key_is_answered_as_before(self, manager_client, owner):
        plan = look(manager_client, GOOD).json()["plan"]
        first = take(manager_client, GOOD, plan=plan, key="k-1")
        again = take(manager_client, GOOD, plan=plan, key="k-1")
        assert first.json() == again.json() == {"new": 2, "changed": 0, "same": 0}
        assert len(springs(owner)) == 2

    def test_one_bad_row_and_nothing_is_taken(self, manager_client, owner):
        text = f"{GOOD}A;fork;;46;;\n"
        answer = take(manager_client, text)
        assert answer.status_code == 400
        assert answer.json()["problems"][0]["text"].startswith("Line 4: ")
        assert not springs(owner)
        assert not rows(AuditEntry, owner).exists()

    def test_what_changed_since_it_was_looked_at_is_not_taken(self, manager_client, owner, shop):
        plan = look(manager_client, GOOD).json()["plan"]
        StockSpringFactory(shop=shop, code="F460", stock=9)
        answer = take(manager_client, GOOD, plan=plan)
        assert answer.status_code == 409
        assert springs(owner)["F460"].stock == 9

    def test_blank_cells_leave_what_stands(self, manager_client, owner, shop):
        StockSpringFactory(shop=shop, code="F460", stock=9, material="a401")
        take(manager_client, "code,stock,material\nF460,4,\n")
        spring = springs(owner)["F460"]
        assert (spring.stock, spring.material, spring.version) == (4, "a401", 2)

    def test_a_spring_does_not_change_its_end(self, manager_client, shop):
        StockSpringFactory(shop=shop, code="F460")
        [problem] = look(manager_client, "code,end,stock\nF460,shock,4\n").json()["problems"]
        assert problem["column"] == "end"

    def test_a_manager_takes_in_for_the_own_shop_an_owner_for_any(
        self, manager_client, owner_client, sister_shop, other_shop
    ):
        assert look(manager_client, GOOD, shop=sister_shop.pk).status_code == 403
        assert take(manager_client, GOOD, shop=sister_shop.pk, plan="x").status_code == 403
        assert look(owner_client, GOOD, shop=sister_shop.pk).status_code == 200
        for client in (manager_client, owner_client):
            assert look(client, GOOD, shop=other_shop.pk).status_code == 404

    def test_an_unknown_list_is_not_there(self, manager_client):
        assert look(manager_client, GOOD, what="people").status_code == 404

    def test_a_long_list_takes_few_queries(
        self, manager_client, owner, django_assert_max_num_queries
    ):
        text = HEAD + "".join(f"F{n};fork;Fork;4,6;470;2\n" for n in range(600))
        plan = look(manager_client, text).json()["plan"]
        with django_assert_max_num_queries(60):
            assert take(manager_client, text, plan=plan).json()["new"] == 600
        changed = text.replace(";2\n", ";3\n")
        plan = look(manager_client, changed).json()["plan"]
        with django_assert_max_num_queries(60):
            assert take(manager_client, changed, plan=plan).json()["changed"] == 600
        assert rows(StockSpring, owner).filter(stock=3, version=2).count() == 600


class TestGivingOut:
    def test_what_is_given_out_is_taken_back_as_the_same(self, manager_client, shop):
        StockSpringFactory(shop=shop, code="=F1+1", label="@fork", batch="B7", stock=0)
        StockSpringFactory(
            shop=shop, code="R52", end="rear", wire_mm=11.5, sort_rate_n_per_mm=52,
            spring={"kind": "progressive", "start_n_per_mm": 40, "end_n_per_mm": 60, "over_mm": 50},
        )  # fmt: skip
        answer = manager_client.get("/api/lists/springs/")
        text = b"".join(answer.streaming_content).decode()
        assert answer["Content-Type"].startswith("text/csv")
        cells = [cell for line in csv.reader(io.StringIO(text.removeprefix("\ufeff"))) for cell in line]
        assert not [cell for cell in cells if cell[:1] in {"=", "+", "-", "@"}]
        answer = look(manager_client, text).json()
        assert (answer["same"], answer["new"], answer["changed"], answer["problems"]) == (2, 0, 0, [])

    def test_customers_come_back_as_the_same(self, manager_client, business):
        coded = CustomerFactory(business=business, code="K-7", name="=Tamsin", notes='says "no";\nthen yes')
        CustomerFactory(business=business, name="Orla Venn", phone="+000 77")
        RiderFactory(customer=coded, name="Pim", mass_in_kit_kg=82.5)
        text = b"".join(manager_client.get("/api/lists/customers/").streaming_content).decode()
        answer = look(manager_client, text, what="customers").json()
        assert (answer["same"], answer["new"], answer["changed"], answer["problems"]) == (2, 0, 0, [])


class TestCustomers:
    TEXT = (
        "code;name;phone;email;notes;rider;mass_in_kit_kg\n"
        "K-1;Ottilie Märsh;000 55;ottilie@rider.example;;;81,5\n"
        "K-2;Pim Orrery;;;;Wil Orrery;64\n"
    )

    def test_customers_and_riders_are_taken_in_once(self, manager_client, owner):
        assert take(manager_client, self.TEXT, "customers").json() == {"new": 2, "changed": 0, "same": 0}
        assert take(manager_client, self.TEXT, "customers").json() == {"new": 0, "changed": 0, "same": 2}
        found = {(one.customer.code, one.name, one.mass_in_kit_kg) for one in rows(Rider, owner)}
        assert found == {("K-1", "Ottilie Märsh", 81.5), ("K-2", "Wil Orrery", 64)}

    def test_a_change_makes_a_new_version(self, manager_client, owner):
        take(manager_client, self.TEXT, "customers")
        text = self.TEXT.replace("000 55", "000 56").replace(";64", ";66").replace("Wil", "Wil")
        assert take(manager_client, text, "customers").json() == {"new": 0, "changed": 2, "same": 0}
        assert rows(Customer, owner).get(code="K-1").phone == "000 56"
        assert rows(Rider, owner).get(name="Wil Orrery").mass_in_kit_kg == 66
        assert rows(Rider, owner).count() == 2

    def test_nothing_personal_reaches_the_trail_or_the_kept_answers(self, manager_client, owner):
        take(manager_client, self.TEXT, "customers", key="k-1")
        take(manager_client, self.TEXT.replace("000 55", "000 56"), "customers", key="k-2")
        kept = json.dumps(
            [list(rows(AuditEntry, owner).values("before", "after", "reason")),
             list(rows(IdempotentReply, owner).values("body", "key"))]
        )  # fmt: skip
        for word in ("Ottilie", "rider.example", "000 5", "81.5", "Orrery", "K-1"):
            assert word not in kept
        assert rows(AuditEntry, owner).filter(verb="add rider").count() == 2

    @pytest.mark.parametrize(
        ("row", "column", "words"),
        [
            ("K-9;;;;;;", "name", "needs a name"),
            ("K-9;Pim;;nowhere;;;", "email", "no e-mail address"),
            ("K-9;Pim;;;;;815", "mass_in_kit_kg", "250 kg"),
            ("#77;Pim;;;;;", "code", "begin with #"),
            ("K-1;Pim;;;;;", "code", "line 2"),
        ],
    )
    def test_bad_rows(self, manager_client, row, column, words):
        [problem] = look(manager_client, f"{self.TEXT}{row}\n", "customers").json()["problems"]
        assert (problem["line"], problem["column"]) == (4, column)
        assert words in problem["text"]

    def test_another_businesss_customers_are_not_touched(self, manager_client, other_shop):
        theirs = CustomerFactory(business=other_shop.business, code="K-1", name="Nobody Else")
        take(manager_client, self.TEXT, "customers")
        assert look(manager_client, f"code;phone\n#{theirs.pk};1\n", "customers").json()["wrong"] == 1
        theirs.refresh_from_db()
        assert theirs.name == "Nobody Else"
