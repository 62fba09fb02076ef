"""The checks of bikes and settings, attacked: whatever stands in whichever place, they refuse by name
or accept.
"""

from __future__ import annotations

from copy import deepcopy

import pytest

from calc.evaluate import evaluate
from calc.refusal import Refusal
from setups import bodies
from tests.factories import front_data, rear_data

ODD = [
    None,
    True,
    "x",
    "",
    [],
    {},
    [1],
    {"a": 1},
    -1,
    0,
    1e308,
    10**400,
    float("nan"),
    float("inf"),
    [[]],
    "\x00",
]


def full_front():
    body = bodies.received_body(front_data(), "front")
    clicker = {
        "adjuster": "rebound",
        "leg": "left",
        "position": 12,
        "unit": "clicks",
        "counted_from": "fully_in",
    }
    return {**body, "clickers": [clicker], "fork_height_mm": 5, "oil_grade": "5 W", "oil_cm3_per_leg": 600}


def full_rear():
    return {**bodies.received_body(rear_data(), "rear"), "ride_height_mm": 2, "tyre_pressure_kpa": 220}


def places(holder, path=()):
    """Yield the path of every value in a nested holder."""
    items = holder.items() if isinstance(holder, dict) else enumerate(holder)
    for key, value in items:
        yield (*path, key)
        if isinstance(value, dict | list):
            yield from places(value, (*path, key))


def put(holder, path, value):
    changed = deepcopy(holder)
    inner = changed
    for key in path[:-1]:
        inner = inner[key]
    inner[path[-1]] = value
    return changed


def cases(make):
    return [(path, value) for path in places(make()) for value in ODD]


def refused(check, *args):
    try:
        check(*args)
    except Refusal as refusal:
        return refusal
    return None


def refusal_or_none(check, *args):
    refusal = refused(check, *args)
    if refusal is None:
        return None
    assert refusal.problems
    for problem in refusal.problems:
        assert problem.text
        assert isinstance(problem.field, str)
        assert "@" not in problem.field
    return refusal


@pytest.mark.parametrize(
    ("make", "end", "fixed"), [(full_front, "front", front_data()), (full_rear, "rear", rear_data())]
)
@pytest.mark.parametrize("stage", ["received", "built"])
def test_no_setting_makes_the_checks_fail_otherwise_than_by_refusing(make, end, fixed, stage):
    bodies.check_setting(make(), end, stage, fixed)
    refused = 0
    for path, value in cases(make):
        refused += (
            refusal_or_none(bodies.check_setting, put(make(), path, value), end, stage, fixed) is not None
        )
    assert refused > 100


@pytest.mark.parametrize(("make", "end"), [(front_data, "front"), (rear_data, "rear")])
def test_no_bike_makes_the_checks_fail_otherwise_than_by_refusing(make, end):
    bodies.check_end(make(), end, end)
    for path, value in cases(make):
        refusal = refusal_or_none(bodies.check_end, put(make(), path, value), end, end)
        if refusal is not None:
            assert all(problem.field.startswith(end) for problem in refusal.problems)


@pytest.mark.parametrize(
    ("make", "end", "fixed"), [(full_front, "front", front_data()), (full_rear, "rear", rear_data())]
)
def test_what_the_checks_accept_calc_can_compute_or_refuses(make, end, fixed):
    loads = {"load_static_kg": 60.0, "load_rider_kg": 110.0}
    for path, value in cases(make):
        body = put(make(), path, value)
        if refusal_or_none(bodies.check_setting, body, end, "received", fixed) is None:
            refusal_or_none(evaluate, {end: {**bodies.as_request(fixed, body, end), **loads}})


def test_a_blank_is_accepted_wherever_a_value_may_follow_later():
    for key in ("preload_mm", "gas_force_n", "spring", "tyre_pressure_kpa", "ride_height_mm"):
        bodies.check_setting({**full_rear(), key: None}, "rear", "received", rear_data())
    for key in ("spring", "preload_mm", "air_gap_mm", "solids_cm3", "pressure_kpa"):
        body = put(full_front(), ("legs", 0, key), None)
        bodies.check_setting(body, "front", "received", front_data())


def test_a_setting_is_checked_without_any_bike_data():
    bodies.check_setting(full_rear(), "rear", "built", None)
    bodies.check_setting(full_front(), "front", "built", None)


def test_problems_are_all_told_at_once():
    body = put(put(full_front(), ("legs", 0, "preload_mm"), 900), ("legs", 1, "air_gap_mm"), 1)
    with pytest.raises(Refusal) as caught:
        bodies.check_setting(body, "front", "received", front_data())
    assert {"legs.0.preload_mm", "legs.1.air_gap_mm"} <= {problem.field for problem in caught.value.problems}
