"""The job, step by step over the API: readings, settings, sums, choice, torques, cautions, sign-offs,
blockers.
"""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.utils import timezone

from setups import blockers, whole_card
from setups.models import JobCard, Reading, Setting
from shops.access import rows
from shops.models import AuditEntry
from tests.factories import (
    BikeFactory,
    JobCardFactory,
    ReadingFactory,
    StockSpringFactory,
    ToolFactory,
    TorqueLineFactory,
    front_data,
    rear_data,
)
from tests.shops.cases import problem_codes

LENGTHS = {
    "wheel_free_mm": 640,
    "alone_from_above_mm": 612,
    "alone_from_below_mm": 606,
    "rider_from_above_mm": 548,
    "rider_from_below_mm": 538,
}
LOADS = {"front": (58, 88), "rear": (57, 112)}


def reading(quantity, value, end="rear", stage="received", **more):
    return {"stage": stage, "end": end, "quantity": quantity, "value": value, **more}


def all_readings(stage="received", end="rear", **changed):
    return [reading(quantity, value, end, stage) for quantity, value in {**LENGTHS, **changed}.items()]


def loads():
    return [
        reading(quantity, value, end)
        for end, pair in LOADS.items()
        for quantity, value in zip(("axle_alone_kg", "axle_rider_kg"), pair, strict=True)
    ]


@pytest.fixture
def opened(technician_client, business):
    """Return a card opened over the API, with its address."""
    bike = BikeFactory(business=business)
    return technician_client.post("/api/cards/", {"bike": bike.pk, "customer": bike.owner_id}).json()


@pytest.fixture
def at(opened):
    return f"/api/cards/{opened['id']}/"


@pytest.fixture
def read(technician_client, at):
    """Return what takes readings."""
    return lambda taken: technician_client.post(f"{at}readings/", {"readings": taken})


class TestOpening:
    def test_the_bikes_own_data_are_the_setting_as_received_marked_assumed(self, opened):
        body = opened["settings"]["received"]["rear"]["body"]
        assert (body["spring"], body["preload_mm"]) == (rear_data()["spring"], 7)
        assert body["sources"]["preload_mm"] == {"from": "assumed"}
        legs = opened["settings"]["received"]["front"]["body"]["legs"]
        assert [leg["air_gap_mm"] for leg in legs] == [110, 110]
        assert opened["settings"]["chosen"] == opened["settings"]["built"] == {"front": None, "rear": None}

    def test_the_usual_fasteners_come_without_any_value(self, opened):
        assert len(opened["torques"]) > 8
        for line in opened["torques"]:
            assert line["value_nm"] is None
            assert line["source_edition"] == line["source_page"] == ""
        checked = {line["fastener"] for line in opened["torques"] if line["needs_second_check"]}
        for word in ("axle", "clamp", "brake"):
            assert any(word in name.lower() for name in checked), word
            assert all(line["needs_second_check"] for line in opened["torques"] if word in line["fastener"].lower())


class TestReadings:
    def test_sags_follow_from_the_raw_lengths(self, read):
        """640 − (612+606)/2 = 31 and 640 − (548+538)/2 = 97 mm; half the gaps 3 and 5 mm: by hand."""
        sag = read(all_readings()).json()["sag"]["received"]["rear"]
        assert (sag["static_sag_mm"], sag["rider_sag_mm"]) == (31, 97)
        assert (sag["static_band_mm"], sag["rider_band_mm"]) == (3, 5)

    def test_the_friction_band_is_a_force_once_the_rate_is_known(self, read, technician_client, at):
        """Half the gap with the rider, 5 mm, times the wheel rate: the friction at the rear wheel."""
        assert read(all_readings()).json()["sag"]["received"]["rear"]["friction_n"] is None
        friction = read(loads()).json()["sag"]["received"]["rear"]["friction_n"]
        result = technician_client.get(f"{at}sides/").json()["received"]["rear"]["result"]
        assert friction == pytest.approx(5 * result["wheel_rate_n_per_mm"], rel=1e-4)

    @pytest.mark.parametrize(
        ("taken", "field"),
        [
            ([reading("wheel_free_mm", 49)], "readings.0.value"),
            ([reading("wheel_free_mm", 2001)], "readings.0.value"),
            ([reading("axle_alone_kg", 401)], "readings.0.value"),
            ([reading("axle_alone_kg", 0)], "readings.0.value"),
            ([reading("axle_rider_kg", 90), reading("axle_alone_kg", 95)], "readings.0.value"),
            (all_readings(alone_from_above_mm=606, alone_from_below_mm=612), None),
            (all_readings(rider_from_above_mm=618, rider_from_below_mm=616), None),
            (all_readings(alone_from_above_mm=660, alone_from_below_mm=655), None),
            (all_readings(rider_from_above_mm=320, rider_from_below_mm=310), None),
            ([reading("alone_from_above_mm", 606), reading("alone_from_below_mm", 612)], None),
            ([reading("wheel_free_mm", 640, origin="guessed")], "readings.0.origin"),
            ([reading("wheel_free_mm", 640, end="middle")], "readings.0.end"),
            ([reading("wheel_free_mm", "640")], "readings.0.value"),
            ([], "readings"),
        ],
    )
    def test_a_refused_reading_keeps_nothing(self, read, technician, taken, field):
        lines = rows(AuditEntry, technician).count()
        answer = read(taken)
        assert answer.status_code == 400, answer.content
        fields = [problem["field"] for problem in answer.json()["problems"]]
        assert field in fields if field else all(name.startswith("readings.") for name in fields)
        assert not rows(Reading, technician).exists()
        assert rows(AuditEntry, technician).count() == lines

    def test_a_reading_is_held_against_those_taken_before(self, read):
        read(all_readings())
        answer = read([reading("rider_from_above_mm", 700)])
        assert answer.status_code == 400
        assert answer.json()["problems"][0]["field"] == "readings.0.value"

    def test_wide_pairs_are_kept_with_a_note(self, read):
        answer = read(all_readings(alone_from_above_mm=618, alone_from_below_mm=602))
        assert answer.status_code == 200
        assert "wide_pair" in [note["code"] for note in answer.json()["sag"]["received"]["rear"]["notes"]]

    def test_the_latest_counts_and_all_are_kept(self, read, technician_client, at):
        read([reading("wheel_free_mm", 640)])
        card = read([reading("wheel_free_mm", 642)]).json()
        assert [(one["value"], one["counts"]) for one in card["readings"]] == [(640, False), (642, True)]
        latest = card["readings"][-1]["id"]
        card = technician_client.post(f"{at}readings/{latest}/strike/").json()
        assert [(one["value"], one["struck"], one["counts"]) for one in card["readings"]] == [
            (640, False, True),
            (642, True, False),
        ]
        again = technician_client.post(f"{at}readings/{latest}/strike/")
        assert (again.status_code, problem_codes(again)) == (409, ["struck_already"])

    def test_a_retry_takes_a_reading_once(self, technician_client, at):
        for _ in range(2):
            card = technician_client.post(
                f"{at}readings/", {"readings": [reading("wheel_free_mm", 640)]}, HTTP_IDEMPOTENCY_KEY="k"
            ).json()
        assert len(card["readings"]) == 1

    def test_a_load_never_reaches_the_trail(self, read, technician):
        read([reading("axle_rider_kg", 111.25)])
        assert all("111.25" not in f"{line.before}{line.after}" for line in rows(AuditEntry, technician))

    def test_loads_are_the_scales_or_a_share_that_says_so(self, read, technician_client, business, shop):
        card = JobCardFactory(shop=shop)
        address = f"/api/cards/{card.pk}/"
        taken = [reading("axle_alone_kg", 60, "front"), reading("axle_alone_kg", 62, "rear")]
        shared = technician_client.post(f"{address}readings/", {"readings": taken}).json()["loads"]
        # A rider of 88 kg in kit: 35 % in front, 65 % at the rear, on top of the bike alone.
        assert shared["received"]["front"] == {"static_kg": 60, "rider_kg": 90.8, "from": "assumed share"}
        assert shared["built"]["rear"] == {"static_kg": 62, "rider_kg": 119.2, "from": "assumed share"}
        weighed = technician_client.post(
            f"{address}readings/", {"readings": [reading("axle_rider_kg", 92, "front")]}
        ).json()["loads"]
        assert weighed["received"]["front"] == {"static_kg": 60, "rider_kg": 92, "from": "axle scales"}


class TestSettings:
    def put(self, client, at, body, stage="received", end="rear", **headers):
        return client.put(f"{at}settings/{stage}/{end}/", body, **headers)

    def test_a_setting_is_written_with_the_version_it_replaces(self, technician_client, at, opened):
        body = {**opened["settings"]["received"]["rear"]["body"], "preload_mm": 9}
        assert self.put(technician_client, at, body).status_code == 428
        card = self.put(technician_client, at, body, HTTP_IF_MATCH='"1"').json()
        assert card["settings"]["received"]["rear"] == {"version": 2, "body": body}
        stale = self.put(technician_client, at, {**body, "preload_mm": 11}, HTTP_IF_MATCH='"1"')
        assert stale.status_code == 412
        assert stale.json()["theirs"] == {"version": 2, "body": body}
        assert stale.json()["yours"]["preload_mm"] == 11

    def test_a_first_setting_is_written_once(self, technician_client, at, opened):
        body = opened["settings"]["received"]["rear"]["body"]
        first = self.put(technician_client, at, body, "built", HTTP_IF_NONE_MATCH="*")
        assert first.json()["settings"]["built"]["rear"]["version"] == 1
        assert self.put(technician_client, at, body, "built", HTTP_IF_NONE_MATCH="*").status_code == 412

    @pytest.mark.parametrize(
        ("end", "stage", "change", "field", "hint"),
        [
            (
                "front",
                "received",
                {"gap_read_with": "spring_in"},
                "legs.0.gap_read_with",
                "spring lifts the oil",
            ),
            ("front", "received", {"air_gap_mm": 5}, "legs.0.air_gap_mm", "10 to 400 mm"),
            (
                "front",
                "received",
                {"spring": {"kind": "straight", "rate_n_per_mm": 46}},
                "legs.0.spring.rate_n_per_mm",
                "did you mean 4.6",
            ),
            ("front", "chosen", {"preload_mm": -3}, "legs.0.preload_mm", "loose at full extension"),
            ("front", "received", {"solids_cm3": 200}, "legs.0.air_gap_mm", "no air would be left"),
            ("rear", "received", {"preload_mm": 26}, "preload_mm", "past the adjuster"),
            ("rear", "received", {"preload_mm": -31}, "preload_mm", "-30 to 150 mm"),
            ("rear", "built", {"preload_mm": -1}, "preload_mm", "loose at full extension"),
            ("rear", "received", {"clickers": [{"adjuster": "rebound"}]}, "clickers.0.unit", "clicks, turns"),
            ("rear", "received", {"tyre_pressure_kpa": 2.2}, "tyre_pressure_kpa", "20 to 500 kPa"),
            ("rear", "received", {"mood": "good"}, "mood", "no field"),
            (
                "rear",
                "received",
                {"spring": {"kind": "dual", "soft_n_per_mm": 60, "hard_n_per_mm": 50, "change_mm": 40}},
                "spring.hard_n_per_mm",
                "swapped",
            ),
        ],
    )
    def test_what_cannot_be_is_refused_by_name(self, technician_client, at, opened, end, stage, change, field, hint):
        body = opened["settings"]["received"][end]["body"]
        if end == "front":
            body["legs"][0].update(change)
        else:
            body.update(change)
        header = {"HTTP_IF_MATCH": '"1"'} if stage == "received" else {"HTTP_IF_NONE_MATCH": "*"}
        answer = self.put(technician_client, at, body, stage, end, **header)
        assert answer.status_code == 400, answer.content
        texts = {problem["field"]: problem["text"] for problem in answer.json()["problems"]}
        assert hint in texts[field]

    def test_a_bike_may_come_in_with_a_loose_spring(self, technician_client, at, opened):
        body = opened["settings"]["received"]["front"]["body"]
        body["legs"][0]["preload_mm"] = body["legs"][1]["preload_mm"] = -3
        assert self.put(technician_client, at, body, "received", "front", HTTP_IF_MATCH='"1"').status_code == 200

    @pytest.mark.parametrize("body", [[], "x", None, 3])
    def test_a_body_that_is_no_object_is_refused(self, technician_client, at, body):
        assert self.put(technician_client, at, body, HTTP_IF_MATCH='"1"').status_code == 400

    @pytest.mark.parametrize(("stage", "end"), [("dreamt", "rear"), ("received", "middle")])
    def test_an_unknown_stage_or_end_is_refused(self, technician_client, at, stage, end):
        assert self.put(technician_client, at, {}, stage, end, HTTP_IF_MATCH='"1"').status_code == 400


class TestSums:
    def test_what_is_missing_is_named(self, technician_client, at):
        side = technician_client.get(f"{at}sides/").json()["received"]["rear"]
        assert side["result"] is None
        assert side["missing"] == ["load of the bike alone at the rear axle", "rider load at the rear axle"]
        assert side["verdict"]["code"] == "unknown"

    def test_with_loads_there_are_results_verdicts_and_pictures(self, technician_client, at, read):
        read(loads())
        sides = technician_client.get(f"{at}sides/").json()
        for end in ("front", "rear"):
            side = sides["received"][end]
            assert side["missing"] == side["problems"] == []
            assert side["result"]["rider_sag_mm"] > side["result"]["static_sag_mm"] > 0
            assert side["verdict"]["code"] != "unknown"
            assert side["picture"].startswith("<svg")
            assert sides["preload_no_cure"][end].startswith("<svg")
            assert sides["chosen"][end]["result"] is None

    def test_a_measured_sag_that_differs_from_the_computed_is_said_with_both(self, technician_client, at, read):
        read([*loads(), *all_readings(rider_from_above_mm=525, rider_from_below_mm=515)])
        result = technician_client.get(f"{at}sides/").json()["received"]["rear"]["result"]
        [note] = [n for n in result["notes"] if n["code"] == "measured_differs" and "rider" in n["text"]]
        assert "is 120 mm" in note["text"]
        assert f"computed {result['rider_sag_mm']:.0f} mm" in note["text"]
        assert note["value"] == pytest.approx(120 - result["rider_sag_mm"], abs=0.06)

    def test_the_verdict_speaks_of_what_was_measured(self, technician_client, at, read):
        read([*loads(), *all_readings()])
        verdict = technician_client.get(f"{at}sides/").json()["received"]["rear"]["verdict"]
        assert "97 mm" in verdict["text"]
        assert "31 mm" in verdict["text"]

    def test_winding_on_what_the_verdict_says_brings_both_sags_into_band(self, technician_client, at, read, opened):
        """The sentence is put to the test: set what it says, compute again, and both sags must suit."""
        read(loads())
        body = opened["settings"]["received"]["rear"]["body"] | {
            "spring": {"kind": "straight", "rate_n_per_mm": 66},
            "preload_mm": 12,
        }
        first = technician_client.post(f"{at}preview/", {"rear": {"body": body}}).json()["rear"]
        assert first["verdict"]["code"] == "back_off_preload"
        words = first["verdict"]["text"].split("back off ")[1]
        body["preload_mm"] -= float(words.split(" mm")[0])
        second = technician_client.post(f"{at}preview/", {"rear": {"body": body}}).json()["rear"]
        assert second["verdict"]["code"] == "suits"

    def test_a_preview_saves_nothing(self, technician_client, technician, at, read, opened):
        read(loads())
        lines, held = rows(AuditEntry, technician).count(), rows(Setting, technician).count()
        body = opened["settings"]["received"]["rear"]["body"] | {"preload_mm": 11}
        answer = technician_client.post(f"{at}preview/", {"rear": {"body": body}, "against": "received"})
        assert set(answer.json()) == {"rear"}
        assert answer.json()["rear"]["picture"].count("pic-trace ") == 2
        assert (rows(AuditEntry, technician).count(), rows(Setting, technician).count()) == (lines, held)

    def test_a_preview_with_a_problem_has_no_result(self, technician_client, at, read, opened):
        read(loads())
        body = opened["settings"]["received"]["rear"]["body"] | {"preload_mm": 99}
        side = technician_client.post(f"{at}preview/", {"rear": {"body": body}}).json()["rear"]
        assert (side["result"], side["picture"]) == (None, None)
        assert [problem["field"] for problem in side["problems"]] == ["preload_mm"]

    def test_coil_bind_is_a_problem_of_the_setting(self, technician_client, at, read, opened):
        read(loads())
        body = opened["settings"]["received"]["rear"]["body"]
        # 300 mm at 2.9 to 1 is 103.4 mm of stroke, and 7 of preload: 110.4 mm, but it can give 100 only.
        body["spring"]["solid_deflection_mm"] = 100
        side = technician_client.post(f"{at}preview/", {"rear": {"body": body}}).json()["rear"]
        assert [problem["code"] for problem in side["problems"]] == ["coil_bind"]
        assert "10.4" in side["problems"][0]["text"]


class TestChoosing:
    @pytest.fixture
    def springs(self, shop, sister_shop):
        StockSpringFactory(shop=sister_shop, end="rear", sort_rate_n_per_mm=66)
        return {
            rate: StockSpringFactory(
                shop=shop,
                end="rear",
                sort_rate_n_per_mm=rate,
                inner_diameter_mm=57 if rate > 50 else 50,
                stock=3,
            )
            for rate in (44, 52, 60, 66, 72, 90)
        }

    def test_the_own_shops_springs_are_ranked_with_stock_and_fit(self, technician_client, at, read, springs):
        read(loads())
        choice = technician_client.post(f"{at}choose/", {"end": "rear"}).json()
        assert {row["id"] for row in choice["ranked"]} == {spring.pk for spring in springs.values()}
        best = choice["ranked"][0]
        assert best["verdict"] == "suits"
        assert (best["stock"], best["fits"]) == (3, True)
        fits = {row["id"]: row["fits"] for row in choice["ranked"]}
        assert fits[springs[44].pk] is False  # 50 mm inside, and the shock needs 55
        assert choice["needed"]["rate_n_per_mm"] > 52
        assert choice["present"]["verdict"]["code"] == "too_soft"

    def test_a_spring_that_does_not_go_in_comes_after_all_that_do(self, technician_client, at, read, springs):
        read(loads())
        best = technician_client.post(f"{at}choose/", {"end": "rear"}).json()["ranked"][0]
        narrow = next(spring for spring in springs.values() if spring.pk == best["id"])
        narrow.inner_diameter_mm = 40
        narrow.save()
        ranked = technician_client.post(f"{at}choose/", {"end": "rear"}).json()["ranked"]
        fits = [row["fits"] for row in ranked]
        assert fits == sorted(fits, reverse=True)
        assert ranked[0]["id"] != narrow.pk

    def test_of_equals_the_one_on_the_shelf_comes_first(self, technician_client, at, read, springs, shop):
        read(loads())
        best = technician_client.post(f"{at}choose/", {"end": "rear"}).json()["ranked"][0]
        twin = next(spring for spring in springs.values() if spring.pk == best["id"])
        twin.stock = 0
        twin.save()
        on_the_shelf = StockSpringFactory(
            shop=shop, end="rear", spring=twin.spring, inner_diameter_mm=57, stock=1,
            sort_rate_n_per_mm=twin.sort_rate_n_per_mm,
        )
        ranked = technician_client.post(f"{at}choose/", {"end": "rear"}).json()["ranked"]
        place = [row["id"] for row in ranked]
        assert place.index(on_the_shelf.pk) < place.index(twin.pk)

    def test_the_reading_worth_taking_next_is_said_and_taking_it_makes_the_choice_surer(
        self, technician_client, at, read, springs, opened
    ):
        read(loads())
        choice = technician_client.post(f"{at}choose/", {"end": "rear"}).json()
        said = {note["code"]: note["text"] for note in choice["notes"]}
        assert said["next_reading"].startswith("The reading worth taking next: ")
        assert "assumed" in said["probability_basis"]
        # Measured where it was assumed: nothing else on the card changes.
        body = opened["settings"]["received"]["rear"]["body"]
        body["sources"] = {**body["sources"], "gas_force_n": {"from": "measured"}}
        version = opened["settings"]["received"]["rear"]["version"]
        answer = technician_client.put(f"{at}settings/received/rear/", body, HTTP_IF_MATCH=f'"{version}"')
        assert answer.status_code == 200, answer.content
        surer = technician_client.post(f"{at}choose/", {"end": "rear"}).json()
        chance = {row["id"]: row["probability"] for row in choice["ranked"]}
        best = max(surer["ranked"], key=lambda row: row["probability"])
        assert best["probability"] > chance[best["id"]]
        assert "gas force" not in {note["code"]: note["text"] for note in surer["notes"]}.get("next_reading", "")

    def test_without_loads_the_choice_says_what_is_missing(self, technician_client, at, springs):
        choice = technician_client.post(f"{at}choose/", {"end": "rear"}).json()
        assert choice["ranked"] == []
        assert "load of the bike alone at the rear axle" in choice["missing"]

    def test_fitting_the_best_suits(self, technician_client, at, read, springs):
        read(loads())
        best = technician_client.post(f"{at}choose/", {"end": "rear"}).json()["ranked"][0]
        card = technician_client.post(f"{at}fit/", {"end": "rear", "stock_spring": best["id"]}).json()
        body = card["settings"]["chosen"]["rear"]["body"]
        assert body["spring"] == best["spring"]
        assert body["preload_mm"] == pytest.approx(best["preload_mm"], abs=0.05)
        assert technician_client.get(f"{at}sides/").json()["chosen"]["rear"]["verdict"]["code"] == "suits"
        built = technician_client.post(f"{at}as-built/", {"end": "rear"}).json()["settings"]["built"]["rear"]
        assert built == {"version": 1, "body": body}

    def test_fitting_a_fork_spring_corrects_gap_and_spacer_once(self, technician_client, at, read, opened, shop):
        """A spring of 50 cm³ for one of 60 in a bore of 42 mm: 10 cm³ / 13.854 cm² is 7.2 mm less gap
        (by hand).

        Spacer: 490 cap to seat, less 470 free, plus 6 preload, less 2 of washers: 24 mm.
        """
        old, new = (
            StockSpringFactory(shop=shop, sort_rate_n_per_mm=rate, displaced_cm3=cm3)
            for rate, cm3 in ((4.6, 60.0), (5.0, 50.0))
        )
        body = opened["settings"]["received"]["front"]["body"]
        for leg in body["legs"]:
            leg["stock_spring"] = old.pk
        technician_client.put(f"{at}settings/received/front/", body, HTTP_IF_MATCH='"1"')
        for _ in range(2):  # a second choice must not correct the gap again
            card = technician_client.post(f"{at}fit/", {"end": "front", "stock_spring": new.pk, "preload_mm": 6}).json()
        for leg in card["settings"]["chosen"]["front"]["body"]["legs"]:
            assert leg["air_gap_mm"] == pytest.approx(110 - 7.2, abs=0.05)
            assert (leg["solids_cm3"], leg["spacer_mm"], leg["preload_mm"]) == (60, 24, 6)

    def test_another_business_s_spring_tells_nothing(self, technician_client, at, opened, shop, other_shop):
        """A setting may name any id; the volume of a foreign spring would show in the gap."""
        foreign = StockSpringFactory(shop=other_shop, displaced_cm3=40.0)
        new = StockSpringFactory(shop=shop, displaced_cm3=60.0)
        front = opened["settings"]["received"]["front"]
        for leg in front["body"]["legs"]:
            leg["stock_spring"] = foreign.pk
        match = {"HTTP_IF_MATCH": f'"{front["version"]}"'}
        assert technician_client.put(f"{at}settings/received/front/", front["body"], **match).status_code == 200
        body = {"end": "front", "stock_spring": new.pk, "preload_mm": 8}
        [leg, _] = technician_client.post(f"{at}fit/", body).json()["settings"]["chosen"]["front"]["body"]["legs"]
        assert leg["air_gap_mm"] == front["body"]["legs"][0]["air_gap_mm"]
        assert leg["solids_cm3"] == front["body"]["legs"][0]["solids_cm3"]

    def test_without_its_volume_the_gap_is_left_as_it_was(self, technician_client, at, shop):
        spring = StockSpringFactory(shop=shop, displaced_cm3=None)
        card = technician_client.post(f"{at}fit/", {"end": "front", "stock_spring": spring.pk, "preload_mm": 5}).json()
        assert [leg["air_gap_mm"] for leg in card["settings"]["chosen"]["front"]["body"]["legs"]] == [
            110,
            110,
        ]

    def test_a_spring_of_the_other_end_or_shop_is_refused(self, technician_client, at, shop, sister_shop):
        rear, sister = StockSpringFactory(shop=shop, end="rear"), StockSpringFactory(shop=sister_shop)
        for spring, code in ((rear, "other_end"), (sister, "other_shop")):
            answer = technician_client.post(f"{at}fit/", {"end": "front", "stock_spring": spring.pk, "preload_mm": 5})
            assert problem_codes(answer) == [code]

    def test_without_loads_the_preload_is_asked_for(self, technician_client, at, springs):
        answer = technician_client.post(f"{at}fit/", {"end": "rear", "stock_spring": springs[60].pk})
        assert problem_codes(answer) == ["preload_unknown"]


class TestTorques:
    @pytest.fixture
    def line(self, opened):
        return next(line for line in opened["torques"] if line["fastener"] == "Front axle")

    @pytest.fixture
    def wrench(self, shop):
        return ToolFactory(shop=shop)

    def full(self, client, at, line, wrench):
        body = {"value_nm": 77, "source_edition": "2nd", "source_page": "7-4", "wrench": wrench.pk}
        card = client.patch(f"{at}torques/{line['id']}/", body, HTTP_IF_MATCH=f'"{line["version"]}"').json()
        return next(one for one in card["torques"] if one["id"] == line["id"])

    def test_two_people_tighten_and_check(
        self, technician_client, second_technician_client, at, line, wrench, technician, second_technician
    ):
        self.full(technician_client, at, line, wrench)
        address = f"{at}torques/{line['id']}/"
        assert problem_codes(technician_client.post(f"{address}check/")) == ["not_tightened"]
        assert technician_client.post(f"{address}tighten/").status_code == 200
        assert problem_codes(technician_client.post(f"{address}check/")) == ["same_person"]
        card = second_technician_client.post(f"{address}check/").json()
        found = next(one for one in card["torques"] if one["id"] == line["id"])
        assert (found["tightened_by_name"], found["checked_by_name"]) == (
            technician.name,
            second_technician.name,
        )

    def test_a_new_value_takes_tightening_back(self, technician_client, at, line, wrench):
        self.full(technician_client, at, line, wrench)
        card = technician_client.post(f"{at}torques/{line['id']}/tighten/").json()
        held = next(one for one in card["torques"] if one["id"] == line["id"])
        assert held["tightened_at"]
        card = technician_client.patch(
            f"{at}torques/{line['id']}/", {"value_nm": 80}, HTTP_IF_MATCH=f'"{held["version"]}"'
        ).json()
        assert next(one for one in card["torques"] if one["id"] == line["id"])["tightened_at"] is None

    def test_nothing_is_tightened_to_a_blank_or_with_a_wrench_out_of_calibration(
        self, technician_client, at, line, shop
    ):
        address = f"{at}torques/{line['id']}/"
        assert set(problem_codes(technician_client.post(f"{address}tighten/"))) == {"no_value", "no_wrench"}
        overdue = ToolFactory(shop=shop, calibration_due=timezone.now().date() - timedelta(days=1))
        self.full(technician_client, at, line, overdue)
        assert problem_codes(technician_client.post(f"{address}tighten/")) == ["wrench_out_of_calibration"]

    def test_a_reason_may_come_in_the_body(self, technician_client, technician, at, line):
        body = {"reason": "pressed in, no bolts"}
        answer = technician_client.delete(f"{at}torques/{line['id']}/", body, HTTP_IF_MATCH='"1"')
        assert answer.status_code == 200
        assert rows(AuditEntry, technician).filter(verb="remove torque line").get().reason == body["reason"]

    def test_a_line_is_removed_with_its_reason(self, technician_client, technician, at, line):
        answer = technician_client.delete(f"{at}torques/{line['id']}/?reason=no+clamp+bolts+here", HTTP_IF_MATCH='"1"')
        assert answer.status_code == 200
        assert line["id"] not in [one["id"] for one in answer.json()["torques"]]
        entry = rows(AuditEntry, technician).filter(verb="remove torque line").get()
        assert (entry.reason, entry.subject_id) == ("no clamp bolts here", line["id"])

    @pytest.mark.parametrize("value", [0, -1, 401, "77", 1e9])
    def test_an_unbelievable_torque_is_refused(self, technician_client, at, line, value):
        answer = technician_client.patch(f"{at}torques/{line['id']}/", {"value_nm": value}, HTTP_IF_MATCH='"1"')
        assert answer.status_code == 400

    def test_a_scale_is_no_wrench(self, technician_client, at, line, shop):
        scale = ToolFactory(shop=shop, kind="scale")
        answer = technician_client.patch(f"{at}torques/{line['id']}/", {"wrench": scale.pk}, HTTP_IF_MATCH='"1"')
        assert problem_codes(answer) == ["not_a_wrench"]


class TestParts:
    def test_a_part_is_noted_changed_and_removed(self, technician_client, at):
        card = technician_client.post(f"{at}parts/", {"direction": "fitted", "description": "Fork seals"}).json()
        [part] = card["parts"]
        address = f"{at}parts/{part['id']}/"
        card = technician_client.patch(address, {"quantity": 2}, HTTP_IF_MATCH='"1"').json()
        assert card["parts"][0]["quantity"] == 2
        assert technician_client.patch(address, {"quantity": 3}, HTTP_IF_MATCH='"1"').status_code == 412
        assert technician_client.delete(address, HTTP_IF_MATCH='"2"').json()["parts"] == []


class TestLoose:
    def test_a_loose_fork_has_no_rear_no_axles_and_its_own_data(self, technician_client, customer_id):
        card = technician_client.post(
            "/api/cards/",
            {
                "customer": customer_id,
                "loose": "fork",
                "loose_description": "48 mm, no bike",
                "loose_front": front_data(),
            },
        ).json()
        assert card["bike"] is None
        assert card["settings"]["received"]["front"]["body"]["legs"][0]["preload_mm"] == 10
        assert card["settings"]["received"]["rear"] is None
        assert [line["fastener"] for line in card["torques"]] == ["Fork caps"]
        keys = {caution["key"] for caution in card["cautions"]}
        assert "cap_pressure" in keys
        assert not keys & {"bike_support", "brakes_and_leads", "axle_and_clamps"}
        at = f"/api/cards/{card['id']}/"
        answer = technician_client.post(f"{at}readings/", {"readings": [reading("axle_alone_kg", 60, "rear")]})
        assert problem_codes(answer) == ["no_such_end"]

    def test_with_loads_and_targets_typed_a_loose_shock_is_computed(self, technician_client, customer_id):
        card = technician_client.post(
            "/api/cards/", {"customer": customer_id, "loose": "shock", "loose_rear": rear_data()}
        ).json()
        at = f"/api/cards/{card['id']}/"
        taken = [
            reading("axle_alone_kg", 57, origin="assumed"),
            reading("axle_rider_kg", 112, origin="assumed"),
        ]
        technician_client.post(f"{at}readings/", {"readings": taken})
        targets = {"rear": {"static_sag_mm": [25, 40], "rider_sag_mm": [90, 105]}}
        changed = technician_client.patch(at, {"targets": targets}, HTTP_IF_MATCH='"1"').json()
        assert changed["loads"]["received"]["rear"]["from"] == "assumed"
        sides = technician_client.get(f"{at}sides/").json()
        assert sides["received"]["rear"]["verdict"]["code"] == "too_soft"
        assert sides["received"]["front"]["result"] is None

    @pytest.mark.parametrize(
        "body",
        [{"loose": "fork", "loose_rear": {}}, {"loose": "shock", "loose_front": {}}, {"loose": "wheel"}],
    )
    def test_data_of_another_part_are_refused(self, technician_client, customer_id, body):
        assert technician_client.post("/api/cards/", {"customer": customer_id, **body}).status_code == 400

    @pytest.fixture
    def customer_id(self, technician_client):
        return technician_client.post("/api/customers/", {"name": "Corin Ashdale"}).json()["id"]


class TestCautions:
    def test_each_is_read_once_by_somebody(self, technician_client, second_technician_client, at, technician):
        card = technician_client.post(f"{at}cautions/spring_compressor/read/").json()
        found = next(one for one in card["cautions"] if one["key"] == "spring_compressor")
        assert found["read_by_name"] == technician.name
        again = second_technician_client.post(f"{at}cautions/spring_compressor/read/").json()
        assert next(one for one in again["cautions"] if one["key"] == "spring_compressor") == found
        assert technician_client.post(f"{at}cautions/nonsense/read/").status_code == 400

    def test_signal_words_are_used_by_their_meaning(self, opened):
        """ANSI Z535.6 (from memory): DANGER will kill or maim, WARNING could, CAUTION minor, NOTICE
        no injury.
        """
        for caution in opened["cautions"]:
            text = caution["text"].lower()
            if caution["word"] == "DANGER":
                assert "will kill" in text
            if caution["word"] == "WARNING":
                assert "could" in text or "can " in text or "enough energy to kill" in text
            if caution["word"] == "NOTICE":
                assert not any(word in text for word in ("kill", "injur", "blind"))
        assert opened["cautions"][0]["key"] == "manual_first"
        assert "local codes" in opened["cautions"][0]["text"]


class TestSignOffs:
    def test_a_part_is_signed_off_once(self, technician_client, second_technician_client, at, technician):
        card = technician_client.post(f"{at}sign-offs/", {"part": "work"}).json()
        assert card["sign_offs"][0]["by_name"] == technician.name
        again = second_technician_client.post(f"{at}sign-offs/", {"part": "work"})
        assert (again.status_code, problem_codes(again)) == (409, ["signed_already"])


class TestBlockers:
    """A card is made ready to seal, then each thing is taken away in turn: its own blocker must come,
    no other.
    """

    @pytest.fixture
    def ready(self, technician_client, at, read, opened, shop, technician, second_technician):
        read([*loads(), *all_readings(), *all_readings("built")])
        body = opened["settings"]["received"]["rear"]["body"]
        technician_client.put(f"{at}settings/built/rear/", body, HTTP_IF_NONE_MATCH="*")
        card = JobCard.objects.all().declare_scope().get(pk=opened["id"])
        now = timezone.now()
        card.torques.update(
            value_nm=40,
            source_edition="2nd",
            source_page="7-4",
            wrench=ToolFactory(shop=shop),
            tightened_by=technician,
            tightened_at=now,
            checked_by=second_technician,
            checked_at=now,
        )
        for caution in opened["cautions"]:
            card.cautions_read.create(key=caution["key"], read_by=technician)
        for part in ("work", "hand_over"):
            technician_client.post(f"{at}sign-offs/", {"part": part})
        return card

    def codes(self, card):
        fresh = JobCard.objects.all().declare_scope().get(pk=card.pk)
        return {(one["code"], one["step"]) for one in blockers.blockers(whole_card.with_parts(fresh))}

    def test_a_card_with_everything_done_is_ready(self, ready):
        assert self.codes(ready) == set()

    def test_missing_readings_after_the_build(self, ready):
        ready.readings.filter(stage="built", quantity__startswith="rider").delete()
        assert self.codes(ready) == {("no_reading", "remeasured")}

    @pytest.mark.parametrize(
        ("change", "blocker"),
        [
            ({"value_nm": None}, "torque_blank"),
            ({"source_edition": ""}, "torque_no_source"),
            ({"source_page": ""}, "torque_no_source"),
            ({"wrench": None}, "torque_no_wrench"),
            ({"tightened_by": None, "tightened_at": None}, "not_tightened"),
            ({"checked_by": None, "checked_at": None}, "no_second_check"),
        ],
    )
    def test_what_is_missing_of_a_torque_line(self, ready, change, blocker):
        ready.torques.filter(fastener="Front axle").update(**change)
        assert self.codes(ready) == {(blocker, "built")}

    def test_the_same_person_twice_is_no_second_check(self, ready, technician):
        ready.torques.filter(fastener="Front axle").update(checked_by=technician)
        assert self.codes(ready) == {("no_second_check", "built")}

    def test_a_plain_bolt_needs_no_second_check(self, ready):
        ready.torques.filter(fastener="Fork caps").update(checked_by=None, checked_at=None)
        assert self.codes(ready) == set()

    @pytest.mark.parametrize("days", [1, 30])
    def test_a_wrench_out_of_calibration_on_the_day(self, ready, days):
        wrench = ready.torques.first().wrench
        wrench.calibration_due = timezone.now().date() - timedelta(days=days)
        wrench.save()
        assert self.codes(ready) == {("wrench_out_of_calibration", "built")}

    def test_a_wrench_that_falls_due_afterwards_was_good_on_the_day(self, ready):
        ready.torques.update(tightened_at=timezone.now() - timedelta(days=20))
        wrench = ready.torques.first().wrench
        wrench.calibration_due = timezone.now().date() - timedelta(days=5)
        wrench.save()
        assert self.codes(ready) == set()

    def test_unread_cautions_and_missing_sign_offs(self, ready):
        ready.cautions_read.filter(key="first_ride").delete()
        ready.sign_offs.filter(part="work").delete()
        assert self.codes(ready) == {("caution_unread", "handed_over"), ("no_sign_off", "built")}

    def test_a_setting_not_written_down(self, ready):
        ready.settings.filter(stage="received", end="rear").delete()
        assert self.codes(ready) == {("no_setting", "received")}

    def test_nothing_done_at_all(self, ready):
        ready.settings.filter(stage="built").delete()
        assert self.codes(ready) == {("no_work", "built")}

    def test_coil_bind_as_built(self, ready):
        setting = ready.settings.get(stage="built")
        setting.body["spring"]["solid_deflection_mm"] = 100
        setting.save()
        assert self.codes(ready) == {("coil_bind", "built")}

    def test_every_blocker_is_one_sentence_with_a_step(self, opened):
        assert len(opened["blockers"]) > 10
        for one in opened["blockers"]:
            assert set(one) == {"code", "text", "step", "about", "may_override"}
            assert one["text"].endswith((".", "?"))
            assert one["step"] in JobCard.Step.values


def changes_of(card, line, spring):
    """Return every call that changes a card: method, address below it, body, headers."""
    match = {"HTTP_IF_MATCH": '"1"'}
    return [
        ("patch", "", {"complaint": "x"}, match),
        ("post", "readings/", {"readings": [reading("wheel_free_mm", 640)]}, {}),
        ("put", "settings/received/rear/", {"spring": None}, {"HTTP_IF_NONE_MATCH": "*"}),
        ("post", "fit/", {"end": "front", "stock_spring": spring.pk, "preload_mm": 5}, {}),
        ("post", "as-built/", {"end": "front"}, {}),
        ("post", "torques/", {"fastener": "Top yoke"}, {}),
        ("patch", f"torques/{line.pk}/", {"value_nm": 5}, match),
        ("post", f"torques/{line.pk}/tighten/", {}, {}),
        ("post", f"torques/{line.pk}/check/", {}, {}),
        ("delete", f"torques/{line.pk}/", {}, match),
        ("post", "parts/", {"direction": "fitted", "description": "Seals"}, {}),
        ("post", "cautions/first_ride/read/", {}, {}),
        ("post", "sign-offs/", {"part": "work"}, {}),
    ]


class TestWhoMay:
    """Every change of a card, tried by those who may not, and on a card that is sealed."""

    def tried(self, client, card, spring):
        line = TorqueLineFactory(card=card)
        for method, below, body, headers in changes_of(card, line, spring):
            answer = getattr(client, method)(f"/api/cards/{card.pk}/{below}", body, **headers)
            yield f"{method} {below}", answer

    def test_a_sister_shop_reads_but_does_not_change(self, technician_client, shop, sister_shop):
        card, spring = JobCardFactory(shop=sister_shop), StockSpringFactory(shop=shop)
        ReadingFactory(card=card)
        for what, answer in self.tried(technician_client, card, spring):
            assert answer.status_code == 403, what
            assert "Mill Yard" in answer.json()["problems"][0]["text"]
        for below in ("", "sides/"):
            assert technician_client.get(f"/api/cards/{card.pk}/{below}").status_code == 200
        assert technician_client.post(f"/api/cards/{card.pk}/choose/", {"end": "rear"}).status_code == 200
        assert technician_client.post(f"/api/cards/{card.pk}/preview/", {}).status_code == 200

    def test_a_stranger_sees_nothing(self, stranger_client, shop):
        card, spring = JobCardFactory(shop=shop), StockSpringFactory(shop=shop)
        for what, answer in self.tried(stranger_client, card, spring):
            assert answer.status_code == 404, what
        for below in ("", "sides/"):
            assert stranger_client.get(f"/api/cards/{card.pk}/{below}").status_code == 404
        assert stranger_client.post(f"/api/cards/{card.pk}/choose/", {"end": "rear"}).status_code == 404

    def test_a_sealed_card_refuses_every_change(self, technician_client, technician, shop):
        card, spring = JobCardFactory(shop=shop, step="sealed"), StockSpringFactory(shop=shop)
        for what, answer in self.tried(technician_client, card, spring):
            assert answer.status_code == 409, what
            assert problem_codes(answer) == ["sealed"], what
        assert not rows(AuditEntry, technician).exists()
        assert technician_client.get(f"/api/cards/{card.pk}/").json()["may_change"] is False

    def test_an_anonymous_person_is_told_to_sign_in(self, anonymous, shop):
        card, spring = JobCardFactory(shop=shop), StockSpringFactory(shop=shop)
        for what, answer in self.tried(anonymous, card, spring):
            assert answer.status_code == 401, what

    def test_parts_of_another_card_are_not_found(self, technician_client, shop):
        card, other = JobCardFactory(shop=shop), JobCardFactory(shop=shop)
        line, taken = TorqueLineFactory(card=other), ReadingFactory(card=other)
        address = f"/api/cards/{card.pk}/"
        assert technician_client.post(f"{address}torques/{line.pk}/tighten/").status_code == 404
        assert technician_client.post(f"{address}readings/{taken.pk}/strike/").status_code == 404

    def test_every_change_leaves_its_line_in_the_trail(self, technician_client, technician, at, opened, shop):
        spring = StockSpringFactory(shop=shop)
        card = JobCard.objects.all().declare_scope().get(pk=opened["id"])
        line = TorqueLineFactory(card=card, value_nm=5, wrench=ToolFactory(shop=shop))
        wanted = [one for one in changes_of(card, line, spring) if not one[1].endswith("check/")]
        for method, below, body, headers in wanted:
            before = rows(AuditEntry, technician).count()
            answer = self.called(technician_client, at, opened, line, (method, below, body, headers))
            assert answer.status_code == 200, (method, below, answer.content)
            assert rows(AuditEntry, technician).count() == before + 1, (method, below)

    def called(self, client, at, opened, line, call):
        """Make one of the calls with the body and version that it needs on this very card."""
        method, below, body, headers = call
        if "settings" in below:
            received = opened["settings"]["received"]["rear"]["body"]
            return client.put(f"{at}settings/built/rear/", received, HTTP_IF_NONE_MATCH="*")
        if below == f"torques/{line.pk}/":
            line.refresh_from_db()
            value = {"value_nm": line.value_nm + 1} if method == "patch" else {"reason": "does not apply"}
            return getattr(client, method)(f"{at}{below}", value, HTTP_IF_MATCH=f'"{line.version}"')
        return getattr(client, method)(f"{at}{below}", body, **headers)
