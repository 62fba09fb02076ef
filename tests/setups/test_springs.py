"""The kinds of spring that settings, bikes and lists keep: their words, and each slip in them tied to its field."""

from __future__ import annotations

import pytest

from calc.evaluate import evaluate
from setups.bodies import received_body
from setups.springs import overall_rate, plain, rate_words
from setups.sums import label_of
from tests.factories import StockSpringFactory, front_data
from tests.setups.technician import Bench, at, straight

# Ten turns alike: G d⁴/(8 D³ n), Shigley, Mechanical Engineering Design, ch. 10: 79.5e3·4⁴/(8·28³·10) = 11.589 N/mm.
TURN = {"wire_mm": 4, "mean_diameter_mm": 28, "gap_mm": 40}
WOUND = {"kind": "wound", "shear_modulus_gpa": 79.5, "turns": [TURN] * 10}
TESTED = {"kind": "tested", "deflection_mm": [20, 40, 60], "force_n": [88.6, 177.2, 265.8], "stamped_n_per_mm": 4.6}
TWO = [{"kind": "straight", "rate_n_per_mm": 6}, {"kind": "straight", "rate_n_per_mm": 12}]


@pytest.fixture
def bench(technician_client, shop):
    return Bench(technician_client, shop)


@pytest.mark.parametrize(
    ("spring", "words"),
    [
        (None, "no spring"),
        ({"kind": "straight", "rate_n_per_mm": 4.6}, "4.6 N/mm"),
        ({"kind": "dual", "soft_n_per_mm": 4, "hard_n_per_mm": 6, "change_mm": 40}, "4/6 N/mm dual"),
        (TESTED, "tested 4.43 N/mm"),
        (WOUND, "wound, 11.6 N/mm"),
        # k1 k2/(k1 + k2) = 4 N/mm, side by side k1 + k2 = 18 N/mm: the rule of every handbook.
        ({"kind": "stacked", "springs": TWO}, "stacked, 4 N/mm"),
        ({"kind": "side_by_side", "springs": TWO}, "side by side, 18 N/mm"),
        ({"kind": "wound", "shear_modulus_gpa": None, "turns": [TURN]}, "wound"),
        ({"kind": "straight", "rate_n_per_mm": None}, "straight"),
    ],
)
def test_a_spring_is_said_in_the_trades_words(spring, words):
    assert rate_words(spring) == words


def test_a_wound_spring_of_unlike_gaps_is_said_by_its_first_and_last_rate():
    turns = [{**TURN, "gap_mm": 3}] * 5 + [{**TURN, "gap_mm": 20}] * 5
    assert rate_words({**WOUND, "turns": turns}) == "wound, 11.6 to 23.2 N/mm"  # half of the turns: twice the rate


def test_calc_takes_a_kept_spring_without_its_blanks_and_stamp():
    kept = {"kind": "stacked", "springs": [TESTED, {**TWO[0], "solid_deflection_mm": None}]}
    assert plain(kept)["springs"] == [{k: TESTED[k] for k in ("kind", "deflection_mm", "force_n")}, TWO[0]]


@pytest.mark.parametrize("spring", [WOUND, TESTED, {"kind": "stacked", "springs": [TESTED, TWO[1]]}])
def test_every_kind_is_kept_and_reckoned_with(bench, spring):
    for quantity, value in (("axle_alone_kg", 58), ("axle_rider_kg", 88)):
        bench.readings("front", **{quantity: value})
    body = received_body(front_data(), "front")
    for number in (0, 1):
        body = at(body, f"legs.{number}.spring", spring)
    address = f"{bench.address}settings/received/front/"
    card = bench.client.put(address, body, HTTP_IF_NONE_MATCH="*").json()
    side = bench.received("front")
    assert card["settings"]["received"]["front"]["body"]["legs"][0]["spring"] == spring
    leg = {**front_data()["legs"][0], "spring": plain(spring), "seal_diameter_mm": 48, "bore_diameter_mm": 42}
    asked = {key: front_data()[key] for key in ("stroke_mm", "rake_deg", "unsprung_kg")}
    loads = {"altitude_m": 0, "load_static_kg": 58, "load_rider_kg": 88}
    alone = evaluate({"front": {**asked, **loads, "legs": [leg, leg]}})["front"]
    assert side["result"]["rider_sag_mm"] == alone["rider_sag_mm"]


SLIPS = {
    "a turn with a negative gap": (
        at(WOUND, "turns.2.gap_mm", -3), "turns.2.gap_mm", ["-3 mm", "gap", "100 mm"],
    ),
    "a wire too thick for its coil": (
        at(WOUND, "turns.0.wire_mm", 9), "turns.0.mean_diameter_mm", ["28 mm", "9 mm", "index"],
    ),
    "readings that fall": (
        at(TESTED, "force_n", [88.6, 80, 265.8]), "force_n.1", ["Reading 2", "80 N", "swapped"],
    ),
    "two readings only": (
        {**TESTED, "deflection_mm": [20, 40], "force_n": [88, 176]}, "deflection_mm", ["2 readings", "three"],
    ),
    "a force too few": (at(TESTED, "force_n", [88.6, 177.2]), "force_n", ["3 deflections", "2 forces"]),
    "a progressive spring in a stack": (
        {"kind": "stacked", "springs": [
            {"kind": "progressive", "start_n_per_mm": 5, "end_n_per_mm": 7, "over_mm": 50}, TWO[0]]},
        "springs.0.kind", ["progressive", "tester"],
    ),
    "a stack of one": ({"kind": "stacked", "springs": TWO[:1]}, "springs", ["2 to 4 springs"]),
    "a field nobody knows": ({**TESTED, "guess": 1}, "guess", ["no field", "guess"]),
    "a turn's field nobody knows": (at(WOUND, "turns.1.pitch_mm", 4), "turns.1.pitch_mm", ["no field"]),
}  # fmt: skip


@pytest.mark.parametrize("slip", SLIPS)
def test_a_slip_in_a_spring_is_named_where_it_was_typed(bench, slip):
    spring, field, words = SLIPS[slip]
    before = bench.kept()
    answer = bench.setting("front", "legs.0.spring", spring)
    assert answer.status_code == 400
    problem = next(one for one in answer.json()["problems"] if one["field"] == f"legs.0.spring.{field}")
    assert [word for word in words if word not in problem["text"]] == []
    assert bench.kept() == before


# Through the free length the least squares give Σxy/Σx² (any handbook of statistics): 25 300/5 500 = 4.6 N/mm.
READ = {"kind": "tested", "deflection_mm": [10, 20, 30, 40, 50], "force_n": [46, 91, 139, 184, 230]}
OVERALL = (460 + 1820 + 4170 + 7360 + 11500) / 5500


def test_one_rate_stands_for_all_readings_of_a_tested_spring():
    assert overall_rate({**READ, "stamped_n_per_mm": 4.4}) == pytest.approx(OVERALL, rel=1e-5)
    assert overall_rate({**READ, "force_n": None}) is None
    assert overall_rate({"kind": "straight", "rate_n_per_mm": 4.6}) is None
    assert overall_rate(None) is None


def test_the_shops_tested_spring_and_the_fitted_one_are_told_by_that_rate(bench):
    columns = {key: READ[key] for key in ("deflection_mm", "force_n")}
    line = StockSpringFactory(
        shop=bench.card.shop, end="front", spring=straight(4.4), tested=columns, sort_rate_n_per_mm=4.4
    )
    for quantity, value in (("axle_alone_kg", 58), ("axle_rider_kg", 88)):
        bench.readings("front", **{quantity: value})
    bench.setting("front", "fork_height_mm", 4)
    ranked = bench.client.post(f"{bench.address}choose/", {"end": "front"}).json()["ranked"]
    assert next(row for row in ranked if row["id"] == line.pk)["overall_n_per_mm"] == pytest.approx(OVERALL, rel=1e-5)
    fitted = bench.client.post(f"{bench.address}fit/", {"end": "front", "stock_spring": line.pk, "preload_mm": 8})
    assert fitted.status_code == 200, fitted.content
    sides = bench.client.get(f"{bench.address}sides/").json()
    assert sides["chosen"]["front"]["overall_n_per_mm"] == pytest.approx(OVERALL, rel=1e-5)
    assert sides["received"]["front"]["overall_n_per_mm"] is None


@pytest.mark.parametrize(
    ("left", "right", "words"),
    [
        (straight(4.6), straight(4.6), "4.6 N/mm, 10 mm preload"),
        (straight(4.4), straight(4.8), "4.4 N/mm, 10 mm preload and 4.8 N/mm, 10 mm preload"),
        (straight(9.2), None, "9.2 N/mm, 10 mm preload, one leg"),
        (None, None, "no spring"),
    ],
)
def test_a_forks_springs_are_named_in_a_few_words(left, right, words):
    legs = [{"spring": spring, "preload_mm": 10} for spring in (left, right)]
    assert label_of({"legs": legs}, "front") == words
