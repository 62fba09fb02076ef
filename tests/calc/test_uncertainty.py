"""Uncertainty: against linear propagation written out here, and a plain Monte Carlo with SciPy's roots.

The linear propagation is JCGM 100:2008, equation 10, with central differences of the tests' own second solver
(the package `uncertainties` is not installed). The Monte Carlo is JCGM 101:2008 done one sample at a time.
"""

import copy
import json

import numpy as np
import pytest
from rest_framework.test import APIClient

from calc.origins import FIELDS, QUANTITIES, draws, inputs_of
from calc.refusal import Refusal
from calc.uncertainty import uncertainty
from calc.varied import varied
from shops.models import Person
from tests import sample
from tests.calc.oracle import FrontEnd, G, RearEnd, settle
from tests.sample import fork

LEG = {**sample.LEG, "air_gap_mm": 130}
FRONT = fork(LEG)
REAR = {**sample.REAR, "leverage": sample.RATIO, "spring": {"kind": "straight", "rate_n_per_mm": 62}}
SMALL = {
    "load_static_kg": 0.2,
    "load_rider_kg": 0.2,
    "unsprung_kg": 0.1,
    "rake_deg": 0.2,
    "spring": 0.5,
    "preload_mm": 0.3,
    "seal_diameter_mm": 0.05,
    "bore_diameter_mm": 0.05,
    "air_gap_mm": 0.5,
    "solids_cm3": 0.5,
    "pressure_kpa": 0.2,
    "leverage": 0.4,
    "gas_force_n": 3,
    "friction_static_mm": 0.1,
    "friction_rider_mm": 0.1,
}
"""Standard uncertainties so small that first order is enough."""


def wrong_by(name, end, errors):
    """Return the end with its stated numbers changed by `errors`, one by one, and its friction shifts, mm."""
    end = copy.deepcopy(end)
    for field, error in errors.items():
        if field == "spring":
            for holder in end["legs"] if name == "front" else [end]:
                if holder["spring"]:
                    holder["spring"]["rate_n_per_mm"] *= 1 + error / 100
        elif field == "leverage":
            end["leverage"]["wheel_per_shock"] *= 1 + error / 100
        elif field.startswith("friction"):
            continue
        elif field in end:
            end[field] += error
        else:
            for leg in end["legs"]:
                leg[field] += error
    return end


def sags(name, end, errors):
    """Return both sags, mm, by the second solver, of the end with its numbers off by `errors`."""
    off = wrong_by(name, end, errors)
    solver = FrontEnd(off) if name == "front" else RearEnd(off)
    found = []
    for state in ("static", "rider"):
        load = (off[f"load_{state}_kg"] - off["unsprung_kg"]) * G
        rest = settle(lambda x: solver.springs(x) + solver.air(x, 1.0), load, solver.full)
        friction = errors.get(f"friction_{state}_mm", 0) if 0 < rest < solver.full else 0
        found.append(min(max(rest * 1000 + friction, 0), solver.full * 1000))
    return np.array(found)


ENDS = [("front", FRONT), ("front", {**FRONT, "legs": [LEG, {**LEG, "spring": None}]}), ("rear", REAR)]


@pytest.mark.parametrize(
    ("name", "end"),
    [*ENDS, ("front", {**FRONT, "legs": [copy.deepcopy({**LEG, "pressure_kpa": 60}) for _ in range(2)]})],
)
def test_every_error_moves_the_sags_as_a_changed_number_does(name, end):
    fields = [each.field for each in inputs_of(end, name, {})]
    random = np.random.default_rng(3)
    errors = {field: random.uniform(-2, 2, 6) for field in fields}
    static, rider = varied(end, name, errors).sags()
    for index in range(6):
        plain = sags(name, end, {field: values[index] for field, values in errors.items()})
        assert [static[index] * 1000, rider[index] * 1000] == pytest.approx(plain, abs=1e-5)


def test_a_leverage_tables_errors_scale_its_shock_stroke():
    table = {"kind": "table", "wheel_mm": [0, 100, 200, 300], "shock_mm": [0, 32, 67, 106]}
    rear = {**REAR, "leverage": table}
    off = varied(rear, "rear", {"leverage": np.array([-3.0, 5.0])}).sags()
    for index, error in enumerate((-3.0, 5.0)):
        scaled = {**table, "shock_mm": [each / (1 + error / 100) for each in table["shock_mm"]]}
        assert [each[index] * 1000 for each in off] == pytest.approx(
            sags("rear", {**rear, "leverage": scaled}, {}), abs=1e-5
        )


@pytest.mark.parametrize(("name", "end"), ENDS)
def test_small_uncertainties_propagate_as_the_linear_law_says(name, end):
    own = {field: {"from": "measured", "u": SMALL[field]} for field in FIELDS[name] if field != "pressure_kpa"}
    found = uncertainty({name: end, "sources": own})
    parts = {}
    for field in own:
        up, down = (sags(name, end, {field: sign * SMALL[field]}) for sign in (1, -1))
        parts[field] = ((up - down) / 2) ** 2
    whole = sum(parts.values())
    for index, key in enumerate(("static_sag_mm", "rider_sag_mm")):
        assert found[key]["value"] == pytest.approx(sags(name, end, {})[index], abs=1e-3)
        # 2000 samples: a standard deviation is good to about 1/sqrt(2·2000) = 1.6 %, here three of them
        assert found[key]["u"] == pytest.approx(whole[index] ** 0.5, rel=0.05)
        assert found[key]["high"] - found[key]["low"] == pytest.approx(2 * 1.96 * whole[index] ** 0.5, rel=0.08)
        for row in found["inputs"]:
            assert row["share"][key] == pytest.approx(parts[row["field"]][index] / whole[index], abs=2e-3)


@pytest.mark.parametrize(("name", "end"), ENDS)
def test_the_interval_is_that_of_a_monte_carlo_done_one_by_one(name, end):
    """Another seed, the usual uncertainties, normal where measured and rectangular else (JCGM 101, 6.4)."""
    origins = {"load_static_kg": "measured", "load_rider_kg": "measured", "spring": "stamped"}
    found = uncertainty({name: end, "sources": {field: {"from": origin} for field, origin in origins.items()}})
    random = np.random.default_rng(41)
    sample = []
    for _ in range(1500):
        errors = {}
        for field in FIELDS[name]:
            if field == "pressure_kpa":
                continue
            origin = origins.get(field, "assumed")
            u = QUANTITIES[field].by(origin)
            errors[field] = random.normal(0, u) if origin == "measured" else random.uniform(-1, 1) * u * 3**0.5
        sample.append(sags(name, end, errors))
    low, high = np.percentile(sample, [2.5, 97.5], axis=0)
    spread = np.std(sample, axis=0)
    for index, key in enumerate(("static_sag_mm", "rider_sag_mm")):
        assert found[key]["u"] == pytest.approx(spread[index], rel=0.08)
        assert found[key]["low"] == pytest.approx(low[index], abs=0.25 * spread[index])
        assert found[key]["high"] == pytest.approx(high[index], abs=0.25 * spread[index])


def test_the_needed_spring_meets_both_targets_in_every_sample():
    errors = draws(inputs_of(FRONT, "front", {}), 8, 5)
    off = varied(FRONT, "front", errors)
    rate, preload = off.needed(0.035, 0.065)
    for index in range(8):
        one = {field: values[index] for field, values in errors.items()}
        wanted = copy.deepcopy(FRONT)
        for leg in wanted["legs"]:
            leg["spring"] = {"kind": "straight", "rate_n_per_mm": rate[index] / 1000}
            leg["preload_mm"] = preload[index] * 1000
        exact = {**one, "spring": 0, "preload_mm": 0, "friction_static_mm": 0, "friction_rider_mm": 0}
        assert sags("front", wanted, exact) == pytest.approx([35, 65], abs=1e-5)


def listed(*rates):
    return [
        {"id": rate, "label": f"{rate} N/mm", "spring": {"kind": "straight", "rate_n_per_mm": rate}} for rate in rates
    ]


KNOWN = {field: {"from": "measured"} for field in FIELDS["rear"]}
BANDS = {"target_static_sag_mm": [20, 28], "target_rider_sag_mm": [90, 104]}


def test_probabilities_are_shares_of_samples_that_land_in_band():
    found = uncertainty({"rear": REAR, "sources": KNOWN, "springs": listed(54, 59, 66), **BANDS})
    random = np.random.default_rng(8)
    for row in found["springs"]:
        end = {**REAR, "spring": {"kind": "straight", "rate_n_per_mm": row["id"]}, "preload_mm": row["preload_mm"]}
        hits = 0
        for _ in range(1200):
            both = sags("rear", end, {field: random.normal(0, QUANTITIES[field].by("measured")) for field in KNOWN})
            hits += 20 <= both[0] <= 28 and 90 <= both[1] <= 104
        assert row["probability"] == pytest.approx(hits / 1200, abs=0.06)
    chances = [row["probability"] for row in found["springs"]]
    assert chances == sorted(chances, reverse=True)


@pytest.mark.parametrize("field", ["load_static_kg", "leverage"])
def test_the_one_assumed_figure_is_the_reading_worth_taking(field):
    guessed = {**KNOWN, field: {"from": "assumed"}}
    for request in ({}, {"springs": listed(56, 59, 66), **BANDS}):
        found = uncertainty({"rear": REAR, "sources": guessed, **request})
        if field == "load_static_kg" and not request:
            continue  # it does not touch the rider sag
        assert found["next_reading"]["field"] == field
        assert found["next_reading"]["text"].startswith(QUANTITIES[field].reading.format(end="rear"))


def test_taking_the_reading_does_what_was_said_of_it():
    """Had the reading confirmed the value, the best spring's chance or its lead grows by what was promised."""
    guessed = {**KNOWN, "load_rider_kg": {"from": "assumed"}}
    before = uncertainty({"rear": REAR, "sources": guessed, "springs": listed(58, 64), **BANDS})
    after = uncertainty({"rear": REAR, "sources": KNOWN, "springs": listed(58, 64), **BANDS})
    assert before["next_reading"]["field"] == "load_rider_kg"
    assert before["springs"][0]["id"] == after["springs"][0]["id"]
    rise = after["springs"][0]["probability"] - before["springs"][0]["probability"]
    lead = rise - (after["springs"][1]["probability"] - before["springs"][1]["probability"])
    assert before["next_reading"]["worth"] == pytest.approx(max(rise, lead), abs=0.05)


def test_a_reading_that_would_part_two_close_springs_is_said_to_settle_them():
    guessed = {**KNOWN, "load_static_kg": {"from": "assumed"}}
    request = {"rear": REAR, "springs": listed(54, 55), **BANDS}
    before, after = (uncertainty({**request, "sources": sources}) for sources in (guessed, KNOWN))
    assert "cannot separate" in before["undecided"]
    assert after["undecided"] is None
    best, other = (row["label"] for row in after["springs"])
    assert before["next_reading"]["text"] == (
        f"Weigh the rear axle, the bike alone: it would settle {best} against {other}."
    )


def test_the_reading_may_turn_the_two_best_round():
    guessed = {**KNOWN, "load_static_kg": {"from": "assumed"}}
    request = {"rear": REAR, "springs": listed(56, 62), **BANDS}
    before, after = (uncertainty({**request, "sources": sources}) for sources in (guessed, KNOWN))
    assert before["springs"][0]["id"] != after["springs"][0]["id"]
    assert before["next_reading"]["field"] == "load_static_kg"
    best, other = (row["label"] for row in after["springs"])
    assert f"settle {best} against {other}" in before["next_reading"]["text"]


def test_all_measured_leaves_no_reading_to_take():
    assert uncertainty({"rear": REAR, "sources": KNOWN})["next_reading"] is None


def test_two_springs_alike_cannot_be_separated_and_two_unlike_can():
    alike = uncertainty({"rear": REAR, "sources": KNOWN, "springs": listed(58, 58.4), **BANDS})
    assert "cannot separate" in alike["undecided"]
    assert "58 N/mm" in alike["undecided"]
    unlike = uncertainty({"rear": REAR, "sources": KNOWN, "springs": listed(58, 90), **BANDS})
    assert unlike["undecided"] is None


def test_a_list_without_hope_has_a_note_and_no_reading():
    found = uncertainty({"rear": REAR, "sources": KNOWN, "springs": listed(200, 220), **BANDS})
    assert [row["probability"] for row in found["springs"]] == [0, 0]
    assert (found["next_reading"], found["undecided"]) == (None, None)
    assert "none_suits" in [note["code"] for note in found["notes"]]


def test_a_long_list_is_judged_by_fewer_samples_and_says_so():
    short, long = listed(58, 64), listed(*(round(50 + 0.04 * index, 2) for index in range(399)), 64)
    few = uncertainty({"rear": REAR, "sources": KNOWN, "springs": long, **BANDS})
    many = uncertainty({"rear": REAR, "sources": KNOWN, "springs": short, **BANDS})
    note = next(note for note in few["notes"] if note["code"] == "fewer_samples")
    assert note["value"] == 1000
    assert "fewer_samples" not in [each["code"] for each in many["notes"]]
    chance = [next(row["probability"] for row in found["springs"] if row["id"] == 64) for found in (few, many)]
    assert chance[0] == pytest.approx(chance[1], abs=0.06)
    with pytest.raises(Refusal):
        uncertainty({"rear": REAR, "springs": listed(*range(50, 451)), **BANDS})


def test_a_sag_on_the_stop_is_said_so():
    found = uncertainty({"rear": {**REAR, "spring": {"kind": "straight", "rate_n_per_mm": 6}}, "sources": KNOWN})
    assert "at_an_end" in [note["code"] for note in found["notes"]]
    assert all(row["share"]["rider_sag_mm"] is None for row in found["inputs"])


@pytest.mark.parametrize(
    ("request_", "field"),
    [
        ({"front": FRONT, "rear": REAR}, ""),
        ({}, ""),
        ({"rear": REAR, "sources": {"rake_deg": {"from": "measured"}}}, "sources.rake_deg"),
        ({"rear": REAR, "sources": {"spring": {"from": "guessed"}}}, "sources.spring.from"),
        ({"rear": REAR, "sources": {"spring": {"from": "stamped", "u": -1}}}, "sources.spring.u"),
        ({"rear": REAR, "target_static_sag_mm": [20, 30]}, "target_static_sag_mm"),
        ({"rear": REAR, "springs": listed(60)}, "springs"),
        ({"rear": REAR, "springs": listed(600), **BANDS}, "springs.0.spring.rate_n_per_mm"),
        ({"rear": {**REAR, "load_rider_kg": 30}}, "rear.load_rider_kg"),
    ],
)
def test_what_cannot_be_is_refused_with_its_field(request_, field):
    with pytest.raises(Refusal) as refused:
        uncertainty(request_)
    assert field in [problem.field for problem in refused.value.problems]


@pytest.fixture
def client():
    signed_in = APIClient()
    signed_in.force_authenticate(Person(pk=1, email="ansel@springwell.example", name="Ansel Thorpe"))
    return signed_in


def test_it_answers_over_http_as_the_function_does(client):
    request = {"rear": REAR, "sources": {"spring": {"from": "stamped", "u": 2}}, "springs": listed(58, 64), **BANDS}
    answer = client.post("/api/calc/uncertainty/", json.dumps(request), content_type="application/json")
    assert answer.status_code == 200, answer.content
    assert answer.json() == uncertainty(request)


def test_unknown_names_are_refused_over_http(client):
    request = {"rear": REAR, "sources": {"spring": {"from": "stamped", "v": 2}}}
    answer = client.post("/api/calc/uncertainty/", json.dumps(request), content_type="application/json")
    assert answer.status_code == 400
    assert answer.json()["problems"][0]["field"] == "sources.spring.v"
