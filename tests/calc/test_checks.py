"""Every bad input is refused at its own field, with a sentence that names value, unit and accepted band."""

import copy
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from calc.bands import BANDS
from calc.checks import check_axle, check_bike, check_person
from calc.refusal import Refusal
from tests.sample import LEG, RATIO, REAR, fork

BIKE = {
    "front": fork(altitude_m=0, topout={"rate_n_per_mm": 30, "length_mm": 15}),
    "rear": {**REAR, "leverage": RATIO, "bump": {"rate_n_per_mm": 80, "length_mm": 12}},
}
DUAL = {"kind": "dual", "soft_n_per_mm": 4, "hard_n_per_mm": 6, "change_mm": 60}
PROGRESSIVE = {"kind": "progressive", "start_n_per_mm": 4, "end_n_per_mm": 6, "over_mm": 60}
TABLE = {"kind": "table", "wheel_mm": [0, 100, 200, 300], "shock_mm": [0, 30, 64, 102]}


def put(path, value, bike=BIKE):
    bike = copy.deepcopy(bike)
    *way, last = path.split(".")
    holder = bike
    for step in way:
        holder = holder[int(step)] if isinstance(holder, list) else holder[step]
    holder[int(last) if isinstance(holder, list) else last] = value
    return bike


def refused(bike):
    with pytest.raises(Refusal) as refusal:
        check_bike(bike)
    return {problem.field: problem for problem in refusal.value.problems}


def test_the_sound_bike_passes():
    check_bike(BIKE)
    check_bike(put("rear.leverage", TABLE))
    for spring in (DUAL, PROGRESSIVE, None):
        check_bike(put("front.legs.1.spring", spring))


# field, band, and the limits as the workshop states them (common practice, no source)
SCALARS = [
    ("front.stroke_mm", 20, 400, "mm"),
    ("front.rake_deg", 0, 60, "°"),
    ("front.unsprung_kg", 0, 80, "kg"),
    ("front.load_static_kg", 0, 400, "kg"),
    ("front.load_rider_kg", 0, 400, "kg"),
    ("front.altitude_m", -500, 6000, "m"),
    ("front.legs.1.preload_mm", -30, 150, "mm"),
    ("front.legs.1.seal_diameter_mm", 15, 80, "mm"),
    ("front.legs.1.bore_diameter_mm", 10, 80, "mm"),
    ("front.legs.1.air_gap_mm", 10, 400, "mm"),
    ("front.legs.1.solids_cm3", 0, 1000, "cm³"),
    ("front.legs.1.pressure_kpa", 0, 2000, "kPa"),
    ("front.legs.1.spring.rate_n_per_mm", 2, 25, "N/mm"),
    ("rear.wheel_travel_mm", 20, 500, "mm"),
    ("rear.unsprung_kg", 0, 80, "kg"),
    ("rear.load_static_kg", 0, 400, "kg"),
    ("rear.load_rider_kg", 0, 400, "kg"),
    ("rear.shocks", 1, 2, None),
    ("rear.preload_mm", -30, 150, "mm"),
    ("rear.gas_force_n", 0, 5000, "N"),
    ("rear.spring.rate_n_per_mm", 5, 500, "N/mm"),
    ("rear.leverage.wheel_per_shock", 0.9, 6, "mm/mm"),
    ("rear.bump.rate_n_per_mm", 0, 2000, "N/mm"),
    ("rear.bump.length_mm", 0, 400, "mm"),
    ("front.topout.rate_n_per_mm", 0, 2000, "N/mm"),
    ("front.topout.length_mm", 0, 400, "mm"),
]


@pytest.mark.parametrize(("path", "low", "high", "unit"), SCALARS, ids=[row[0] for row in SCALARS])
@pytest.mark.parametrize("side", ["below", "above"])
def test_a_scalar_outside_its_band_names_value_unit_and_band(path, low, high, unit, side):
    value = low - 0.5 if side == "below" else high + 1
    problem = refused(put(path, value))[path]
    assert (problem.code, problem.value, problem.unit) == ("out_of_band", value, unit)
    assert (problem.low, problem.high) == (low, high)
    text = f"{value:g}{unit}" if unit == "°" else f"{value:g} {unit or ''}".rstrip()
    assert problem.text.startswith(text)
    assert f"{high:g}" in problem.text
    assert f"{low:g}" in problem.text


@pytest.mark.parametrize("path", ["front.load_static_kg", "rear.load_rider_kg"])
def test_a_load_of_nothing_is_refused(path):
    assert refused(put(path, 0))[path].code == "out_of_band"


@pytest.mark.parametrize(
    ("path", "value", "said"),
    [
        (
            "front.load_static_kg",
            500,
            "500 kg for the front axle load of the bike alone is more than the 400 kg accepted",
        ),
        (
            "rear.load_rider_kg",
            0,
            "0 kg for the rear axle load with the rider is too little; give more than 0, up to 400 kg: was it left",
        ),
        ("rear.wheel_travel_mm", 501, "501 mm for the rear wheel's travel is outside 20 to 500 mm"),
    ],
)
def test_an_open_band_and_a_closed_one_both_read_as_a_sentence(path, value, said):
    assert refused(put(path, value))[path].text.startswith(said)


KINDS = [
    ("front.legs.0.spring", {**DUAL, "soft_n_per_mm": 0.4}, "soft_n_per_mm"),
    ("front.legs.0.spring", {**DUAL, "hard_n_per_mm": 26}, "hard_n_per_mm"),
    ("front.legs.0.spring", {**DUAL, "change_mm": 0}, "change_mm"),
    ("front.legs.0.spring", {**PROGRESSIVE, "start_n_per_mm": 0.4}, "start_n_per_mm"),
    ("front.legs.0.spring", {**PROGRESSIVE, "end_n_per_mm": 25.5}, "end_n_per_mm"),
    ("front.legs.0.spring", {**PROGRESSIVE, "over_mm": 601}, "over_mm"),
    ("front.legs.0.spring", {**LEG["spring"], "solid_deflection_mm": 0}, "solid_deflection_mm"),
    ("rear.spring", {**DUAL, "soft_n_per_mm": 1.9, "hard_n_per_mm": 60}, "soft_n_per_mm"),
    ("rear.spring", {**DUAL, "hard_n_per_mm": 501}, "hard_n_per_mm"),
    ("rear.spring", {**PROGRESSIVE, "end_n_per_mm": 4.9}, "end_n_per_mm"),
]


@pytest.mark.parametrize(("path", "spring", "field"), KINDS)
def test_each_kind_of_spring_has_its_bands(path, spring, field):
    problems = refused(put(path, spring))
    assert list(problems) == [f"{path}.{field}"]
    assert problems[f"{path}.{field}"].code == "out_of_band"


SOFT_IS_ENOUGH = {**DUAL, "soft_n_per_mm": 0.5, "hard_n_per_mm": 2}


def test_a_leg_springs_soft_rate_may_be_lower_than_a_straight_ones():
    check_bike(put("front.legs.0.spring", SOFT_IS_ENOUGH))


@pytest.mark.parametrize(
    ("path", "value", "likely"),
    [
        ("front.legs.0.spring.rate_n_per_mm", 46, "did you mean 4.6"),
        ("front.legs.0.spring.rate_n_per_mm", 0.46, "kgf/mm (0.46 kgf/mm is 4.511 N/mm)"),
        ("front.legs.0.spring.rate_n_per_mm", 26, "lbf/in (26 lbf/in is 4.553 N/mm)"),
        ("rear.spring.rate_n_per_mm", 600, "lbf/in (600 lbf/in is 105.1 N/mm)"),
        ("rear.leverage.wheel_per_shock", 0.43, "is it inverted (2.326 mm of wheel travel per mm of shock stroke)"),
        ("front.rake_deg", 63.5, "measured from the ground (26.5"),
        ("front.stroke_mm", 11.8, "inches (11.8 in is 299.7 mm)"),
        ("front.altitude_m", 7000, "feet (7000 ft is 2134 m)"),
        ("front.legs.0.pressure_kpa", 40000, "pascal (40000 Pa is 40 kPa)"),
        ("front.load_rider_kg", 420, "pounds (420 lb is 190.5 kg)"),
    ],
)
def test_a_likely_cause_is_offered(path, value, likely):
    assert likely in refused(put(path, value))[path].text


@pytest.mark.parametrize("value", [None, "4.6", True, math.nan, math.inf, [4.6], 10**400])
def test_what_is_no_number_is_refused_at_its_field(value):
    path = "front.legs.0.air_gap_mm"
    assert refused(put(path, value))[path].code in ("missing", "not_a_number")


def test_all_problems_are_found_together():
    bike = put("front.stroke_mm", 4000, put("rear.gas_force_n", -1, put("front.legs.1.air_gap_mm", 5)))
    assert set(refused(bike)) == {"front.stroke_mm", "rear.gas_force_n", "front.legs.1.air_gap_mm"}


COUPLINGS = [
    ("front.legs.0.solids_cm3", 153, "front.legs.0.air_gap_mm", "no_end_volume", "152.4 cm³"),
    ("front.load_static_kg", 16, "front.load_static_kg", "load_below_unsprung", "16 kg"),
    ("rear.load_static_kg", 20, "rear.load_static_kg", "load_below_unsprung", "22 kg"),
    ("front.load_rider_kg", 58, "front.load_rider_kg", "rider_load_below_static", "swapped"),
    ("rear.load_rider_kg", 50, "rear.load_rider_kg", "rider_load_below_static", "57 kg"),
    (
        "front.legs.0.spring",
        {**DUAL, "hard_n_per_mm": 3.9},
        "front.legs.0.spring.hard_n_per_mm",
        "falling_rate",
        "swapped",
    ),
    (
        "rear.spring",
        {**PROGRESSIVE, "start_n_per_mm": 60, "end_n_per_mm": 50},
        "rear.spring.end_n_per_mm",
        "falling_rate",
        "60 N/mm",
    ),
    (
        "front.legs.1.spring",
        {**LEG["spring"], "solid_deflection_mm": 297.5},
        "front.legs.1.spring.solid_deflection_mm",
        "coil_bind",
        "12.5 mm before",
    ),
    (
        "rear.leverage",
        {**TABLE, "shock_mm": [1, 30, 64, 102]},
        "rear.leverage.shock_mm.0",
        "table_start",
        "1 mm",
    ),
    (
        "rear.leverage",
        {**TABLE, "wheel_mm": [5, 100, 200, 300]},
        "rear.leverage.wheel_mm.0",
        "table_start",
        "5 mm",
    ),
    (
        "rear.leverage",
        {**TABLE, "shock_mm": [0, 30, 30, 102]},
        "rear.leverage.shock_mm.2",
        "table_falls",
        "30 mm follows 30 mm, but the table must rise from line to line: was one read twice, or are two swapped?",
    ),
    (
        "rear.leverage",
        {**TABLE, "wheel_mm": [0, 200, 100, 300]},
        "rear.leverage.wheel_mm.2",
        "table_falls",
        "100",
    ),
    (
        "rear.leverage",
        {**TABLE, "wheel_mm": [0, 100, 200, 299]},
        "rear.leverage.wheel_mm",
        "table_too_short",
        "299",
    ),
    ("rear.leverage", {**TABLE, "shock_mm": [0, 30, 64]}, "rear.leverage.shock_mm", "unpaired", "3 shock"),
    ("rear.leverage", {**TABLE, "wheel_mm": [0]}, "rear.leverage.wheel_mm", "table_size", "2 to 200"),
    (
        "rear.leverage",
        {"kind": "table", "wheel_mm": TABLE["shock_mm"], "shock_mm": TABLE["wheel_mm"]},
        "rear.leverage.shock_mm",
        "out_of_band",
        "inverted (2.941",
    ),
    ("rear.leverage", {"kind": "guess"}, "rear.leverage.kind", "unknown_kind", "ratio, table or linkage"),
    (
        "rear.spring",
        {"kind": "rubber"},
        "rear.spring.kind",
        "unknown_kind",
        "straight, dual, progressive, wound",
    ),
    ("rear.spring", None, "rear.spring", "no_spring", "no spring"),
    ("rear.shocks", 1.5, "rear.shocks", "not_whole", "1 or 2"),
    ("front.legs", [], "front.legs", "legs", "one or two"),
    ("front.legs", [LEG] * 3, "front.legs", "legs", "one or two"),
    ("front.legs", [{**LEG, "spring": None}] * 2, "front.legs", "no_spring", "nor pressure"),
    ("front.topout.length_mm", 301, "front.topout.length_mm", "longer_than_stroke", "300 mm"),
    ("rear.bump.length_mm", 108, "rear.bump.length_mm", "longer_than_stroke", "107.1 mm"),
]


@pytest.mark.parametrize(("path", "value", "field", "code", "said"), COUPLINGS)
def test_a_coupling_is_refused_at_its_field(path, value, field, code, said):
    problems = refused(put(path, value))
    assert list(problems) == [field]
    assert problems[field].code == code
    assert said in problems[field].text


def test_rear_coil_bind_counts_the_shocks_stroke():
    spring = {**BIKE["rear"]["spring"], "solid_deflection_mm": 108}
    bike = put("rear.spring", spring, put("rear.leverage", TABLE))
    problem = refused(bike)["rear.spring.solid_deflection_mm"]
    assert "1 mm before the end" in problem.text
    assert problem.low == pytest.approx(102 + 7)
    check_bike(put("rear.spring", {**spring, "solid_deflection_mm": 109}, put("rear.leverage", TABLE)))


def test_air_alone_may_carry_a_fork():
    legs = [{**LEG, "spring": None, "pressure_kpa": 700}, {**LEG, "spring": None}]
    check_bike(put("front.legs", legs))


def test_an_empty_request_is_refused():
    assert refused({})[""].code == "missing"


@settings(deadline=None)
@given(mass=st.floats(-1000, 1000))
def test_a_person_and_an_axle(mass):
    for check, high in ((check_person, 250), (lambda kg: check_axle(kg, "rear"), 400)):
        if 0 < mass <= high:
            check(mass)
        else:
            with pytest.raises(Refusal, match="kg"):
                check(mass)


def test_every_band_has_a_unit_a_name_and_room():
    for key, band in BANDS.items():
        assert band.low < band.high, key
        assert band.what, key
        assert band.unit or key == "rear.shocks"


TURN = {"wire_mm": 5, "mean_diameter_mm": 35, "gap_mm": 10}
WOUND = {"kind": "wound", "shear_modulus_gpa": 80, "turns": [TURN] * 32}


@pytest.mark.parametrize(
    ("change", "field", "said"),
    [
        ({"shear_modulus_gpa": 80000}, "shear_modulus_gpa", "MPa (80000 MPa is 80 GPa)"),
        ({"turns": []}, "turns", "1 to 60 turns"),
        ({"turns": [TURN] * 61}, "turns", "1 to 60 turns"),
        ({"turns": [TURN, 3]}, "turns.1", "wire_mm"),
        ({"turns": [{**TURN, "gap_mm": 0}]}, "turns.0.gap_mm", "0 mm"),
        ({"turns": [TURN, {**TURN, "wire_mm": 9}]}, "turns.1.mean_diameter_mm", "index of 3.89"),
        ({"turns": [TURN]}, "turns", "145.8 N/mm"),
        ({"turns": [TURN] * 30}, "solid_deflection_mm", "10 mm before the end"),
        ({"solid_deflection_mm": 305}, "solid_deflection_mm", "5 mm before the end"),
    ],
)
def test_a_winding_is_refused_at_its_field(change, field, said):
    problems = refused(put("front.legs.0.spring", {**WOUND, **change}))
    assert list(problems) == [f"front.legs.0.spring.{field}"]
    assert said in problems[f"front.legs.0.spring.{field}"].text
    check_bike(put("front.legs.0.spring", WOUND))
