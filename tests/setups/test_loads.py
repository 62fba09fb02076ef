"""The axle loads three ways on a card: what agrees, what contradicts, and taking a way where nobody weighed."""

from __future__ import annotations

import pytest

from setups.bodies import received_body
from setups.measured import counting
from tests.factories import SettingFactory, rear_data
from tests.setups.technician import Bench

# One ratio and one straight spring with its gas force: N = (k (p + z/R) + F) / R. The load at a sag is then
# N / 9.80665 + unsprung (the force balance of physics §4, by hand).
TRAVEL_OF = {"alone": 30.0, "rider": 95.0}


def load_at(sag_mm):
    data = rear_data()
    ratio = data["leverage"]["wheel_per_shock"]
    force = data["spring"]["rate_n_per_mm"] * (data["preload_mm"] + sag_mm / ratio) + data["gas_force_n"]
    return force / ratio / 9.80665 + data["unsprung_kg"]


@pytest.fixture
def bench(technician_client, shop):
    bench = Bench(technician_client, shop)
    SettingFactory(card=bench.card, stage="received", end="rear", body=received_body(rear_data(), "rear"))
    return bench


def asked(bench, **more):
    return bench.client.post(f"{bench.address}loads/", {"stage": "received", "end": "rear", **more})


def read_sags(bench):
    free = 640
    pairs = {f"{name}_from_{side}_mm": free - sag for name, sag in TRAVEL_OF.items() for side in ("above", "below")}
    return bench.readings(wheel_free_mm=free, **pairs)


def test_the_bike_is_its_own_scale(bench):
    answer = read_sags(bench)
    assert answer.status_code == 200, answer.json()
    found = asked(bench).json()
    sags = found["ways"]["sags"]
    assert sags["static_kg"] == pytest.approx(load_at(30), abs=0.01)
    assert sags["rider_kg"] == pytest.approx(load_at(95), abs=0.01)
    assert found["says"] == "One way only so far for each load: the sags and the known springs."
    assert found["weighed"] is False


def test_scales_that_agree_with_the_sags_are_said_to(bench):
    read_sags(bench)
    bench.readings(axle_alone_kg=round(load_at(30), 1), axle_rider_kg=round(load_at(95), 1))
    found = asked(bench).json()
    verdicts = {tuple(each["ways"]): each["verdict"] for each in found["compared"]}
    assert verdicts[("scales", "sags")] == "agree"
    assert found["weighed"] is True


def test_loads_that_contradict_each_other_are_said_plainly_with_what_would_explain_it(bench):
    read_sags(bench)
    # Twice the sprung load that the springs carry at that sag: no reading's uncertainty spans it.
    bench.readings(axle_alone_kg=round(2 * load_at(30)), axle_rider_kg=round(2 * load_at(95)))
    found = asked(bench).json()
    worst = next(each for each in found["compared"] if each["ways"] == ["scales", "sags"])
    assert worst["verdict"] == "contradict"
    assert found["says"] == max(found["compared"], key=lambda each: each["times_u"])["text"]
    assert "cannot both be right" in found["says"]
    assert [each for each in worst["causes"] if each["text"]]


def test_the_riders_share_can_be_said_better(bench):
    bench.readings(axle_alone_kg=58)
    mass = bench.card.rider.mass_in_kit_kg
    usual, said = asked(bench).json(), asked(bench, share=0.5).json()
    assert usual["ways"]["rider"]["rider_kg"] == pytest.approx(58 + 0.65 * mass, rel=1e-5)
    assert said["ways"]["rider"]["rider_kg"] == pytest.approx(58 + 0.5 * mass, rel=1e-5)


def test_where_nobody_weighed_the_sags_can_be_taken_and_are_marked_assumed(bench):
    read_sags(bench)
    body = {"stage": "received", "end": "rear", "way": "sags"}
    answer = bench.client.post(f"{bench.address}loads/take/", body)
    assert answer.status_code == 200
    assert answer.json()["loads"]["received"]["rear"]["from"] == "assumed"
    taken = counting(bench.card, "received", "rear")["axle_rider_kg"]
    assert (taken.origin, taken.value) == ("assumed", pytest.approx(load_at(95), abs=0.06))
    # The suspension as reckoned now settles where it was read: the loads came from there.
    assert bench.received("rear")["result"]["rider_sag_mm"] == pytest.approx(95, abs=0.5)
    assert asked(bench).json()["weighed"] is False


def test_a_weighed_axle_is_not_overruled(bench):
    read_sags(bench)
    bench.readings(axle_alone_kg=58)
    answer = bench.client.post(f"{bench.address}loads/take/", {"stage": "received", "end": "rear", "way": "sags"})
    assert answer.status_code == 409
    assert "was weighed" in answer.json()["problems"][0]["text"]


def test_a_way_that_tells_nothing_says_what_it_lacks(bench):
    answer = bench.client.post(f"{bench.address}loads/take/", {"stage": "received", "end": "rear", "way": "rider"})
    assert answer.status_code == 400
    (problem,) = answer.json()["problems"]
    assert problem["field"] == "way"
    assert "the bike alone weighed" in problem["text"]
    assert asked(bench).json()["says"] == "The loads cannot be told yet."


def test_a_topped_out_bike_is_no_scale(bench):
    bench.readings(wheel_free_mm=640, alone_from_above_mm=640, alone_from_below_mm=640)
    assert asked(bench).json()["ways"] == {}


