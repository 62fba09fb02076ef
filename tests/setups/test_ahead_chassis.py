"""Attitude, braking and drive on a card: the bike's chassis figures in, the stages compared."""

from __future__ import annotations

import math

import pytest

from setups.models import Bike
from shops.access import everywhere
from tests.setups import test_ahead, test_ahead_loads

pytestmark = pytest.mark.django_db
bench, weighed, fit = test_ahead.bench, test_ahead.weighed, test_ahead_loads.fit
SITS = {"measured_at": "alone", "wheelbase_mm": 1480, "front_radius_mm": 340, "rear_radius_mm": 330, "offset_mm": 22}
DRIVES = {
    "mass_height_mm": 680, "pivot_x_mm": 560, "pivot_z_mm": 420, "front_sprocket_x_mm": 640,
    "front_sprocket_z_mm": 415, "front_teeth": 13, "rear_teeth": 50,
}  # fmt: skip


def keep(bench, chassis):
    bike = f"/api/bikes/{bench.card.bike_id}/"
    return bench.client.patch(bike, {"chassis": chassis}, HTTP_IF_MATCH=f'"{bench.client.get(bike).json()["version"]}"')


def sitting(bench, **given):
    answer = bench.client.post(f"{bench.address}attitude/", given)
    assert answer.status_code == 200, answer.content
    return answer.json()


def rider_sags(bench, stage):
    sides = bench.client.get(f"{bench.address}sides/").json()[stage]
    return {end: (side["result"] or {}).get("rider_sag_mm") for end, side in sides.items()}


def test_a_stiffer_shock_lowers_the_nose_by_the_small_angle(weighed):
    assert keep(weighed, SITS).status_code == 200
    fit(weighed, 70, 8)
    found = sitting(weighed)
    came, chosen = found["stages"]
    rise = rider_sags(weighed, "chosen")["rear"] - rider_sags(weighed, "received")["rear"]
    pitch = math.degrees(rise / 1480)
    assert rise < -20
    assert (came["pitch_deg"], chosen["pitch_deg"]) == (0, pytest.approx(pitch, rel=0.03))
    assert chosen["rake_deg"] - came["rake_deg"] == pytest.approx(pitch, rel=0.03)
    assert chosen["trail_mm"] < came["trail_mm"]
    assert "nose comes down" in found["text"]
    assert found["svg"].count("<circle") == 4


def test_trail_instead_of_offset_gives_the_same(weighed):
    keep(weighed, SITS)
    by_offset = sitting(weighed)["stages"]
    rake = math.radians(26.5)
    trail = (340 * math.sin(rake) - 22) / math.cos(rake)
    keep(weighed, {**SITS, "offset_mm": None, "trail_mm": trail})
    by_trail = sitting(weighed)["stages"]
    assert by_trail[0]["trail_mm"] == pytest.approx(by_offset[0]["trail_mm"], abs=1e-3)


def test_tubes_pushed_up_through_the_clamps_lower_the_nose(weighed):
    keep(weighed, SITS)
    body = weighed.client.get(weighed.address).json()["settings"]["received"]["front"]["body"]
    first = {"HTTP_IF_NONE_MATCH": "*"}
    for stage, height, header in (("received", 5, {"HTTP_IF_MATCH": '"1"'}), ("chosen", 15, first)):
        saved = weighed.client.put(
            f"{weighed.address}settings/{stage}/front/", {**body, "fork_height_mm": height}, **header
        )
        assert saved.status_code == 200
    pitch = sitting(weighed)["stages"][1]["pitch_deg"]
    assert pitch == pytest.approx(-math.degrees(10 * math.cos(math.radians(26.5)) / 1480), rel=0.03)


def test_braking_dives_deeper_the_harder_it_is(weighed):
    keep(weighed, {**SITS, "mass_height_mm": 680})
    gentle, hard = (sitting(weighed, deceleration_m_per_s2=a, front_share=1)["braking"][0] for a in (2, 7))
    assert gentle["rider_sag_mm"] < gentle["stroke_mm"] < hard["stroke_mm"]
    # The load moved is m a h/w: elementary statics, mass from both axle scales.
    assert hard["load_transfer_n"] == pytest.approx((88 + 112) * 7 * 680 / 1480, rel=1e-5)


def test_more_sag_at_the_rear_takes_squat_resistance_away(weighed):
    """The swingarm lies flatter the further the rear is down: the squat line with it (Cossalter, ch. 6)."""
    keep(weighed, SITS | DRIVES)
    found = sitting(weighed)
    shares = [row["anti_squat"] for row in sorted(found["over_sag"], key=lambda row: row["rear_mm"])]
    assert shares == sorted(shares, reverse=True)
    assert len(set(shares)) > 2
    assert found["missing"] == []


def test_what_is_missing_is_named_and_why_it_matters(weighed):
    found = sitting(weighed)
    assert found["svg"] is None
    assert any("the wheelbase, kept with the bike" in one and "steer" in one for one in found["missing"])
    keep(weighed, SITS)
    missing = sitting(weighed)["missing"]
    assert any("centre of mass" in one and "braking" in one for one in missing)


@pytest.mark.parametrize(
    ("changed", "field", "code"),
    [
        ({"wheelbase_mm": 148}, "chassis.wheelbase_mm", "out_of_band"),
        ({"trail_mm": 100}, "chassis.trail_mm", "given_twice"),
        ({"front_teeth": 13.5}, "chassis.front_teeth", "not_whole"),
        ({"pivot_x_mm": 560}, "chassis.pivot_x_mm", "half_a_point"),
        ({"wheelbase_mm": 950, "pivot_x_mm": 980, "pivot_z_mm": 400}, "chassis.pivot_x_mm", "past_the_front"),
        ({"measured_at": "asleep"}, "chassis.measured_at", "unknown_choice"),
        ({"castor": 1}, "chassis.castor", "unknown_field"),
    ],
)
def test_a_chassis_that_cannot_be_is_refused_by_name(weighed, changed, field, code):
    answer = keep(weighed, {**SITS, **changed})
    assert answer.status_code == 400
    assert {"field": field, "code": code}.items() <= answer.json()["problems"][0].items()
    assert everywhere(Bike, why="this test").get(pk=weighed.card.bike_id).chassis is None


def test_it_can_be_emptied_again(weighed):
    keep(weighed, SITS)
    assert keep(weighed, None).json()["chassis"] is None
