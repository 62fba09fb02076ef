"""The demo is whole, hangs together physically, and is built once."""

from __future__ import annotations

import hashlib
import math
import re
from datetime import UTC, date, datetime, timedelta
from io import StringIO

import pytest
from django.apps import apps
from django.core.management import CommandError, call_command
from django.core.serializers import serialize
from django.db import transaction
from django.test import Client
from django.utils import timezone

from calc.evaluate import evaluate
from setups import bodies, measured, ranking, sums, whole_card
from setups.ahead.cases import SOLO, each_load
from setups.ahead.stand import sitting
from setups.demo.bikes import BIKES
from setups.demo.people import BUSINESS, PASSWORD, PEOPLE, STRANGER
from setups.demo.springs import FAMILIES, shelf
from setups.demo.stories import STORIES
from setups.models import CustomerLink, JobCard, SealedRecord
from setups.record import verify
from shops.access import Scoped, everywhere, rows
from shops.models import AuditEntry, Business, Person, Shop, StockSpring, Tool
from tests.factories import BusinessFactory

pytestmark = pytest.mark.django_db
WHY = "a test looks at the whole demo"
OWN_SHOPS = ("HAR", "HIL")
# Moduli in GPa: EN 10270-1 for carbon steel; Shigley 10e, table 10-5, for A401; titanium 6.1 Mpsi (memory).
SHEAR_GPA = {"en10270_1_sm": 81.5, "a401": 77.2, "titanium": 6.1 * 6.894757}
DENSITY = {"en10270_1_sm": 7.85, "a401": 7.85, "titanium": 0.175 * 453.59237 / 2.54**3}


def everything(model):
    return everywhere(model, why=WHY) if issubclass(model, Scoped) else model.objects.all()


def state():
    """Return, per table, the number of rows and a digest over all of them."""
    found = {}
    for model in (*apps.get_app_config("shops").get_models(), *apps.get_app_config("setups").get_models()):
        text = serialize("json", everything(model).order_by("pk"))
        found[model.__name__] = (everything(model).count(), hashlib.sha256(text.encode()).hexdigest())
    return found


def own(model):
    return everything(model).filter(**{model.business_path + "__name": BUSINESS})


@pytest.fixture(scope="module")
def demo(kept):
    """Build the demo once for this file."""
    said = StringIO()
    call_command("demo", stdout=said)
    return said.getvalue()


class TestBuildingIt:
    def test_a_second_run_changes_nothing_and_says_so(self, demo):
        before, said = state(), StringIO()
        call_command("demo", stdout=said)
        assert state() == before
        assert "there already" in said.getvalue()
        assert min(before[name][0] for name in ("JobCard", "SealedRecord", "StockSpring", "AuditEntry")) > 0

    def test_the_clock_runs_again_afterwards(self, demo):
        assert abs((timezone.now() - datetime.now(UTC)).total_seconds()) < 5

    def test_nothing_in_it_lies_in_the_future(self, demo):
        now = timezone.now()
        assert not own(AuditEntry).filter(at__gt=now).exists()
        assert not own(JobCard).filter(opened_at__gt=now).exists()

    def test_the_trail_tells_who_did_it_all(self, demo):
        opened = set(own(AuditEntry).filter(verb="open card").values_list("subject_id", flat=True))
        assert opened == set(own(JobCard).values_list("pk", flat=True))
        assert not own(AuditEntry).filter(person=None).exists()


class TestRefusing:
    @pytest.fixture
    def demo_gone(self, demo):
        """Let the demo's business look like another's, inside a savepoint of the demo's transaction."""
        mark = transaction.savepoint()
        Business.objects.filter(name=BUSINESS).update(name="Rowan Bench")
        yield
        transaction.savepoint_rollback(mark)

    def test_it_is_never_mixed_into_another_business(self, demo_gone):
        BusinessFactory(name="Springwell")
        before = state()
        with pytest.raises(CommandError, match="never mixed"):
            call_command("demo", stdout=StringIO())
        assert state() == before


class TestPeople:
    def test_two_shops_with_two_technicians_and_a_manager_each_and_an_owner(self, demo):
        for code in OWN_SHOPS:
            roles = sorted(own(Person).filter(shop__code=code).values_list("role", flat=True))
            assert [role for role in roles if role != "owner"] == ["manager", "technician", "technician"]
        assert own(Person).filter(role="owner").count() == 1

    @pytest.mark.parametrize("person", PEOPLE, ids=lambda person: person.key)
    def test_everybody_signs_in_with_the_printed_password(self, demo, person):
        client = Client()
        answer = client.post(
            "/api/session/", {"email": person.email, "password": PASSWORD}, content_type="application/json"
        )
        assert answer.status_code == 200, answer.content
        assert answer.json()["person"]["role"] == person.role

    def test_addresses_cannot_belong_to_anybody(self):
        assert all(person.email.endswith(".example") for person in PEOPLE)  # RFC 2606, section 2

    def test_the_stranger_meets_a_wall(self, demo):
        stranger = everything(Person).get(business__name=STRANGER)
        assert rows(JobCard, stranger).count() == 1
        client = Client()
        client.force_login(stranger, backend="shops.sign_in.PersonBackend")
        at_home = Client()
        at_home.force_login(own(Person).get(role="owner"), backend="shops.sign_in.PersonBackend")
        for card in own(JobCard):
            assert client.get(f"/api/cards/{card.pk}/").status_code == 404
            assert at_home.get(f"/api/cards/{card.pk}/").status_code == 200


class TestCards:
    def test_one_stands_in_every_state(self, demo):
        assert set(own(JobCard).values_list("step", flat=True)) == set(JobCard.Step.values)

    def test_one_bikes_history_crosses_the_shops(self, demo):
        older, newer = own(JobCard).filter(bike__model="Fellside 1000").order_by("opened_at")
        assert (older.shop.code, older.step) == ("HAR", "sealed")
        assert (newer.shop.code, newer.step) != ("HAR", "sealed")
        assert newer.shop.code == "HIL"
        assert newer.opened_at - older.opened_at > timedelta(days=700)
        # What the first shop built is what the second shop's card starts from.
        assert (
            sums.body_of(newer, "received", "rear")["spring"]
            == sums.body_of(older, "built", "rear")["spring"]
        )

    def test_every_seal_verifies_and_carries_its_own_day(self, demo):
        for shop in own(Shop):
            records = list(shop.records.order_by("number"))
            assert verify.first_failure(records) is None
        call_command("verify", stdout=StringIO())
        sealed = own(SealedRecord).filter(what="card").select_related("card")
        assert sealed.count() >= 3
        assert all(record.sealed_at.date() == record.card.opened_at.date() for record in sealed)
        assert own(SealedRecord).filter(what="amendment").exists()

    def test_a_customers_link_is_open_and_its_secret_was_printed(self, demo):
        link = own(CustomerLink).get(revoked_at=None, expires_at__gt=timezone.now())
        secret = re.search(r"/record#(\S+)", demo)[1]
        assert hashlib.sha256(secret.encode()).hexdigest() == link.secret_sha256

    def test_sealed_torques_name_manual_page_and_a_wrench_in_date(self, demo):
        lines = [line for card in own(JobCard).filter(step="sealed") for line in card.torques.all()]
        assert lines
        for line in lines:
            assert line.value_nm
            assert "(invented)" in line.source_edition
            assert line.source_page
            tightened = line.tightened_at.date()
            assert line.tightened_by_id != line.checked_by_id
            assert line.wrench.calibrated_on
            assert tightened <= date.today()

    def test_one_wrench_is_out_of_date(self, demo):
        late = own(Tool).filter(kind="torque_wrench", calibration_due__lt=date.today())
        assert [tool.serial for tool in late] == ["TW-0098"]

    def test_a_fork_with_one_empty_leg_and_a_loose_fork_are_there(self, demo):
        legs = [card.bike.front["legs"] for card in own(JobCard).filter(bike__isnull=False)]
        assert any(sum(leg["spring"] is None for leg in pair) == 1 for pair in legs)
        assert own(JobCard).filter(loose="fork").exists()


class TestSprings:
    @pytest.mark.parametrize("code", OWN_SHOPS)
    def test_the_list_is_as_long_as_a_shops(self, demo, code):
        lines = list(own(StockSpring).filter(shop__code=code))
        assert len(lines) >= 60
        assert {line.spring["kind"] for line in lines} == {"straight", "dual", "progressive"}
        assert {line.end for line in lines} == {"front", "rear"}
        assert any(line.stock == 0 for line in lines)
        assert any(line.stock >= 2 for line in lines)
        assert len({line.material for line in lines}) >= 2
        assert len({line.wire_mm for line in lines}) > 20

    @pytest.mark.parametrize("spring", list(shelf("HAR")), ids=lambda spring: spring.code)
    def test_geometry_gives_the_stamp(self, spring):
        """Rate G d⁴/(8 D³ n), Shigley 10e eq. 10-9; wire volume π² d² D n_t/4; ends, table 10-1."""
        wire, turns = spring.wire_mm, spring.active_turns
        mean = (spring.outer_diameter_mm + spring.inner_diameter_mm) / 2
        rate = SHEAR_GPA[spring.material] * 1000 * wire**4 / (8 * mean**3 * turns)
        stamped = min(value for key, value in spring.spring.items() if key.endswith("_n_per_mm"))
        assert rate == pytest.approx(stamped, rel=0.002)
        volume = math.pi**2 * wire**2 * mean * (turns + 2) / 4 / 1000
        assert spring.displaced_cm3 == pytest.approx(volume, abs=0.06)
        assert spring.mass_g == pytest.approx(volume * DENSITY[spring.material], rel=0.005)
        solid = spring.free_length_mm - wire * (turns + 2)
        assert spring.spring["solid_deflection_mm"] == pytest.approx(solid, abs=0.06)
        assert 4 <= mean / wire <= 20  # EN 13906-1's range of the index

    def test_most_are_straight_in_the_usual_steps(self):
        rates = {
            family.prefix: [
                spring["rate_n_per_mm"] for spring in family.springs if spring["kind"] == "straight"
            ]
            for family in FAMILIES
        }
        assert 2 * sum(map(len, rates.values())) > len(list(shelf("HAR")))
        steps = {
            round(b - a, 3)
            for name in ("D48", "A45")
            for a, b in zip(rates[name], rates[name][1:], strict=False)
        }
        assert steps == {0.2}


class TestBikes:
    @pytest.mark.parametrize("story", STORIES, ids=lambda story: f"{story.bike.key}-{story.days_ago}")
    def test_each_evaluates_and_carries_its_loads(self, story):
        scales = story.scales
        loads = {
            "front": {"load_static_kg": scales.front_alone, "load_rider_kg": scales.front_rider},
            "rear": {"load_static_kg": scales.rear_alone, "load_rider_kg": scales.rear_rider},
        }
        data = {"front": story.bike.front, "rear": story.bike.rear}
        found = evaluate(
            {end: {**bodies.as_request(data[end], data[end], end), **loads[end]} for end in data}
        )
        for end, travel in (
            ("front", story.bike.front["stroke_mm"]),
            ("rear", story.bike.rear["wheel_travel_mm"]),
        ):
            assert 0.02 * travel < found[end]["static_sag_mm"] < found[end]["rider_sag_mm"] < 0.5 * travel
            assert found[end]["solid_clearance_mm"] > 0
            assert 1.0 < found[end]["frequency_hz"] < 3.5

    def test_the_riders_weight_reaches_the_two_axles(self):
        """Statics: what both axles gain is the rider, in kit and with what is carried; nothing is lost."""
        riders = {"dunlin": 98.0, "wheatear": 66.0, "minnow": 74.0}
        for story in STORIES:
            if story.bike.key in riders and story.until != "received":
                scales = story.scales
                gained = scales.front_rider - scales.front_alone + scales.rear_rider - scales.rear_alone
                assert gained == pytest.approx(riders[story.bike.key], abs=13)

    def test_all_are_used(self, demo):
        ridden = own(JobCard).filter(bike__isnull=False).values_list("bike__model", flat=True)
        assert set(ridden) == {bike.model for bike in BIKES}

    @pytest.mark.parametrize("end", ["front", "rear"])
    @pytest.mark.parametrize("stage", ["received", "built"])
    def test_readings_agree_with_the_springs(self, demo, stage, end):
        compared = 0
        for card in own(JobCard).filter(bike__isnull=False):
            body, read = sums.body_of(card, stage, end), measured.sag_of(card, stage, end)
            if body is None or read is None:
                continue
            side = sums.side(card, stage, end, body)
            assert side.problems == ()
            for sag in ("static_sag_mm", "rider_sag_mm"):
                assert read[sag] == pytest.approx(side.result[sag], abs=2.5)
            assert 1.0 <= read["static_band_mm"] <= 6.0
            compared += 1
        assert compared >= 3

    def test_every_job_mends_what_came_in(self, demo):
        done = own(JobCard).filter(step__in=["remeasured", "handed_over", "sealed"])
        for card in done:
            for end in measured.ENDS:
                received, built = (sums.body_of(card, stage, end) for stage in ("received", "built"))
                if built is None:
                    continue
                assert sums.side(card, "received", end, received).verdict.code != "suits"
                assert sums.side(card, "built", end, built).verdict.code == "suits"
        assert done.count() >= 5


class TestLookingAhead:
    @pytest.mark.parametrize("model", ["Dunlin 450", "Fellside 1000"])
    def test_how_it_sits_brakes_and_drives_is_told(self, demo, model):
        """Rake, trail and wheelbase as such bikes have them: common practice, no source."""
        card = whole_card.with_parts(own(JobCard).filter(bike__model=model).order_by("-opened_at")[0])
        found = sitting(card, {})
        assert (found["problems"], found["missing"]) == ([], [])
        assert found["braking"]
        assert found["squat"]
        for row in found["stages"]:
            assert 24 < row["rake_deg"] < 30
            assert 90 < row["trail_mm"] < 135
            assert 1400 < row["wheelbase_mm"] < 1600
        for row in found["braking"]:
            assert row["left_mm"] > 0

    def test_what_else_the_adventure_bike_carries_asks_for_more_preload(self, demo):
        card = whole_card.with_parts(own(JobCard).get(bike__model="Fellside 1000", step="remeasured"))
        found = each_load(card, "rear")
        assert (found["problems"], found["missing"]) == ([], [])
        preloads = {row["label"]: row["preload_mm"] for row in found["cases"]}
        assert preloads.pop("passenger") > preloads.pop("tent and food") > preloads.pop(SOLO)
        assert not preloads

    def test_the_dirt_bike_with_luggage_stays_within_its_adjuster(self, demo):
        card = whole_card.with_parts(own(JobCard).get(number="HAR-0004"))
        for end in measured.ENDS:
            found = each_load(card, end)
            assert found["reaches_all"] is True
            assert len(found["cases"]) == 2


class TestTheJobToDo:
    @pytest.fixture
    def card(self, demo):
        return own(JobCard).get(step="measured")

    def test_what_came_in_does_not_suit(self, card):
        for end in measured.ENDS:
            side = sums.side(card, "received", end, sums.body_of(card, "received", end))
            assert side.verdict.action == "change_spring"

    @pytest.mark.parametrize("end", ["front", "rear"])
    def test_three_springs_on_the_shelf_do(self, card, end):
        choice = ranking.ranked(card, end)
        assert choice.problems == ()
        assert choice.missing == ()
        pieces = 2 if end == "front" else 1
        suit = [
            row
            for row in choice.ranked
            if row["verdict"] == "suits"
            and row["fits"]
            and row["stock"] >= pieces
            and row["probability"] > 0.5  # more likely than not, however much is only assumed
        ]
        assert len(suit) >= 3
        bike = next(bike for bike in BIKES if bike.model == card.bike.model)
        came_with = bike.came_with[0 if end == "front" else 1]
        assert next(row["verdict"] for row in choice.ranked if row["code"] == came_with) != "suits"


class TestWorkingItByHand:
    """What a person does in the browser with the dirt bike's card, through the same API."""

    @pytest.fixture
    def undone(self, demo):
        mark = transaction.savepoint()
        yield
        transaction.savepoint_rollback(mark)

    @staticmethod
    def hand_of(name):
        client = Client()
        client.force_login(
            everything(Person).get(name__startswith=name), backend="shops.sign_in.PersonBackend"
        )

        def do(path, body=None, **headers):
            answer = client.post(path, body or {}, content_type="application/json", headers=headers)
            assert answer.status_code < 300, (path, answer.content)
            return answer.json()

        return client, do

    def test_the_rest_of_the_job_takes_few_entries_and_seals(self, undone):
        client, do = self.hand_of("Tamsin")
        _, check = self.hand_of("Jory")
        at = f"/api/cards/{own(JobCard).get(step='measured').pk}/"
        for end in measured.ENDS:
            ranked = do(f"{at}choose/", {"end": end})["ranked"]
            best = next(
                row for row in ranked if row["verdict"] == "suits" and row["fits"] and row["stock"] > 1
            )
            do(f"{at}fit/", {"end": end, "stock_spring": best["id"]})
            card = do(f"{at}as-built/", {"end": end})
        for caution in card["cautions"]:
            if caution["read_at"] is None:
                do(f"{at}cautions/{caution['key']}/read/")
        for line in card["torques"]:
            do(f"{at}torques/{line['id']}/tighten/")
            if line["needs_second_check"]:
                check(f"{at}torques/{line['id']}/check/")
        typed = self.lengths(client.get(f"{at}sides/").json()["built"], card["readings"])
        do(f"{at}readings/", {"readings": typed})
        for part in ("work", "hand_over"):
            do(f"{at}sign-offs/", {"part": part})
        assert do(f"{at}seal/")["record"]["number"] > 0
        assert len(typed) <= 8
        assert len(card["torques"]) <= 6

    @staticmethod
    def lengths(sides, readings):
        """Return a length from above and one from below for each sag, 4 mm of stiction between them."""
        free = {row["end"]: row["value"] for row in readings if row["quantity"] == "wheel_free_mm"}
        return [
            {
                "stage": "built",
                "end": end,
                "quantity": f"{who}_from_{way}_mm",
                "value": round(free[end] - sides[end]["result"][sag] + off),
                "instrument": "tape",
            }
            for end in measured.ENDS
            for who, sag in (("alone", "static_sag_mm"), ("rider", "rider_sag_mm"))
            for way, off in (("above", 2), ("below", -2))
        ]
