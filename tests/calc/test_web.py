"""The calculations over HTTP: what they answer, what they refuse, and that nothing sent makes them fail."""

import copy
import json

import pytest
from django.urls import reverse
from drf_spectacular.generators import SchemaGenerator
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from rest_framework.test import APIClient

from shops.models import Person
from tests import sample
from tests.sample import LEG, fork

FRONT = fork(altitude_m=0, topout={"rate_n_per_mm": 3, "length_mm": 20})
REAR = {
    **sample.REAR,
    "spring": {"kind": "dual", "soft_n_per_mm": 45, "hard_n_per_mm": 60, "change_mm": 40},
}
CURVE = {
    "travel_mm": [0, 150, 300],
    "spring_n": [90, 1500, 3000],
    "air_n": [0, 100, 900],
    "total_n": [90, 1600, 3900],
}
LISTED = [
    {"id": 1, "label": "44", "spring": {"kind": "straight", "rate_n_per_mm": 44}, "displaced_cm3": 60},
    {
        "id": "b",
        "label": "52",
        "spring": {"kind": "progressive", "start_n_per_mm": 40, "end_n_per_mm": 60, "over_mm": 90},
    },
]
WOUND = {
    "kind": "wound",
    "shear_modulus_gpa": 79,
    "turns": [{"wire_mm": 4.6, "mean_diameter_mm": 44, "gap_mm": gap} for gap in (20, 80, 80, 80, 80)],
}
TESTED = {
    "deflection_mm": [10, 20, 30, 40, 50, 60, 70, 80],
    "force_n": [46, 91, 139, 184, 230, 276, 321, 369],
}
STACK = {
    "kind": "stacked",
    "springs": [{"kind": "straight", "rate_n_per_mm": 20, "solid_deflection_mm": 15}, WOUND],
}
BESIDE = {
    "kind": "side_by_side",
    "springs": [
        {"kind": "straight", "rate_n_per_mm": 2},
        {"kind": "progressive", "start_n_per_mm": 2, "end_n_per_mm": 3, "over_mm": 90},
    ],
}
ATTITUDE = {
    "wheelbase_mm": 1480,
    "rake_deg": 26,
    "wheel_radius_mm": 340,
    "offset_mm": 22,
    "before": {"front_mm": 80, "rear_mm": 120},
    "after": {"front_mm": 75, "rear_mm": 100},
}
SQUAT = {
    "pivot_x_mm": 560,
    "pivot_z_mm": 400,
    "axle_z_mm": 320,
    "front_sprocket_x_mm": 630,
    "front_sprocket_z_mm": 400,
    "front_sprocket_radius_mm": 35,
    "rear_sprocket_radius_mm": 100,
}
LINKAGE = {
    "kind": "linkage",
    "pivot_mm": [0, 0],
    "axle_mm": [-549, -63.8],
    "shock_top_mm": [-62, 128],
    "shock_foot_mm": [-104.7, -182.6],
    "rocker": {"on": "frame", "pivot_mm": [-10, -173], "rod_near_mm": [-54.4, -208.6], "rod_far_mm": [-176.8, -86]},
    "shock_extended_mm": 320,
}
SHORT_REAR = {**REAR, "wheel_travel_mm": 140, "spring": {"kind": "straight", "rate_n_per_mm": 80}, "leverage": LINKAGE}
GOOD = {
    "evaluate": [
        {"rear": SHORT_REAR},
        {
            "front": {
                **FRONT,
                "vented_altitude_m": 1500,
                "vented_temperature_c": 10,
                "temperature_c": 35,
                "legs": [{**LEG, "pour": {"cm3": 28, "rise_mm": 20}, "bore_diameter_mm": None}],
            }
        },
        {"front": {**FRONT, "legs": [{**LEG, "spring": STACK}, {**LEG, "spring": BESIDE}]}},
        {"front": {**FRONT, "legs": [{**LEG, "spring": WOUND}, {**LEG, "spring": {"kind": "tested", **TESTED}}]}},
        {"front": FRONT, "rear": REAR},
        {"rear": {**REAR, "leverage": {"kind": "ratio", "wheel_per_shock": 2.8}}},
    ],
    "needed": [{"rear": {**REAR, "spring": None, "target_static_sag_mm": 30, "target_rider_sag_mm": 95}}],
    "choose": [
        {"rear": REAR, "target_static_sag_mm": [25, 35], "target_rider_sag_mm": [90, 100], "springs": LISTED},
    ],
    "coil": [
        {
            "wire_mm": 4.6,
            "mean_diameter_mm": 34,
            "active_turns": 24,
            "total_turns": 26,
            "ends": "closed_ground",
            "material": "a228",
            "free_length_mm": 460,
            "force_n": 900,
        }
    ],
    "gap": [
        {
            "use": "swap",
            "bore_diameter_mm": 42,
            "air_gap_mm": 110,
            "solids_old_cm3": 80,
            "solids_new_cm3": 70,
            "read_with": "spring_out",
        },
        {
            "use": "end_force",
            "pour": {"cm3": 28, "rise_mm": 20},
            "seal_diameter_mm": 48,
            "solids_cm3": 70,
            "stroke_mm": 300,
            "wanted_force_n": 1500,
            "at_stroke_mm": 290,
        },
        {"use": "spacer", "seat_length_mm": 520, "free_length_mm": 460, "preload_mm": 12, "washers_mm": 2},
    ],
    "sag": [
        {
            "end": "rear",
            "wheel_free_mm": 640,
            "alone_from_above_mm": 612,
            "alone_from_below_mm": 606,
            "rider_from_above_mm": 548,
            "rider_from_below_mm": 538,
        }
    ],
    "tester": [
        TESTED,
        {**TESTED, "force_resolution_n": 0.5, "stamped_n_per_mm": 5},
        {"deflection_mm": [10, 20, 30], "force_n": [52, 103, 156]},
    ],
    "wire": [
        {
            "present": {
                "wire_mm": 4.6,
                "mean_diameter_mm": 34,
                "active_turns": 24,
                "total_turns": 26,
                "ends": "closed_ground",
                "material": "a227",
            },
            "new": {"material": "titanium", "strength_mpa": 1300},
            "force_n": 600,
            "keep": "index",
        }
    ],
    "leverage": [
        {"use": "curve", "wheel_travel_mm": 140, "leverage": LINKAGE},
        {"use": "curve", "wheel_travel_mm": 300, "leverage": REAR["leverage"]},
        {"use": "curve", "wheel_travel_mm": 300, "leverage": {"kind": "ratio", "wheel_per_shock": 2.8}},
        {
            "use": "smooth",
            "wheel_mm": [0, 30, 60, 90, 120, 150, 180, 210],
            "shock_mm": [0, 10.4, 19.7, 31.2, 42.1, 53.5, 66.1, 78.2],
            "reading_u_mm": 0.3,
        },
    ],
    "chassis": [
        ATTITUDE,
        {
            **ATTITUDE,
            "mass_kg": 240,
            "height_mm": 650,
            "front": FRONT,
            "braking": {"deceleration_m_per_s2": 6, "front_share": 0.8},
            "squat": SQUAT,
        },
        {
            **ATTITUDE,
            "mass_kg": 240,
            "height_mm": 650,
            "braking": {"deceleration_m_per_s2": 6, "front_load_kg": 118, "front_unsprung_kg": 16},
        },
    ],
    "contact": [
        {
            "sprung_kg": 160,
            "unsprung_kg": 17,
            "tyre_rate_n_per_mm": 150,
            "speed_km_per_h": 72,
            "road_class": "C",
            "before": {"wheel_rate_n_per_mm": 18, "damping_ratio": 0.35},
            "after": {"wheel_rate_n_per_mm": 20},
        },
        {
            "sprung_kg": 160,
            "unsprung_kg": 17,
            "tyre_rate_n_per_mm": 150,
            "speed_km_per_h": 72,
            "road_class": "C",
            "before": {
                "wheel_rate_n_per_mm": 18,
                "decay": {"amplitude_ratio": 4, "cycles": 0.5, "period_s": 0.6},
            },
            "after": {"wheel_rate_n_per_mm": 20},
        },
    ],
    "picture": [
        {
            "end": "front",
            "title": "Fork",
            "description": "",
            "load_static_n": 412,
            "load_rider_n": 706,
            "traces": [{"role": "chosen", "label": "4.6", "curve": CURVE, "static_sag_mm": 31, "rider_sag_mm": 60}],
        }
    ],
}
CASES = [(name, request) for name, requests in GOOD.items() for request in requests]
NASTY = [
    None,
    True,
    False,
    "",
    "46",
    "4,6",
    "NaN",
    [],
    {},
    [[]],
    [1, 2, 3],
    {"kind": "straight"},
    -1,
    0,
    -0.0,
    5e-324,
    1e-300,
    1e308,
    -1e308,
    10**400,
    2**63,
    "x" * 5000,
    "\u202e\u0007<script>",
]
NASTY_STEP = 7
TWO_ENDS = next(i for i, request in enumerate(GOOD["evaluate"]) if len(request) == 2)


@pytest.fixture(autouse=True)
def _quiet(caplog):
    """Keep a thousand refusals out of the captured log."""
    caplog.set_level("CRITICAL", "django.request")


@pytest.fixture
def client():
    """Return an API client that somebody is signed in on; no row of theirs is read."""
    signed_in = APIClient(raise_request_exception=False)
    signed_in.force_authenticate(Person(pk=1, email="ansel@springwell.example", name="Ansel Thorpe"))
    return signed_in


def send(client, name, body, **headers):
    text = body if isinstance(body, str | bytes) else json.dumps(body)
    return client.post(f"/api/calc/{name}/", text, content_type="application/json", **headers)


def refused(answer):
    """Return the problems of a 400, each by its field."""
    assert answer.status_code == 400, answer.content[:300]
    assert answer["Content-Type"].startswith("application/json")
    found = answer.json()["problems"]
    assert found
    for problem in found:
        assert set(problem) == {"field", "code", "text", "value", "unit", "low", "high"}
        assert problem["text"]
    return {problem["field"]: problem for problem in found}


def places(value, path=()):
    """Yield the path of every value in a JSON document."""
    yield path
    if isinstance(value, dict):
        for key, below in value.items():
            yield from places(below, (*path, key))
    elif isinstance(value, list):
        for index, below in enumerate(value):
            yield from places(below, (*path, index))


def with_value(document, path, value):
    """Return a copy of a document with another value at `path`."""
    if not path:
        return value
    changed = copy.deepcopy(document)
    holder = changed
    for step in path[:-1]:
        holder = holder[step]
    holder[path[-1]] = value
    return changed


def resolved(schema, part):
    while "$ref" in part:
        part = schema["components"]["schemas"][part["$ref"].rsplit("/", 1)[1]]
    return part


@pytest.mark.parametrize(("name", "request_"), CASES)
def test_a_good_request_is_answered(client, name, request_):
    answer = send(client, name, request_)
    assert answer.status_code == 200, answer.content[:500]


def test_the_picture_is_svg(client):
    for accept in ("*/*", "application/json", "image/svg+xml"):
        answer = send(client, "picture", GOOD["picture"][0], HTTP_ACCEPT=accept)
        assert answer.status_code == 200
        assert answer["Content-Type"] == "image/svg+xml; charset=utf-8"
        assert answer.content.startswith(b"<svg")


def test_a_refused_picture_is_json_whatever_was_asked_for(client):
    assert refused(send(client, "picture", {}, HTTP_ACCEPT="image/svg+xml"))


@pytest.mark.django_db
@pytest.mark.parametrize("name", list(GOOD))
def test_nobody_signed_in_is_refused(anonymous, name):
    answer = send(anonymous, name, GOOD[name][0])
    assert answer.status_code == 401
    assert answer.json()["problems"][0]["code"] == "sign_in"


@pytest.mark.django_db
def test_a_post_without_its_token_is_refused(technician):
    client = APIClient(enforce_csrf_checks=True)
    client.force_login(technician)
    answer = send(client, "evaluate", GOOD["evaluate"][-2])
    assert answer.status_code == 403
    assert answer.json()["problems"][0]["code"] == "csrf"


@pytest.mark.parametrize("name", list(GOOD))
def test_other_methods_and_media_are_refused_in_the_same_shape(client, name):
    assert client.get(f"/api/calc/{name}/").status_code == 405
    assert client.get(f"/api/calc/{name}/").json()["problems"][0]["code"] == "method_not_allowed"
    answer = client.post(f"/api/calc/{name}/", "a=1", content_type="application/x-www-form-urlencoded")
    assert answer.status_code == 415
    assert answer.json()["problems"][0]["code"] == "unsupported_media_type"


def test_units_are_served(client):
    answer = client.get(reverse("units"))
    assert answer.status_code == 200
    assert answer.json()["quantities"]["rate"]["kgf/mm"] == 9.80665


# What no form sends.


@pytest.mark.parametrize("name", list(GOOD))
@pytest.mark.parametrize(
    ("body", "code"),
    [
        ('{"front": NaN}', "not_finite"),
        ('{"front": -Infinity}', "not_finite"),
        ('{"front": 1e999}', "not_finite"),
        ('{"front": 1, "front": 2}', "given_twice"),
        ("[" * 200_000, "too_deep"),
        ("[" * 33 + "]" * 33, "too_deep"),
        ('{"a":' * 40 + "1" + "}" * 40, "too_deep"),
        (b"\xff\xfe", "not_json"),
        ("{", "not_json"),
        ("{'front': 1}", "not_json"),
        ("9" * 5000, "not_json"),
        ('{"front": "\\u0000"}', "bad_text"),
        ('{"front": "\\ud800"}', "bad_text"),
        ('{"\\udfff": 1}', "bad_text"),
        ('"' + "x" * 262_144 + '"', "too_long"),
    ],
)
def test_broken_bodies_are_refused(client, name, body, code):
    assert refused(send(client, name, body))[""]["code"] == code


def test_ten_megabytes_are_refused(client):
    assert refused(send(client, "evaluate", '{"front": "' + "x" * 10_000_000 + '"}'))[""]["code"] == "too_long"


def test_what_is_just_short_enough_and_shallow_enough_is_read(client):
    problems = refused(send(client, "evaluate", '"' + "x" * 262_100 + '"'))
    assert problems[""]["code"] == "not_an_object"
    assert refused(send(client, "evaluate", "[" * 32 + "]" * 32))[""]["code"] == "not_an_object"


@pytest.mark.parametrize("name", list(GOOD))
@pytest.mark.parametrize("body", ["", "null", "[]", "{}", '"text"', "12", "true"])
def test_bodies_of_no_use_are_refused(client, name, body):
    refused(send(client, name, body))


@pytest.mark.parametrize(("name", "request_"), CASES)
def test_no_value_anywhere_makes_it_fail(client, name, request_):
    """Put nasty values in every place, a few in each so that every one meets many places."""
    for index, path in enumerate(places(request_)):
        for nasty in NASTY[index % NASTY_STEP :: NASTY_STEP]:
            answer = send(client, name, with_value(request_, path, nasty))
            if answer.status_code != 200:
                refused(answer)


# Full-range numbers and any shape of JSON in any place.
ANYTHING = st.recursive(
    st.none() | st.booleans() | st.floats(allow_nan=False, allow_infinity=False) | st.integers() | st.text(max_size=9),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=9), inner, max_size=3),
    max_leaves=6,
)


def tried_with_other_numbers(client, cases, data):
    """Ask one of `cases` with some of its numbers off by a factor."""
    name, request = data.draw(st.sampled_from(cases))
    numbers = [path for path in places(request) if isinstance(value_at(request, path), int | float)]
    for path in data.draw(st.lists(st.sampled_from(numbers), min_size=1, max_size=4)):
        factor = data.draw(st.sampled_from([0.0, 0.1, 0.5, 0.9, 1.1, 2.0, 10.0, -1.0]))
        request = with_value(request, path, value_at(request, path) * factor)
    answer = send(client, name, request)
    assert answer.status_code in (200, 400), request
    assert b"NaN" not in answer.content
    assert b"Infinity" not in answer.content


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_no_combination_makes_it_fail(client, data):
    name, request = data.draw(st.sampled_from(CASES))
    for _ in range(data.draw(st.integers(1, 3))):
        path = data.draw(st.sampled_from(list(places(request))))
        request = with_value(request, path, data.draw(ANYTHING))
        if not isinstance(request, dict):
            break
    answer = send(client, name, request)
    assert answer.status_code in (200, 400)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_no_number_makes_it_fail_or_answer_what_json_cannot_hold(client, data):
    tried_with_other_numbers(client, CASES, data)


def value_at(document, path):
    for step in path:
        document = document[step]
    return document


# Each refusal names its field.


@pytest.mark.parametrize(
    ("name", "path", "value", "field", "code"),
    [
        ("evaluate", ("front", "rake_deg"), "26", "front.rake_deg", "not_a_number"),
        ("evaluate", ("front", "rake_deg"), True, "front.rake_deg", "not_a_number"),
        ("evaluate", ("front", "rake_deg"), None, "front.rake_deg", "null"),
        ("evaluate", ("front", "rake_deg"), 10**400, "front.rake_deg", "not_finite"),
        ("evaluate", ("front", "rake_deg"), 1e299, "front.rake_deg", "out_of_band"),
        ("evaluate", ("front", "rake_deg"), 63.5, "front.rake_deg", "out_of_band"),
        ("evaluate", ("front", "rake"), 26, "front.rake", "unknown_field"),
        ("evaluate", ("front", "legs"), [], "front.legs", "min_length"),
        ("evaluate", ("front", "legs"), [LEG] * 3, "front.legs", "max_length"),
        ("evaluate", ("front", "legs", 1, "preload_mm"), "10", "front.legs.1.preload_mm", "not_a_number"),
        ("evaluate", ("front", "legs", 1, "preload"), 10, "front.legs.1.preload", "unknown_field"),
        (
            "evaluate",
            ("front", "legs", 0, "spring", "rate_n_per_mm"),
            46,
            "front.legs.0.spring.rate_n_per_mm",
            "out_of_band",
        ),
        (
            "evaluate",
            ("front", "legs", 0, "spring", "kind"),
            "rubber",
            "front.legs.0.spring.kind",
            "unknown_choice",
        ),
        (
            "evaluate",
            ("front", "legs", 0, "spring", "kind"),
            ["straight"],
            "front.legs.0.spring.kind",
            "unknown_choice",
        ),
        ("evaluate", ("front", "topout"), 5, "front.topout", None),
        ("evaluate", ("rear", "shocks"), 1.5, "rear.shocks", "not_whole"),
        ("evaluate", ("rear", "spring"), None, "rear.spring", "null"),
        ("evaluate", ("rear", "leverage", "shock_mm"), [0, 1], "rear.leverage.shock_mm", "unpaired"),
        ("evaluate", ("rear", "leverage", "shock_mm", 2), "38", "rear.leverage.shock_mm.2", "not_a_number"),
        ("evaluate", ("rear", "leverage", "kind"), "cam", "rear.leverage.kind", "unknown_choice"),
        ("evaluate", ("rear", "leverage"), {**LINKAGE, "axle_mm": [-549]}, "rear.leverage.axle_mm", "min_length"),
        ("evaluate", ("rear", "leverage"), LINKAGE, "rear.leverage", "past_reach"),
        ("choose", ("springs",), [], "springs", "empty"),
        ("choose", ("springs", 0, "id"), {}, "springs.0.id", "not_a_scalar"),
        ("choose", ("target_rider_sag_mm",), [90], "target_rider_sag_mm", "min_length"),
        ("coil", ("ends",), "open", "ends", "unknown_choice"),
        ("coil", ("material",), 5, "material", "unknown_choice"),
        ("gap", ("use",), "swop", "use", "unknown_choice"),
        ("gap", ("read_with",), "spring_in", "read_with", "spring_in"),
        ("sag", ("end",), "middle", "end", "unknown_choice"),
        ("sag", ("alone_from_above_mm",), 600, "alone_from_above_mm", "pair_swapped"),
        ("tester", ("force_n",), [46, 91], "force_n", "min_length"),
        ("tester", ("force_n", 3), 130, "force_n.3", "does_not_rise"),
        ("tester", ("deflection_mm", 0), -10, "deflection_mm.0", "out_of_band"),
        ("tester", ("stamped",), 4.6, "stamped", "unknown_field"),
        ("leverage", ("use",), "draw", "use", "unknown_choice"),
        ("leverage", ("wheel_travel_mm",), 250, "leverage", "past_reach"),
        ("leverage", ("leverage", "rocker", "on"), "wheel", "leverage.rocker.on", "unknown_choice"),
        ("leverage", ("leverage", "rocker", "rod_length_mm"), 0, "leverage.rocker.rod_length_mm", "out_of_band"),
        ("wire", ("keep",), "turns", "keep", "unknown_choice"),
        ("wire", ("new", "strength_mpa"), None, "new.strength_mpa", "strength_unknown"),
        ("wire", ("present", "wire_mm"), 46, "present.wire_mm", "out_of_band"),
        ("chassis", ("wheelbase_mm",), 148, "wheelbase_mm", "out_of_band"),
        ("chassis", ("after", "rear"), 100, "after.rear", "unknown_field"),
        ("chassis", ("before", "front_mm"), None, "before.front_mm", "null"),
        ("contact", ("road_class",), "H", "road_class", "unknown_choice"),
        ("contact", ("before", "damping_ratio"), 0, "before.damping_ratio", "out_of_band"),
        ("contact", ("tyre_rate_n_per_mm",), 15, "tyre_rate_n_per_mm", "out_of_band"),
        ("picture", ("title",), 5, "title", "not_a_text"),
        ("picture", ("title",), "x" * 201, "title", "max_length"),
        ("picture", ("traces",), [], "traces", "empty"),
        ("picture", ("traces", 0, "role"), "mine", "traces.0.role", "unknown_choice"),
        ("picture", ("traces", 0, "curve", "air_n"), [1, 2], "traces.0.curve.air_n", "unpaired"),
    ],
)
def test_a_refusal_names_its_field(client, name, path, value, field, code):
    problems = refused(send(client, name, with_value(GOOD[name][TWO_ENDS if name == "evaluate" else 0], path, value)))
    if code is None:
        assert any(each == field or each.startswith(field) for each in problems)
    else:
        assert problems[field]["code"] == code


def test_a_missing_field_is_named_with_what_it_wants(client):
    request = copy.deepcopy(GOOD["evaluate"][-2])
    del request["front"]["stroke_mm"]
    problem = refused(send(client, "evaluate", request))["front.stroke_mm"]
    assert problem["code"] == "required"
    assert "20 to 400 mm" in problem["text"]


@pytest.mark.parametrize(
    ("path", "value", "said"),
    [
        (
            ("front", "stroke_mm"),
            "300",
            "The fork's stroke must be a number, but the text “300” was read; give 20 to 400 mm.",
        ),
        (("front", "stroke_mm"), None, "The fork's stroke is empty; give 20 to 400 mm."),
        (("front", "load_static_kg"), False, "but false was read; give more than 0, up to 400 kg."),
        (("rear", "spring"), None, "This is empty; give a value."),
    ],
)
def test_a_refusal_of_the_wrong_kind_is_plain_words(client, path, value, said):
    request = with_value(GOOD["evaluate"][TWO_ENDS], path, value)
    text = refused(send(client, "evaluate", request))[".".join(path)]["text"]
    assert text.endswith(said)
    assert not [word for word in ("JSON", "null") if word in text]


def test_a_near_miss_of_a_name_is_guessed(client):
    problems = refused(send(client, "evaluate", {"raer": REAR}))
    assert "“rear”" in problems["raer"]["text"]


def test_every_problem_is_told_at_once(client):
    request = copy.deepcopy(GOOD["evaluate"][-2])
    request["front"]["rake_deg"] = 70
    request["front"]["legs"][1]["air_gap_mm"] = 9
    request["rear"]["leverage"] = {"kind": "ratio", "wheel_per_shock": 0.4}
    assert {"front.rake_deg", "front.legs.1.air_gap_mm", "rear.leverage.wheel_per_shock"} <= set(
        refused(send(client, "evaluate", request))
    )


def test_minus_zero_is_zero(client):
    request = with_value(GOOD["evaluate"][-2], ("front", "legs", 0, "pressure_kpa"), -0.0)
    assert send(client, "evaluate", request).json() == send(client, "evaluate", GOOD["evaluate"][-2]).json()


# The schema says what the service does.


@pytest.fixture(scope="module")
def schema():
    return json.loads(json.dumps(SchemaGenerator().get_schema(request=None, public=True), default=str))


def described_in(schema, name, answer):
    """Assert that the schema of `name` names every field of its `answer`, and says which may be null."""
    operation = schema["paths"][f"/api/calc/{name}/"]["post"]
    described = resolved(schema, operation["responses"]["200"]["content"]["application/json"]["schema"])

    def check(part, value, path):
        if value is None:
            assert part.get("nullable"), path
            return
        part = resolved(schema, part["allOf"][0] if "allOf" in part else part)
        if isinstance(value, dict) and "properties" in part:
            assert set(value) <= set(part["properties"]), path
            for key, below in value.items():
                check(part["properties"][key], below, f"{path}.{key}")
        elif isinstance(value, list) and value and "items" in part:
            check(part["items"], value[0], f"{path}.0")

    check(described, answer, name)


@pytest.mark.parametrize("name", [name for name in GOOD if name != "picture"])
def test_the_schema_names_every_field_answered(client, schema, name):
    for request in GOOD[name]:
        described_in(schema, name, send(client, name, request).json())


def test_the_schema_documents_refusals_and_bands(schema):
    for name in GOOD:
        assert {"400", "401", "403"} <= set(schema["paths"][f"/api/calc/{name}/"]["post"]["responses"])
    leg = schema["components"]["schemas"]["LegRequest"]["properties"]["air_gap_mm"]
    assert (leg["minimum"], leg["maximum"]) == (10, 400)
    assert leg["description"].endswith("mm.")
    load = schema["components"]["schemas"]["FrontRequest"]["properties"]["load_static_kg"]
    assert load["exclusiveMinimum"] is True


def test_the_picture_request_takes_an_answered_curve(client):
    answer = send(client, "evaluate", GOOD["evaluate"][-2]).json()
    for end in ("front", "rear"):
        figures = answer[end]
        request = {**GOOD["picture"][0], "end": end}
        request["traces"] = [
            {
                "role": "received",
                "label": "As received",
                "curve": figures["curve"],
                "static_sag_mm": figures["static_sag_mm"],
                "rider_sag_mm": figures["rider_sag_mm"],
            }
        ]
        assert send(client, "picture", request).status_code == 200
