"""Slips of the hand and the tape, each typed where a technician types it: one clear sentence comes back.

A refusal says what was read, its unit, what is accepted and the likely cause, and keeps nothing. That these are
the slips a workshop sees, and the bands themselves, are common practice with no source.
"""

from __future__ import annotations

import json

import pytest

from setups.bodies import received_body
from tests.factories import SettingFactory, front_data
from tests.setups.technician import Bench, straight

LENGTHS = {
    "wheel_free_mm": 640,
    "alone_from_above_mm": 614,
    "alone_from_below_mm": 608,
    "rider_from_above_mm": 560,
    "rider_from_below_mm": 552,
}
FREE = {key: LENGTHS[key] for key in ("wheel_free_mm",)}
ALONE = {key: LENGTHS[key] for key in LENGTHS if not key.startswith("rider")}


@pytest.fixture
def bench(technician_client, shop):
    return Bench(technician_client, shop)


def table(wheel, shock):
    return {"kind": "table", "wheel_mm": wheel, "shock_mm": shock}


SLIPS = {
    "a person of nothing": (lambda b: b.rider(0), "mass_in_kit_kg", ["0 kg", "250 kg"]),
    "a person below nothing": (lambda b: b.rider(-70), "mass_in_kit_kg", ["-70 kg", "250 kg"]),
    "a person in pounds": (lambda b: b.rider(275), "mass_in_kit_kg", ["275 kg", "250 kg", "pounds", "124.7 kg"]),
    "a person changed to pounds": (lambda b: b.changed_rider(275), "mass_in_kit_kg", ["275 kg", "pounds"]),
    "an axle past any bike": (
        lambda b: b.readings(axle_alone_kg=401),
        "readings.0.value",
        ["401 kg", "rear axle load", "400 kg", "pounds"],
    ),
    "an axle of nothing": (
        lambda b: b.readings("front", axle_rider_kg=0),
        "readings.0.value",
        ["0 kg", "front axle load", "with the rider", "400 kg"],
    ),
    "axle loads swapped": (
        lambda b: b.readings(axle_alone_kg=112, axle_rider_kg=57),
        "readings.1.value",
        ["57 kg", "112 kg", "swapped?"],
    ),
    "a fork rate ten times too large": (
        lambda b: b.setting("front", "legs.0.spring", straight(46)),
        "legs.0.spring.rate_n_per_mm",
        ["46 N/mm", "2 to 25 N/mm", "4.6"],
    ),
    "a fork rate in kgf/mm": (
        lambda b: b.setting("front", "legs.1.spring", straight(0.46)),
        "legs.1.spring.rate_n_per_mm",
        ["0.46 N/mm", "2 to 25 N/mm", "kgf/mm", "4.511 N/mm"],
    ),
    "the bike's fork rate in kgf/mm": (
        lambda b: b.bike("front", "legs.0.spring", straight(0.46)),
        "front.legs.0.spring.rate_n_per_mm",
        ["0.46 N/mm", "kgf/mm"],
    ),
    "a loose fork's rate in kgf/mm": (
        lambda b: b.loose("front", "legs.0.spring", straight(0.46)),
        "loose_front.legs.0.spring.rate_n_per_mm",
        ["0.46 N/mm", "kgf/mm"],
    ),
    "rider sag under static sag": (
        lambda b: b.readings(**LENGTHS | {"rider_from_above_mm": 622, "rider_from_below_mm": 616}),
        "readings.3.value",
        ["rider sag", "21 mm", "static sag", "29 mm", "swapped?"],
    ),
    "rider sag equal to static sag": (
        lambda b: b.readings(**ALONE, rider_from_above_mm=614, rider_from_below_mm=608),
        "readings.3.value",
        ["29 mm", "swapped?"],
    ),
    "bike alone above wheel free": (
        lambda b: b.readings(**FREE, alone_from_above_mm=652),
        "readings.1.value",
        ["652 mm", "640 mm", "swapped"],
    ),
    "static sag above the travel": (
        lambda b: b.readings(**FREE, alone_from_below_mm=330),
        "readings.1.value",
        ["310 mm", "300 mm", "travel"],
    ),
    "rider sag above the travel": (
        lambda b: b.readings("front", **ALONE, rider_from_above_mm=330, rider_from_below_mm=322),
        "readings.3.value",
        ["314 mm", "300 mm", "travel"],
    ),
    "from below longer than from above": (
        lambda b: b.readings(**FREE, alone_from_above_mm=608, alone_from_below_mm=614),
        "readings.1.value",
        ["608 mm", "614 mm", "swapped?"],
    ),
    "the same before the wheel-free length is read": (
        lambda b: b.readings(rider_from_above_mm=552, rider_from_below_mm=560),
        "readings.0.value",
        ["552 mm", "560 mm", "swapped?"],
    ),
    "a length in centimetres": (
        lambda b: b.readings(wheel_free_mm=64.0),
        "readings.0.value",
        ["64 mm", "centimetres", "640 mm"],
    ),
    "a length in inches": (
        lambda b: b.readings(wheel_free_mm=25.2),
        "readings.0.value",
        ["25.2 mm", "inches", "640.1 mm"],
    ),
    "an inverted leverage": (
        lambda b: b.bike("rear", "leverage", {"kind": "ratio", "wheel_per_shock": 0.43}),
        "rear.leverage.wheel_per_shock",
        ["0.43", "0.9 to 6", "inverted", "2.326"],
    ),
    "an inverted leverage table": (
        lambda b: b.bike("rear", "leverage", table([0, 50, 100], [0, 140, 300])),
        "rear.leverage.shock_mm",
        ["0.3333", "0.9 to 6", "inverted"],
    ),
    "a leverage table that does not rise": (
        lambda b: b.bike("rear", "leverage", table([0, 100, 200, 300], [0, 30, 30, 100])),
        "rear.leverage.shock_mm.2",
        ["30 mm", "rise"],
    ),
    "a leverage table that falls": (
        lambda b: b.bike("rear", "leverage", table([0, 200, 100, 300], [0, 30, 60, 100])),
        "rear.leverage.wheel_mm.2",
        ["100 mm", "200 mm", "rise"],
    ),
    "a leverage table that stops early": (
        lambda b: b.bike("rear", "leverage", table([0, 100, 200], [0, 32, 68])),
        "rear.leverage.wheel_mm",
        ["200 mm", "300 mm"],
    ),
    "a loose shock's leverage inverted": (
        lambda b: b.loose("rear", "leverage", {"kind": "ratio", "wheel_per_shock": 0.43}),
        "loose_rear.leverage.wheel_per_shock",
        ["inverted"],
    ),
    "a loose spring to build with": (
        lambda b: b.setting("rear", "preload_mm", -3, "built"),
        "preload_mm",
        ["-3 mm", "loose at full extension"],
    ),
    "a loose spring to choose": (
        lambda b: b.setting("front", "legs.1.preload_mm", -3, "chosen"),
        "legs.1.preload_mm",
        ["-3 mm", "loose at full extension"],
    ),
    "preload past the adjuster": (
        lambda b: b.setting("rear", "preload_mm", 26, "built"),
        "preload_mm",
        ["26 mm", "0 to 25 mm", "adjuster"],
    ),
    "the bike's preload past its adjuster": (
        lambda b: b.bike("rear", "preload_mm", 26),
        "rear.preload_mm",
        ["26 mm", "0 to 25 mm", "adjuster"],
    ),
    "no room for air": (
        lambda b: b.setting("front", "legs.0.air_gap_mm", 50),
        "legs.0.air_gap_mm",
        ["50 mm", "42 mm", "70 cm³", "no air"],
    ),
    "a gap read with the spring in": (
        lambda b: b.setting("front", "legs.0.gap_read_with", "spring_in"),
        "legs.0.gap_read_with",
        ["spring in", "read it again"],
    ),
    "a dual spring the wrong way round": (
        lambda b: b.setting(
            "front",
            "legs.0.spring",
            {"kind": "dual", "soft_n_per_mm": 5.2, "hard_n_per_mm": 4.2, "change_mm": 80},
        ),
        "legs.0.spring.hard_n_per_mm",
        ["4.2 N/mm", "5.2 N/mm", "swapped?"],
    ),
    "a rake from the ground": (
        lambda b: b.bike("front", "rake_deg", 63.5),
        "front.rake_deg",
        ["63.5°", "0 to 60°", "from the ground", "26.5°"],
    ),
}


@pytest.mark.parametrize("slip", SLIPS)
def test_a_slip_is_refused_with_one_sentence_and_keeps_nothing(bench, slip):
    type_it, field, said = SLIPS[slip]
    before = bench.kept()
    answer = type_it(bench)
    assert answer.status_code == 400, answer.content
    [problem] = answer.json()["problems"]
    assert problem["field"] == field
    for words in said:
        assert words in problem["text"], problem["text"]
    assert "  " not in problem["text"]
    assert problem["text"].rstrip()[-1] in ".?"
    assert bench.kept() == before


@pytest.mark.parametrize(
    ("address", "body", "field", "said"),
    [
        ("/api/customers/", {"name": "  "}, "name", "blank"),
        ("/api/customers/", {"name": "n" * 300}, "name", "too long"),
        ("/api/customers/", {}, "name", "missing"),
        ("/api/customers/", {"name": "Orla Venn", "email": "orla at rider"}, "email", "no e-mail address"),
    ],
)
def test_a_form_left_blank_or_overfilled_is_told_in_plain_words(technician_client, db, address, body, field, said):
    [problem] = technician_client.post(address, body).json()["problems"]
    assert problem["field"] == field
    assert said in problem["text"]
    assert "field" not in problem["text"]


def test_a_next_service_before_the_job_is_a_slip_of_the_year(bench):
    answer = bench.client.patch(bench.address, {"next_service_on": "1999-05-01"}, HTTP_IF_MATCH='"1"')
    assert answer.status_code == 400
    [problem] = answer.json()["problems"]
    assert problem["field"] == "next_service_on"
    assert "1999-05-01" in problem["text"]
    assert "check the year" in problem["text"]
    later = {"next_service_on": "2999-05-01"}
    assert bench.client.patch(bench.address, later, HTTP_IF_MATCH='"1"').status_code == 200


def test_nobody_alone_answers_for_an_axle(bench):
    card = bench.client.post("/api/cards/", {"bike": bench.card.bike.pk}).json()
    lines = {one["fastener"]: one for one in card["torques"]}
    address = f"/api/cards/{card['id']}/torques/"
    off = {"needs_second_check": False}
    answer = bench.client.patch(f"{address}{lines['Front axle']['id']}/", off, HTTP_IF_MATCH='"1"')
    assert answer.status_code == 400
    assert "second person" in answer.json()["problems"][0]["text"]
    renamed = {**off, "fastener": "Some bolt"}
    again = bench.client.patch(f"{address}{lines['Front axle']['id']}/", renamed, HTTP_IF_MATCH='"1"')
    assert again.status_code == 400
    assert bench.client.post(address, {**off, "fastener": "Rear axle"}).status_code == 400
    assert bench.client.post(address, {**off, "fastener": "Number plate bolt"}).status_code == 200


@pytest.mark.parametrize("rate", [46, 0.46])
def test_a_fork_rate_of_the_spring_list_is_held_to_the_same_band(manager_client, shop, rate):
    answer = manager_client.post(
        "/api/springs/",
        {"shop": shop.pk, "end": "front", "code": "F9", "label": "Fork", "spring": straight(rate)},
    )
    assert answer.status_code == 400
    [problem] = answer.json()["problems"]
    assert problem["field"] == "spring.rate_n_per_mm"
    assert "2 to 25 N/mm" in problem["text"]


def weighed(bench, end):
    """Weigh the bike, so that the end can be computed."""
    assert bench.readings(end, axle_alone_kg=60, axle_rider_kg=110).status_code == 200


@pytest.mark.parametrize(
    ("end", "path", "spring", "short"),
    [
        # Fork: 10 + 300 − 290; shock: 7 + 300 ÷ 2.9 − 90. By hand.
        ("front", "legs.0.spring", straight(4.6) | {"solid_deflection_mm": 290}, "20 mm"),
        ("rear", "spring", straight(52) | {"solid_deflection_mm": 90}, "20.45 mm"),
    ],
)
def test_coil_bind_is_kept_as_found_but_not_computed_and_says_by_how_much(bench, end, path, spring, short):
    weighed(bench, end)
    assert bench.setting(end, path, spring).status_code == 200
    side = bench.received(end)
    [problem] = side["problems"]
    assert problem["code"] == "coil_bind"
    assert f"{short} before the end" in problem["text"]
    assert side["result"] is None
    assert side["picture"] is None


@pytest.mark.parametrize(("end", "path"), [("front", "legs.0.preload_mm"), ("rear", "preload_mm")])
def test_a_spring_that_came_in_loose_is_computed_with_a_warning(bench, end, path):
    weighed(bench, end)
    assert bench.setting(end, path, -3).status_code == 200
    notes = [note for note in bench.received(end)["result"]["notes"] if note["severity"] == "warning"]
    assert any("loose" in note["text"] and "full extension" in note["text"] for note in notes), notes


def test_an_axle_load_below_the_unsprung_mass_is_said_beside_the_reading(bench):
    assert bench.readings(axle_alone_kg=21, axle_rider_kg=90).status_code == 200
    assert bench.setting("rear", "preload_mm", 7).status_code == 200
    [problem] = bench.received("rear")["problems"]
    assert problem["field"] == "readings.axle_alone_kg"
    assert "21 kg" in problem["text"]
    assert "22 kg" in problem["text"]


def test_a_fork_without_springs_or_pressure_is_not_computed(bench):
    weighed(bench, "front")
    body = received_body(front_data(), "front")
    for leg in body["legs"]:
        leg["spring"] = None
    address = f"{bench.address}settings/received/front/"
    assert bench.client.put(address, body, HTTP_IF_NONE_MATCH="*").status_code == 200
    side = bench.received("front")
    assert side["result"] is None
    assert "a spring in a fork leg" in side["missing"]


def test_a_wide_pair_is_kept_with_a_warning_to_look_for_binding(bench):
    values = ALONE | {"alone_from_below_mm": 597}
    answer = bench.readings(**values)
    assert answer.status_code == 200
    [note] = answer.json()["sag"]["received"]["rear"]["notes"]
    assert note["severity"] == "warning"
    assert "17 mm apart" in note["text"]
    assert "binding" in note["text"]
    assert bench.readings(**ALONE | {"alone_from_below_mm": 599}).json()["sag"]["received"]["rear"]["notes"] == []


BROKEN = [b'{"value": NaN}', b'{"value": Infinity}', b'{"value": -Infinity}', b'{"value": 1e999}', b"{", b"", b"[]"]


@pytest.mark.parametrize("body", BROKEN)
def test_what_is_no_json_is_refused_wherever_a_value_is_typed(bench, body):
    SettingFactory(card=bench.card)
    for method, address in (
        ("post", "/api/riders/"),
        ("post", "/api/bikes/"),
        ("post", "/api/cards/"),
        ("post", f"{bench.address}readings/"),
        ("post", f"{bench.address}torques/"),
        ("put", f"{bench.address}settings/received/rear/"),
    ):
        answer = bench.client.generic(
            method.upper(), address, body, content_type="application/json", HTTP_IF_MATCH='"1"'
        )
        assert answer.status_code == 400, address
        assert answer.json()["problems"], address


@pytest.mark.parametrize("value", ["82", "82,5", "", None, True, [82], {"kg": 82}])
def test_a_reading_that_is_no_number_is_refused_at_its_field(bench, value):
    answer = bench.readings(axle_alone_kg=value)
    assert answer.status_code == 400
    assert [problem["field"] for problem in answer.json()["problems"]] == ["readings.0.value"]


@pytest.mark.parametrize("missing", ["stage", "end", "quantity", "value"])
def test_a_reading_with_something_missing_is_refused_at_its_field(bench, missing):
    taken = {"stage": "received", "end": "rear", "quantity": "axle_alone_kg", "value": 57}
    del taken[missing]
    answer = bench.client.post(f"{bench.address}readings/", {"readings": [taken]})
    assert answer.status_code == 400
    assert [problem["field"] for problem in answer.json()["problems"]] == [f"readings.0.{missing}"]


@pytest.mark.parametrize("value", ["4.6", True, [4.6]])
def test_a_settings_number_that_is_none_is_refused_at_its_field(bench, value):
    answer = bench.setting("front", "legs.0.air_gap_mm", value)
    assert answer.status_code == 400
    assert [problem["field"] for problem in answer.json()["problems"]] == ["legs.0.air_gap_mm"]


def test_ten_megabytes_are_refused_wherever_something_is_typed(bench):
    body = json.dumps({"complaint": "n" * 10_000_000})
    for address in ("/api/cards/", "/api/bikes/", f"{bench.address}readings/", "/api/record/open/"):
        answer = bench.client.post(address, body, content_type="application/json")
        assert answer.status_code == 400, address
        assert answer.json()["problems"], address
