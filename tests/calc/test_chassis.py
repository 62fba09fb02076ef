"""The chassis request: the fork under braking against SciPy's root of the second solver, squat over sag, refusals."""

from math import cos, radians, sin

import pytest
from scipy.optimize import brentq

from calc.chassis import chassis, squat
from calc.refusal import Refusal
from tests.calc.oracle import FrontEnd, G

LEG = {
    "spring": {"kind": "dual", "soft_n_per_mm": 7, "hard_n_per_mm": 9.5, "change_mm": 60},
    "preload_mm": 12,
    "seal_diameter_mm": 43,
    "bore_diameter_mm": 37,
    "air_gap_mm": 120,
    "solids_cm3": 40,
    "pressure_kpa": 0,
}
FRONT = {
    "stroke_mm": 130,
    "rake_deg": 24.5,
    "unsprung_kg": 16,
    "load_static_kg": 100,
    "load_rider_kg": 122,
    "altitude_m": 800,
    "legs": [LEG, {**LEG, "air_gap_mm": 140}],
    "topout": {"rate_n_per_mm": 6, "length_mm": 15},
}
BIKE = {
    "wheelbase_mm": 1430,
    "rake_deg": 24.5,
    "wheel_radius_mm": 300,
    "offset_mm": 30,
    "before": {"front_mm": 38, "rear_mm": 34},
    "after": {"front_mm": 38, "rear_mm": 28},
    "mass_kg": 270,
    "height_mm": 620,
}
SQUAT = {
    "pivot_x_mm": 560,
    "pivot_z_mm": 400,
    "axle_z_mm": 310,
    "front_sprocket_x_mm": 630,
    "front_sprocket_z_mm": 400,
    "front_sprocket_radius_mm": 38,
    "rear_sprocket_radius_mm": 105,
}


def braked(deceleration, share=1.0, front=FRONT):
    return chassis({**BIKE, "front": front, "braking": {"deceleration_m_per_s2": deceleration, "front_share": share}})[
        "braking"
    ]


def stroke_by_root(deceleration, share, n):
    end = FrontEnd(FRONT)
    rake = radians(FRONT["rake_deg"])
    vertical = (FRONT["load_rider_kg"] - FRONT["unsprung_kg"]) * G
    vertical += BIKE["mass_kg"] * deceleration * BIKE["height_mm"] / BIKE["wheelbase_mm"]
    across = (share * BIKE["mass_kg"] - FRONT["unsprung_kg"]) * deceleration
    along = vertical * cos(rake) + across * sin(rake)
    return 1000 * brentq(lambda x: (end.springs(x) + end.air(x, n)) * end.slope - along, 0, end.full, xtol=1e-12)


@pytest.mark.parametrize(("deceleration", "share"), [(0.5, 1.0), (3.0, 0.7), (5.5, 1.0)])
def test_the_stroke_used_is_the_second_solvers_root(deceleration, share):
    answer = braked(deceleration, share)
    assert answer["stroke_mm"] == pytest.approx(stroke_by_root(deceleration, share, 1.0), rel=1e-5)
    assert answer["stroke_hard_mm"] == pytest.approx(stroke_by_root(deceleration, share, 1.4), rel=1e-5)
    assert answer["left_mm"] == pytest.approx(130 - answer["stroke_mm"], abs=1e-3)


def test_without_braking_the_fork_rests_at_its_rider_sag():
    answer = braked(0.0)
    assert answer["load_transfer_n"] == 0
    assert answer["stroke_mm"] == pytest.approx(answer["rider_sag_mm"], abs=1e-4)


def test_a_fork_that_bottoms_under_braking_is_said_so():
    weak = {"kind": "straight", "rate_n_per_mm": 4}
    front = {**FRONT, "legs": [{**LEG, "spring": weak, "air_gap_mm": 220}] * 2}
    request = {**BIKE, "front": front, "braking": {"deceleration_m_per_s2": 9}}
    answer = chassis(request)
    assert answer["braking"]["left_mm"] == 0
    assert "on_the_stop" in {note["code"] for note in answer["notes"]}


def test_without_a_front_end_only_the_force_is_told():
    loads = {"front_load_kg": 122, "front_unsprung_kg": 16}
    told = chassis({**BIKE, "braking": {"deceleration_m_per_s2": 5.5, **loads}})["braking"]
    assert told["fork_force_n"] == braked(5.5)["fork_force_n"]
    assert told["stroke_mm"] is None
    assert chassis(BIKE)["braking"] is None


def test_less_rear_sag_raises_the_anti_squat_and_drops_the_nose():
    answer = chassis({**BIKE, "squat": SQUAT})
    assert answer["attitude"]["pitch_deg"] < 0
    assert answer["squat"]["after"]["anti_squat"] > answer["squat"]["before"]["anti_squat"]
    shares = [each["anti_squat"] for each in answer["squat"]["over_sag"]]
    assert shares == sorted(shares, reverse=True)
    assert [each["rear_mm"] for each in answer["squat"]["over_sag"]] == [14, 24, 34, 44, 54]
    middle = dict(answer["squat"]["over_sag"][2])
    assert middle.pop("rear_mm") == 34
    assert middle == answer["squat"]["before"]


def test_a_level_squat_line_has_no_ratio():
    # Chain parallel to a level swingarm at the axle's height, sprockets alike: the line through them is level.
    level = {**SQUAT, "pivot_z_mm": 310, "front_sprocket_z_mm": 310, "front_sprocket_radius_mm": 60}
    found = squat({**level, "rear_sprocket_radius_mm": 60, "height_mm": 620, "wheelbase_mm": 1430})
    assert found["squat_ratio"] is None
    assert found["anti_squat"] == pytest.approx(0, abs=1e-12)


@pytest.mark.parametrize(
    ("change", "field", "code", "words"),
    [
        ({"wheelbase_mm": 143}, "wheelbase_mm", "out_of_band", "900 to 2200 mm"),
        ({"height_mm": None}, "height_mm", "missing", "height of the centre of mass"),
        ({"mass_kg": 110}, "mass_kg", "mass_below_load", "122 kg, no less than the 110 kg"),
        (
            {"braking": {"deceleration_m_per_s2": 14}},
            "braking.deceleration_m_per_s2",
            "rear_lifts",
            "rear wheel would leave the ground",
        ),
        (
            {"braking": {"deceleration_m_per_s2": 5, "front_load_kg": 122}},
            "braking.front_load_kg",
            "given_twice",
            "its own loads",
        ),
        (
            {"front": None, "braking": {"deceleration_m_per_s2": 5, "front_load_kg": 12, "front_unsprung_kg": 16}},
            "braking.front_load_kg",
            "load_below_unsprung",
            "reads both together",
        ),
        (
            {"front": {**FRONT, "rake_deg": 90}},
            "front.rake_deg",
            "out_of_band",
            "0 to 60",
        ),
        (
            {"squat": {**SQUAT, "front_sprocket_x_mm": 220, "rear_sprocket_radius_mm": 190}},
            "squat.front_sprocket_x_mm",
            "sprockets_overlap",
            "diameters given for radii",
        ),
        (
            {"before": {"front_mm": 300, "rear_mm": 0}, "after": {"front_mm": 0, "rear_mm": 500}, "rake_deg": 45},
            "after",
            "rake_out_of_band",
            "turn the rake to",
        ),
    ],
)
def test_refusals_name_their_field(change, field, code, words):
    request = {**BIKE, "front": FRONT, "braking": {"deceleration_m_per_s2": 5}, "squat": SQUAT, **change}
    with pytest.raises(Refusal) as caught:
        chassis(request)
    found = {problem.field: problem for problem in caught.value.problems}
    assert found[field].code == code
    assert words in found[field].text
