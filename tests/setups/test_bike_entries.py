"""What a bike keeps besides plain numbers: a linkage, smoothed pairs, a pour, the fork's chambers; and their slips."""

from __future__ import annotations

import math

import pytest

from calc.linkage import linkage_from
from setups.bodies import as_request, received_body
from setups.record.document import _with_reach
from setups.record.layout import _fact, spring_work
from tests.factories import BikeFactory, SettingFactory, front_data, rear_data
from tests.setups.technician import Bench, at

# The linkage set of physics, public (after Sharp, Evangelou, Limebeer 2004, as in Appl. Sci. 10(19) 6826), in mm:
# its motion ratio at the attitude drawn is 0.55365.
LINKAGE = {
    "kind": "linkage", "pivot_mm": [-128.9, -111.6], "axle_mm": [-677.9, -175.4], "shock_top_mm": [-190.9, 16.4],
    "shock_foot_mm": [-233.6, -294.2],
    "rocker": {"on": "frame", "pivot_mm": [-138.9, -284.6], "rod_near_mm": [-183.3, -320.2],
               "rod_far_mm": [-305.7, -197.6]},
}  # fmt: skip
READ = {"wheel_mm": [0, 60, 120, 180, 240, 300], "shock_mm": [0, 20.4, 41.2, 62.5, 84.2, 106.4], "reading_u_mm": 0.5}
SMOOTHED = {"kind": "table", "wheel_mm": [0, 150, 300], "shock_mm": [0, 51.7, 106.4], "readings": READ}


@pytest.fixture
def bench(technician_client, shop):
    return Bench(technician_client, shop)


def new_bike(bench, **data):
    owner = {"owner": bench.customer.pk, "make": "Brackwater", "model": "Heron", "kind": "enduro"}
    return bench.client.post("/api/bikes/", {**owner, **data})


def refusal(answer, field):
    assert answer.status_code == 400, answer.json()
    return next(one["text"] for one in answer.json()["problems"] if one["field"] == field)


def test_a_bike_keeps_its_linkage_and_is_reckoned_with_by_it(bench):
    rear = {**rear_data(), "wheel_travel_mm": 140, "leverage": LINKAGE}
    bike = new_bike(bench, rear=rear)
    assert bike.status_code == 201, bike.json()
    assert bike.json()["rear"]["leverage"] == LINKAGE
    assert 1 / linkage_from(LINKAGE).motion(0.0)[1] == pytest.approx(1 / 0.55365, rel=1e-4)
    for word, load in (("axle_alone_kg", 90), ("axle_rider_kg", 150)):
        bench.readings(**{word: load})
    bench.card.bike = BikeFactory(business=bench.shop.business, rear=rear)
    bench.card.save()
    SettingFactory(card=bench.card, stage="received", end="rear", body=received_body(rear, "rear"))
    assert bench.received("rear")["result"] is not None


SLIPS = {
    "a rod of no length": (
        "rear", "leverage.rocker.rod_far_mm", [-183.3, -320.2], "rear.leverage.rocker.rod_far_mm",
        ["rod has no length"],
    ),
    "a rod too short to close": (
        "rear", "leverage.rocker.rod_length_mm", 20, "rear.leverage.rocker.rod_length_mm", ["cannot close", "20 mm"],
    ),
    "a travel that the linkage does not reach": (
        "rear", "wheel_travel_mm", 500, "rear.leverage", ["500 mm", "works up to"],
    ),
    "a point of one number": ("rear", "leverage.axle_mm", [-677.9], "rear.leverage.axle_mm", ["two numbers"]),
    "a shock that is too long": (
        "rear", "leverage.shock_extended_mm", 900, "rear.leverage.shock_extended_mm", ["900 mm"],
    ),
}  # fmt: skip


@pytest.mark.parametrize("slip", SLIPS)
def test_a_slip_in_a_linkage_is_named_at_its_point(bench, slip):
    end, path, value, field, words = SLIPS[slip]
    text = refusal(new_bike(bench, **{end: at({**rear_data(), "leverage": LINKAGE}, path, value)}), field)
    assert [word for word in words if word not in text] == []


def test_pairs_that_fall_are_named_at_their_cell(bench):
    table = {"kind": "table", "wheel_mm": [0, 100, 90, 300], "shock_mm": [0, 30, 60, 100]}
    text = refusal(bench.bike("rear", "leverage", table), "rear.leverage.wheel_mm.2")
    assert "90 mm follows 100 mm" in text


def test_the_readings_behind_a_smoothed_table_are_kept_and_not_reckoned_with(bench):
    bike = bench.bike("rear", "leverage", SMOOTHED)
    assert bike.status_code == 201, bike.json()
    assert bike.json()["rear"]["leverage"]["readings"] == READ
    asked = as_request({**rear_data(), "leverage": SMOOTHED}, received_body(rear_data(), "rear"), "rear")
    assert set(asked["leverage"]) == {"kind", "wheel_mm", "shock_mm"}


def test_readings_that_cannot_be_smoothed_are_refused_with_the_bike(bench):
    wrong = {**SMOOTHED, "readings": {**READ, "shock_mm": [0, 20, 41]}}
    text = refusal(bench.bike("rear", "leverage", wrong), "rear.leverage.readings.shock_mm")
    assert "4 to 200 pairs" in text


def test_a_pour_stands_for_the_bore(bench):
    # The same area either way: π/4 · 42² mm² = 1385.44 mm², so 27.709 cm³ raise the oil by 20 mm.
    pour = {"cm3": math.pi / 4 * 42**2 * 20 / 1000, "rise_mm": 20}
    poured = {**front_data(), "bore_diameter_mm": None, "pour": pour}
    bench.readings("front", axle_alone_kg=58, axle_rider_kg=88)
    body = received_body(front_data(), "front")
    setting = SettingFactory(card=bench.card, stage="received", end="front", body=body)
    by_bore = bench.received("front")["result"]
    bench.card.bike = BikeFactory(business=bench.shop.business, front=poured)
    bench.card.save()
    by_pour = bench.received("front")["result"]
    assert by_pour["rider_sag_mm"] == pytest.approx(by_bore["rider_sag_mm"], rel=1e-5)
    assert by_pour["full_stroke_n"] == pytest.approx(by_bore["full_stroke_n"], rel=1e-5)
    assert setting.body["legs"][0]["air_gap_mm"] == 110


def test_a_pour_that_makes_no_bore_is_named(bench):
    text = refusal(bench.bike("front", "pour", {"cm3": 500, "rise_mm": 5}), "front.pour")
    assert [word for word in ("500 cm³", "bore") if word not in text] == []


def chambered(bench, chambers):
    bench.readings("front", axle_alone_kg=58, axle_rider_kg=88)
    SettingFactory(card=bench.card, stage="received", end="front", body=received_body(front_data(), "front"))
    bench.card.bike = BikeFactory(business=bench.shop.business, front={**front_data(), "chambers": chambers})
    bench.card.save()
    return [note for note in bench.received("front")["result"]["notes"] if note["code"] == "outer_chamber_only"]


@pytest.mark.parametrize(("chambers", "words"), [("twin", "twin chambers"), ("closed_cartridge", "closed cartridge")])
def test_a_fork_of_more_chambers_is_told_apart_honestly(bench, chambers, words):
    (note,) = chambered(bench, chambers)
    assert note["severity"] == "warning"
    assert [one for one in (words, "only the outer chamber's change") if one not in note["text"]] == []


def test_the_record_says_what_a_twin_chamber_forks_figures_leave_out(bench):
    (note,) = chambered(bench, "twin")
    body = received_body(front_data(), "front")
    ends = {"front": body, "rear": None}
    results = {"front": {"notes": [note]}, "rear": None}
    document = {
        "settings": {"received": ends, "built": ends}, "results": {"received": results, "built": results},
        "bike": {"front": front_data()}, "loose": None,
    }  # fmt: skip
    assert spring_work(document)[-1] == note["text"]
    plain = {**document, "results": {"received": {"front": None}, "built": {"front": {"notes": []}}}}
    assert note["text"] not in spring_work(plain)


def test_a_fork_of_one_chamber_needs_no_such_remark(bench):
    assert chambered(bench, "one") == []


def test_an_unknown_chamber_is_refused(bench):
    assert "none of: one, twin" in refusal(bench.bike("front", "chambers", "three"), "front.chambers")


def test_a_fork_vented_high_and_ridden_low_says_so(bench):
    # ISO 2533: 101 325 Pa at the sea, 79 495 Pa at 2000 m: the shut fork starts 21.8 kPa under the air outside.
    bench.readings("front", axle_alone_kg=58, axle_rider_kg=88)
    body = {**received_body(front_data(), "front"), "vented_altitude_m": 2000}
    answer = bench.client.put(f"{bench.address}settings/received/front/", body, HTTP_IF_NONE_MATCH="*")
    assert answer.status_code == 200, answer.json()
    note = next(n for n in bench.received("front")["result"]["notes"] if n["code"] == "vented_elsewhere")
    assert note["value"] == pytest.approx(-21.83, abs=0.01)


def test_one_temperature_alone_is_asked_for_not_refused(bench):
    bench.readings("front", axle_alone_kg=58, axle_rider_kg=88)
    body = {**received_body(front_data(), "front"), "vented_temperature_c": 20}
    answer = bench.client.put(f"{bench.address}settings/received/front/", body, HTTP_IF_NONE_MATCH="*")
    assert answer.status_code == 200
    assert bench.received("front")["result"] is None


def test_the_record_words_a_linkage_by_its_points_and_reach():
    frozen = _with_reach({**rear_data(), "leverage": LINKAGE})
    reach = 1000 * linkage_from(LINKAGE).reach
    assert _fact("leverage", frozen["leverage"]) == (
        f"linkage of 7 points, reach 0 to {reach:.0f} mm (in the attached file)"
    )
    assert _fact("leverage", SMOOTHED) == "table smoothed from 6 measured pairs (both in the attached file)"
    assert _fact("pour", {"cm3": 28.0, "rise_mm": 20.0}) == "28 cm³ raise the oil 20 mm"
    assert "outer chamber" in _fact("chambers", "twin")
