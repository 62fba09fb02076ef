"""Linkages against MuJoCo: its bodies, hinges, Jacobians and weights know nothing of calc's closed form."""

from __future__ import annotations

import numpy as np
import pytest

from calc.linkage import linkage_from
from calc.rear import rear_from
from calc.refusal import Refusal
from tests.published.mechanism import Mechanism
from tests.published.source import LIBRARY, source
from tests.published.test_linkage import (
    AXLE,
    CONTACT_N,
    FAR,
    FOOT,
    NEAR,
    PIVOT,
    ROCKER,
    SWINGARM_CENTRE,
    SWINGARM_KG,
    TOP,
    WHEEL_KG,
    G,
    mm,
)

SPORTS_POINTS = {
    "on": "frame",
    "pivot": PIVOT,
    "axle": AXLE,
    "top": TOP,
    "rocker": ROCKER,
    "near": NEAR,
    "foot": FOOT,
    "far": FAR,
}
NAMES = {"pivot_mm": "pivot", "axle_mm": "axle", "shock_top_mm": "top", "shock_foot_mm": "foot"}
ROCKER_NAMES = {"pivot_mm": "rocker", "rod_near_mm": "near", "rod_far_mm": "far"}


def asked(points):
    request = {"kind": "linkage", **{name: mm(points[key]) for name, key in NAMES.items()}}
    if "rocker" in points:
        request["rocker"] = {"on": points["on"], **{name: mm(points[key]) for name, key in ROCKER_NAMES.items()}}
    return request


def drawn(on, random):
    """Return a linkage with every point moved at random by up to 4 cm."""

    def near(point, by=0.04, off=(0.0, 0.0)):
        return np.asarray(point) + off + random.uniform(-by, by, 2)

    if on == "none":
        return {
            "pivot": PIVOT,
            "axle": near(AXLE),
            "top": near(PIVOT, off=(-0.2, 0.33)),
            "foot": near(PIVOT, off=(-0.3, 0.0)),
        }
    if on == "frame":
        moved = {key: near(SPORTS_POINTS[key]) for key in ("axle", "top", "rocker", "near", "foot", "far")}
        return {**moved, "on": on, "pivot": PIVOT}
    base = PIVOT + np.array([-0.15, -0.03])
    return {
        "on": on,
        "pivot": PIVOT,
        "axle": near(AXLE),
        "top": near(TOP),
        "rocker": near(base),
        "near": near(base, 0.02, off=(0.02, -0.06)),
        "foot": near(base, 0.02, off=(-0.06, 0.01)),
        "far": near(PIVOT, off=(-0.02, -0.1)),
    }


def some(on, count=8):
    """Return `count` linkages that work over 100 mm of wheel travel and are not near a dead centre."""
    random, found = np.random.default_rng(len(on)), []
    while len(found) < count:
        points = drawn(on, random)
        try:
            built = linkage_from(asked(points))
        except Refusal:
            continue
        ratio = built.motion(np.linspace(0, 0.1, 11))[1]
        if built.reach > 0.12 and ratio.min() > 0.2 and ratio.max() < 1.2:
            found.append(points)
    return found


@source("MuJoCo 4; the force itself: Sharp, Evangelou and Limebeer (2004), as in Applied Sciences 10(19) 6826", LIBRARY)
def test_the_sports_machines_shock_force_by_mujoco():
    machine = Mechanism(SPORTS_POINTS, [(SWINGARM_KG, SWINGARM_CENTRE), (WHEEL_KG, AXLE)], gravity=G)
    assert machine.shock_force(CONTACT_N) == pytest.approx(1946.22, abs=0.1)
    assert round(machine.shock, 6) == 0.313521
    bare = Mechanism(SPORTS_POINTS)
    assert 1000 / bare.shock_force(1000.0) == pytest.approx(float(linkage_from(asked(SPORTS_POINTS)).motion(0.0)[1]))


@source("MuJoCo 4", LIBRARY)
@pytest.mark.parametrize("on", ["none", "frame", "swingarm"])
def test_any_linkage_moves_and_carries_as_mujocos(on):
    for points in some(on):
        built, machine = linkage_from(asked(points)), Mechanism(points)
        for travel in (0.0, 0.04, 0.1):
            machine.raise_axle(travel)
            stroke, ratio, _ = built.motion(travel)
            assert built.extended - machine.shock == pytest.approx(float(stroke), abs=1e-9)
            assert 1000 / machine.shock_force(1000.0) == pytest.approx(float(ratio), rel=1e-7)


@source("MuJoCo 4; the wheel rate as the slope of its force", LIBRARY)
def test_the_wheel_rate_keeps_its_second_term_as_mujoco_has_it():
    machine = Mechanism(SPORTS_POINTS)
    extended = machine.shock
    rear = rear_from(
        {
            "wheel_travel_mm": 100,
            "leverage": asked(SPORTS_POINTS),
            "spring": {"kind": "straight", "rate_n_per_mm": 58.57},
            "preload_mm": 20,
        }
    )

    def wheel_force(travel):
        machine.raise_axle(travel)
        spring = 58_570 * (0.020 + extended - machine.shock)
        return spring / machine.shock_force(1.0)

    for travel in (0.01, 0.05, 0.09):
        force, rate = (float(part) for part in rear.force_and_slope(travel))
        assert wheel_force(travel) == pytest.approx(force, rel=1e-8)
        slope = (wheel_force(travel + 1e-4) - wheel_force(travel - 1e-4)) / 2e-4
        assert slope == pytest.approx(rate, rel=1e-5)
