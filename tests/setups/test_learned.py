"""Learning from as built: what sealing keeps, what is offered for it, and that nothing is applied in silence."""

from __future__ import annotations

import json
import statistics

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from calc.evaluate import evaluate
from setups import learned, sums, whole_card
from setups.models import BuiltSag, JobCard, Reading
from setups.record import layout, seal
from shops.access import everywhere, rows
from shops.models import AuditEntry
from tests.factories import (
    BikeFactory,
    BuiltSagFactory,
    JobCardFactory,
    ReadingFactory,
    SettingFactory,
    StockSpringFactory,
)
from tests.setups.record import conftest as invented_record
from tests.setups.record import invented

make_ready_card, actor = invented_record.make_ready_card, invented_record.actor
READ = {"wheel_free_mm": 640, "alone_from_above_mm": 612, "rider_from_above_mm": 548}


def kept(**which):
    return everywhere(BuiltSag, why="this test").filter(**which).order_by("end", "sag")


def card_of_model(shop, **values):
    """Return an open card of an invented model with loads at both axles, and its settings as received."""
    bike = BikeFactory(business=shop.business, make="Brackwater", model="Heron", **values)
    card = JobCardFactory(shop=shop, bike=bike, customer=bike.owner)
    for end, alone, ridden in (("front", 58, 88), ("rear", 57, 112)):
        ReadingFactory(card=card, end=end, quantity="axle_alone_kg", value=alone)
        ReadingFactory(card=card, end=end, quantity="axle_rider_kg", value=ridden)
    SettingFactory(card=card, stage="received", end="rear")
    return card


def seen(shop, differences, **values):
    """Let sealed cards of the model have shown `differences` (mm) of both sags."""
    for difference in differences:
        bike = BikeFactory(business=shop.business, make="Brackwater", model="Heron")
        card = JobCardFactory(shop=shop, bike=bike, customer=bike.owner)
        for sag in ("static", "rider"):
            row = {"card": card, "sag": sag, "measured_mm": 100 + difference, "u_mm": 0.1}
            BuiltSagFactory(**{**row, **values})


@pytest.fixture
def card(shop):
    return card_of_model(shop)


@pytest.fixture
def address(card):
    return f"/api/cards/{card.pk}/"


class TestSealingKeeps:
    def test_both_sags_of_both_ends_beside_what_calc_says_of_them(self, make_ready_card, actor):
        card = make_ready_card()
        seal.seal(actor, card)
        found = list(kept(card=card))
        assert [(row.end, row.sag) for row in found] == [
            ("front", "rider"), ("front", "static"), ("rear", "rider"), ("rear", "static"),
        ]  # fmt: skip
        for row in found:
            # The request is written out in the invented job, apart from what the verbs make of the card.
            computed = evaluate({row.end: invented.request("built", row.end)})[row.end]
            assert row.predicted_mm == pytest.approx(computed[f"{row.sag}_sag_mm"], abs=1e-6)
            who = "alone" if row.sag == "static" else "rider"
            told = {(one["stage"], one["end"], one["quantity"]): one["value"] for one in invented.card()["readings"]}
            free = told.get(("built", row.end, "wheel_free_mm"), told.get(("received", row.end, "wheel_free_mm")))
            pair = [told[("built", row.end, f"{who}_from_{side}_mm")] for side in ("above", "below")]
            assert row.measured_mm == pytest.approx(free - statistics.mean(pair), abs=1e-6)
            assert row.difference_mm == pytest.approx(row.measured_mm - row.predicted_mm, abs=1e-3)
            # One reading is good to 1 mm; the wheel-free one and the mean of two together to √1.5 mm.
            assert row.u_mm == pytest.approx(1.5**0.5, abs=1e-3)
            assert (row.shop, row.make, row.model, row.year, row.kind) == (
                card.shop, "Veldt", "Kestrel 450 R", 2029, card.bike.kind,
            )  # fmt: skip

    def test_nothing_where_the_record_is_refused(self, make_ready_card, actor, monkeypatch):
        card = make_ready_card()
        monkeypatch.setattr(seal.trail, "record", lambda *args, **rest: 1 / 0)
        with pytest.raises(ZeroDivisionError):
            seal.seal(actor, card)
        assert not kept().exists()

    def test_no_personal_value(self, make_ready_card, actor):
        card = make_ready_card()
        seal.seal(actor, card)
        text = json.dumps(list(kept().values()), default=str)
        for personal in (invented.OWNER, invented.PLATE, invented.FRAME, str(invented.MASS_KG)):
            assert personal not in text

    def test_the_prediction_without_the_correction_that_the_card_accepted(self, make_ready_card, actor):
        plain, corrected = make_ready_card(), make_ready_card(corrections={"rear": correction(4.0, 6.0)})
        for one in (plain, corrected):
            seal.seal(actor, one)
        told = [list(kept(card=one).values_list("predicted_mm", flat=True)) for one in (plain, corrected)]
        assert told[0] == told[1]

    def test_and_an_amended_reading_takes_the_card_out(self, make_ready_card, actor):
        card = make_ready_card()
        seal.seal(actor, card)
        assert kept(left_out="").count() == 4
        readings = json.loads(card.records.get().public)["readings"]
        place = next(number for number, one in enumerate(readings) if one["stage"] == "built")
        seal.amend(actor, card, path="explanation", new="Softer now.", why="Clearer.")
        assert kept(left_out="").count() == 4
        seal.amend(actor, card, path=f"readings.{place}.value", new=601, why="Misread the tape.")
        assert not kept(left_out="").exists()


def correction(static, rider, cards=7):
    return {"cards": cards, "static_mm": static, "rider_mm": rider, "static_expanded_mm": 1.0, "rider_expanded_mm": 1.3}


class TestWhatIsOffered:
    def test_mean_spread_and_number_of_the_models_cards(self, card, shop, technician_client, address):
        differences = [1.0, 2.5, 3.0, 3.5, 5.0]
        seen(shop, differences)
        found = technician_client.get(f"{address}learned/").json()
        assert found["front"] is None
        assert found["rear"]["cards"] == 5
        assert found["rear"]["offered"] is True
        assert found["rear"]["taken"] is False
        rider = found["rear"]["rider"]
        assert rider["mean_mm"] == pytest.approx(statistics.mean(differences))
        assert rider["spread_mm"] == pytest.approx(statistics.stdev(differences), abs=0.01)
        assert rider["sure"] is True

    @pytest.mark.parametrize("count", [1, 2])
    def test_fewer_than_three_are_told_and_not_offered(self, card, shop, technician_client, address, count):
        seen(shop, [3.0] * count)
        found = technician_client.get(f"{address}learned/").json()["rear"]
        assert (found["cards"], found["offered"]) == (count, False)
        answer = technician_client.post(f"{address}corrections/", {"end": "rear", "cards": count})
        assert answer.status_code == 400
        assert answer.json()["problems"][0]["code"] == "nothing_offered"

    def test_another_model_business_or_end_and_what_was_left_out_do_not_count(self, card, shop, other_shop):
        seen(shop, [3.0] * 3)
        seen(other_shop, [50.0] * 3)
        seen(shop, [50.0] * 3, end="front")
        seen(shop, [50.0] * 3, left_out="record 9 amended readings.3.value")
        BuiltSagFactory(card=JobCardFactory(shop=shop), measured_mm=150)
        found = learned.learned(card)
        assert found["rear"].rider.mean_mm == pytest.approx(3.0)
        assert found["rear"].cards == 3

    def test_a_sister_shops_cards_count_and_case_and_spaces_do_not_part_a_model(self, shop, sister_shop):
        bike = BikeFactory(business=shop.business, make=" brackWATER", model="HERON  ")
        seen(sister_shop, [2.0, 3.0, 4.0])
        assert learned.learned(JobCardFactory(shop=shop, bike=bike, customer=bike.owner))["rear"].cards == 3

    def test_thirty_cards_cost_as_many_queries_as_three(self, card, shop, technician_client, address):
        counts = []
        for more in (3, 27):
            seen(shop, [3.0] * more)
            with CaptureQueriesContext(connection) as caught:
                found = technician_client.get(f"{address}learned/").json()
            counts.append(len(caught))
        assert found["rear"]["cards"] == 30
        assert counts[0] == counts[1]


class TestWhatIsAccepted:
    @pytest.fixture
    def accepted(self, card, shop, technician_client, address):
        seen(shop, [1.0, 3.0, 5.0])
        self.before = technician_client.get(f"{address}sides/").json()["received"]["rear"]["result"]
        answer = technician_client.post(f"{address}corrections/", {"end": "rear", "cards": 3})
        assert answer.status_code == 200, answer.content
        return answer.json()

    def test_nothing_changes_until_somebody_accepts(self, card, shop, technician_client, address):
        before = technician_client.get(f"{address}sides/").json()
        seen(shop, [1.0, 3.0, 5.0])
        assert technician_client.get(f"{address}sides/").json() == before
        assert technician_client.get(address).json()["corrections"] == {"front": None, "rear": None}

    def test_it_is_kept_on_the_card_and_in_the_trail(self, accepted, owner, card):
        kept_on_card = accepted["corrections"]["rear"]
        assert (kept_on_card["rider_mm"], kept_on_card["static_mm"], kept_on_card["cards"]) == (3.0, 3.0, 3)
        [line] = rows(AuditEntry, owner).filter(verb="accept correction")
        assert (line.subject, line.subject_id, line.before) == ("jobcard", card.pk, {"corrections": {}})
        assert line.after["corrections"]["rear"]["rider_mm"] == 3.0

    def test_computed_sags_move_by_it_and_say_so_and_nothing_else_moves(self, accepted, technician_client, address):
        now = technician_client.get(f"{address}sides/").json()["received"]["rear"]["result"]
        for sag in ("static_sag_mm", "rider_sag_mm"):
            assert now[sag] == pytest.approx(self.before[sag] + 3.0, abs=1e-3)
        told = next(note for note in now["notes"] if note["code"] == "sag_corrected")["text"]
        assert told.startswith("Corrected by +3.0 mm (rider sag) and +3.0 mm (static sag), 3 cards")
        same = set(now) - {"static_sag_mm", "rider_sag_mm", "notes"}
        assert {key: now[key] for key in same} == {key: self.before[key] for key in same}

    def test_it_can_be_taken_back(self, accepted, technician_client, address, owner):
        answer = technician_client.post(f"{address}corrections/withdraw/", {"end": "rear"})
        assert answer.json()["corrections"]["rear"] is None
        now = technician_client.get(f"{address}sides/").json()["received"]["rear"]["result"]
        assert now == self.before
        assert rows(AuditEntry, owner).filter(verb="withdraw correction").count() == 1

    def test_cards_sealed_meanwhile_must_be_looked_at_first(self, card, shop, technician_client, address):
        seen(shop, [1.0, 3.0, 5.0, 7.0])
        answer = technician_client.post(f"{address}corrections/", {"end": "rear", "cards": 3})
        assert answer.status_code == 409
        assert answer.json()["problems"][0]["code"] == "learned_meanwhile"

    def test_a_chosen_spring_meets_the_target_with_the_correction_counted(self, card, shop, technician_client, address):
        """The preload that is proposed makes calc's own rider sag fall short of the aim by the correction."""
        StockSpringFactory(shop=shop, end="rear", sort_rate_n_per_mm=56.0)
        ask = {"end": "rear"}
        plain = technician_client.post(f"{address}choose/", ask).json()["ranked"][0]
        seen(shop, [4.0, 5.0, 6.0])
        technician_client.post(f"{address}corrections/", {"end": "rear", "cards": 3})
        shifted = technician_client.post(f"{address}choose/", ask).json()["ranked"][0]
        assert shifted["rider_sag_mm"] == pytest.approx(plain["rider_sag_mm"], abs=0.05)
        assert shifted["preload_mm"] > plain["preload_mm"] + 1
        chosen = {key: shifted[key] for key in ("spring", "preload_mm")}
        fresh = whole_card.with_parts(JobCard.objects.declare_scope().get(pk=card.pk))
        asked = sums.ask(fresh, "received", "rear", {**sums.body_of(card, "received", "rear"), **chosen}).request
        own = evaluate({"rear": asked})["rear"]["rider_sag_mm"]
        assert own == pytest.approx(shifted["rider_sag_mm"] - 5.0, abs=0.05)

    def test_a_sealed_card_takes_none(self, make_ready_card, actor, shop, technician_client):
        card = make_ready_card()
        seal.seal(actor, card)
        answer = technician_client.post(f"/api/cards/{card.pk}/corrections/", {"end": "rear", "cards": 3})
        assert answer.status_code == 409

    def test_the_record_says_what_was_corrected_by_how_many_cards(self, make_ready_card, actor):
        card = make_ready_card(corrections={"rear": correction(4.0, 6.0)})
        document = json.loads(seal.seal(actor, card).public)
        assert document["corrections"] == {"front": None, "rear": correction(4.0, 6.0)}
        computed = evaluate({"rear": invented.request("chosen", "rear")})["rear"]["rider_sag_mm"]
        assert document["results"]["chosen"]["rear"]["rider_sag_mm"] == pytest.approx(computed + 6.0, abs=1e-3)
        codes = [note["code"] for note in document["results"]["chosen"]["rear"]["notes"]]
        assert "sag_corrected" in codes
        document["sag"]["built"]["rear"] = None  # an end that is not measured shows what was calculated
        [line] = [row for row in layout.table(document, "rear") if row.name == "Rider sag"]
        assert line.after.source == "calculated, corrected by +6.0 mm, 7 cards"


def test_struck_readings_are_not_learned_from(make_ready_card, actor, technician):
    card = make_ready_card()
    Reading.objects.create(
        card=card, stage="built", end="rear", quantity="rider_from_above_mm", value=700, taken_by=technician,
        struck_at=card.opened_at, struck_by=technician,
    )  # fmt: skip
    seal.seal(actor, card)
    assert all(abs(row.difference_mm) < 60 for row in kept(card=card))
