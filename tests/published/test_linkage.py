"""A rear linkage against a published sports machine and against the force balance of its free bodies.

The parameter set is the sports machine's after Sharp, Evangelou and Limebeer (2004), as used in Appl. Sci. 10(19)
6826; g = 9.81 m/s² there. The shock's force and nominal length are published; the motion ratio and the wheel rate
are derived from the same set for this project and marked so.
"""

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from numpy.polynomial import Chebyshev
from scipy.optimize import brentq

from calc.evaluate import evaluate_rear
from calc.leverage import leverage_from
from calc.linkage import linkage_from
from calc.rear import rear_from
from calc.refusal import Refusal
from tests.published.source import BALANCE, LIBRARY, source

G = 9.81
PIVOT = np.array([-0.1289, -0.1116])
AXLE = np.array([-0.6779, -0.1754])
TOP = np.array([-0.1909, 0.0164])
ROCKER = np.array([-0.1389, -0.2846])
NEAR = ROCKER + np.array([-0.0444, -0.0356])
FOOT = ROCKER + np.array([-0.0947, -0.0096])
FAR = PIVOT + np.array([-0.1768, -0.0860])
SWINGARM_KG, SWINGARM_CENTRE = 8.0, np.array([-0.4819, -0.1611])
WHEEL_KG, CONTACT_N = 14.7, 1272.19
SPRING = 58_570.0


def mm(point):
    return [float(value) for value in 1000 * np.asarray(point)]


SPORTS = {
    "kind": "linkage",
    "pivot_mm": mm(PIVOT),
    "axle_mm": mm(AXLE),
    "shock_top_mm": mm(TOP),
    "shock_foot_mm": mm(FOOT),
    "rocker": {"on": "frame", "pivot_mm": mm(ROCKER), "rod_near_mm": mm(NEAR), "rod_far_mm": mm(FAR)},
}


def cross(one, other):
    return one[0] * other[1] - one[1] * other[0]


def shock_force(points, loads):
    """Balance swingarm, rocker and rod as free bodies; return what the shock must push with, N.

    `points` are positions; `loads` are (point, downward force) on the swingarm. Unknown are both pins' forces, the
    rod's and the shock's: six equations, none of them of virtual work.
    """
    rod = (points["near"] - points["far"]) / np.linalg.norm(points["near"] - points["far"])
    push = (points["foot"] - points["top"]) / np.linalg.norm(points["foot"] - points["top"])
    on_swingarm = points["on"] == "swingarm"
    pin, centre = points["pivot"], points["rocker"]
    # Columns: swingarm pin x, z; rocker pin x, z (on the rocker); rod's push on the rocker; shock's push on it.
    a, b = np.zeros((6, 6)), np.zeros(6)
    a[0, 0] = a[1, 1] = 1
    a[3, 2] = a[4, 3] = 1
    a[3:5, 4], a[5, 4] = rod, cross(points["near"] - centre, rod)
    a[3:5, 5], a[5, 5] = push, cross(points["foot"] - centre, push)
    if on_swingarm:  # the swingarm carries the rocker's pin and feels it back
        a[0, 2] = a[1, 3] = -1
        a[2, 2], a[2, 3] = -cross(centre - pin, [1, 0]), -cross(centre - pin, [0, 1])
    else:  # the swingarm carries the rod's far eye and feels the rod back
        a[0:2, 4], a[2, 4] = -rod, -cross(points["far"] - pin, rod)
    for at, down in loads:
        b[1] += down
        b[2] += cross(at - pin, [0, down])
    return float(np.linalg.solve(a, b)[5])


@source("Sharp, Evangelou and Limebeer (2004), as in Applied Sciences 10(19) 6826")
def test_the_sports_machines_shock_force_and_length():
    """Published: 1946.22 N at the shock, whose nominal length is .313521 m."""
    loads = [(AXLE, WHEEL_KG * G - CONTACT_N), (SWINGARM_CENTRE, SWINGARM_KG * G)]
    built = linkage_from(SPORTS)
    assert round(built.extended, 6) == 0.313521
    arm = SWINGARM_KG * (SWINGARM_CENTRE - PIVOT)[0] / (AXLE - PIVOT)[0]
    sprung = CONTACT_N - (WHEEL_KG + arm) * G
    assert sprung / float(built.motion(0.0)[1]) == pytest.approx(1946.22, abs=0.1)
    points = {"on": "frame", "pivot": PIVOT, "rocker": ROCKER, "near": NEAR, "far": FAR, "foot": FOOT, "top": TOP}
    assert shock_force(points, loads) == pytest.approx(1946.22, abs=0.1)


@source("derived from the same set for this project, not published", BALANCE)
def test_the_sports_machines_motion_ratio_and_wheel_rate():
    """Derived for this project, not published: ds/dz .55365, wheel rate 19 320 N/m, of which k r² is 17 953."""
    ratio = float(linkage_from(SPORTS).motion(0.0)[1])
    assert ratio == pytest.approx(0.55365, abs=5e-6)
    force = 1946.22
    rear = rear_from(
        {
            "wheel_travel_mm": 60,
            "leverage": SPORTS,
            "spring": {"kind": "straight", "rate_n_per_mm": SPRING / 1000},
            "preload_mm": 1000 * force / SPRING,
        }
    )
    assert float(rear.force_and_slope(0.0)[1]) == pytest.approx(19_320, abs=1)
    assert SPRING * ratio**2 == pytest.approx(17_953, abs=1)


@source("a round trip from the nominal attitude", BALANCE)
def test_full_extension_is_where_the_shock_has_its_extended_length():
    extended = linkage_from({**SPORTS, "shock_extended_mm": 330.0})
    drawn = linkage_from(SPORTS)
    assert float(extended.stroke(0.0)) == pytest.approx(0, abs=1e-12)
    at_nominal = -extended.drop
    assert float(extended.stroke(at_nominal)) == pytest.approx(0.330 - drawn.extended, abs=1e-12)
    assert float(extended.motion(at_nominal)[1]) == pytest.approx(float(drawn.motion(0.0)[1]), rel=1e-12)
    assert extended.reach == pytest.approx(drawn.reach + at_nominal, abs=1e-9)


def turned(point, about, angle):
    c, s = np.cos(angle), np.sin(angle)
    return about + np.array([[c, -s], [s, c]]) @ (point - about)


def moved_to(points, travel):
    """Turn the swingarm; cut the rod eye's two circles by construction, on the side where it was drawn."""
    arm, height = np.linalg.norm(AXLE - PIVOT), (AXLE - PIVOT)[1]
    swing = np.arcsin(height / arm) - np.arcsin((height + travel) / arm)  # the axle lies behind the pivot
    carried = ("axle", "rocker") if points["on"] == "swingarm" else ("axle", "far")
    moved = points | {name: turned(points[name], PIVOT, swing) for name in carried}
    apart = moved["far"] - moved["rocker"]
    lever, rod = (np.linalg.norm(points["near"] - points[name]) for name in ("rocker", "far"))
    distance = np.linalg.norm(apart)
    along = (distance**2 + lever**2 - rod**2) / (2 * distance)
    side = np.sign(cross(points["far"] - points["rocker"], points["near"] - points["rocker"]))
    across = side * np.sqrt(lever**2 - along**2)
    moved["near"] = moved["rocker"] + (along * apart + across * np.array([-apart[1], apart[0]])) / distance
    before, after = points["near"] - points["rocker"], moved["near"] - moved["rocker"]
    swung = np.arctan2(cross(before, after), before @ after)
    moved["foot"] = turned(points["foot"] - points["rocker"] + moved["rocker"], moved["rocker"], swung)
    return moved


PLACE = st.floats(-60, 60)


@source("swingarm, rocker and rod as free bodies", BALANCE)
@settings(deadline=None, max_examples=60)
@given(st.sampled_from(["frame", "swingarm"]), st.lists(PLACE, min_size=10, max_size=10), st.floats(0.05, 0.9))
def test_any_linkage_balances_its_free_bodies(on, moves, part):
    shift = np.array(moves).reshape(5, 2) / 1000
    points = {"on": on, "pivot": PIVOT, "axle": AXLE, "top": TOP + shift[0]}
    if on == "frame":
        points |= {"rocker": ROCKER + shift[1], "near": NEAR + shift[2], "foot": FOOT + shift[3], "far": FAR + shift[4]}
    else:  # the sports machine's rocker hung under the swingarm, its rod tied to the frame behind the pivot
        base = PIVOT + np.array([-0.15, -0.03])
        points |= {"rocker": base + shift[1], "near": base + np.array([0.02, -0.06]) + shift[2] / 2}
        points |= {
            "foot": base + np.array([-0.06, 0.01]) + shift[3] / 2,
            "far": PIVOT + np.array([-0.02, -0.10]) + shift[4],
        }
    names = {"pivot_mm": "pivot", "axle_mm": "axle", "shock_top_mm": "top", "shock_foot_mm": "foot"}
    rocker = {"pivot_mm": "rocker", "rod_near_mm": "near", "rod_far_mm": "far"}
    request = {name: mm(points[key]) for name, key in names.items()}
    request["rocker"] = {"on": on, **{name: mm(points[key]) for name, key in rocker.items()}}
    try:
        built = linkage_from(request)
    except Refusal:
        assume(False)
    travel = part * min(built.reach, 0.2)
    stroke, ratio, _ = built.motion(travel)
    assume(0.05 < ratio < 3)
    moved = moved_to(points, travel)
    assert moved["axle"][1] - AXLE[1] == pytest.approx(travel, abs=1e-12)
    shock = np.linalg.norm(moved["foot"] - moved["top"])
    assert built.extended - shock == pytest.approx(float(stroke), abs=1e-10)
    assert shock_force(moved, [(moved["axle"], -1000.0)]) * ratio == pytest.approx(1000.0, rel=1e-7)


@source("numpy's Chebyshev series, differentiated term by term", LIBRARY)
@pytest.mark.parametrize("extended", [None, 325.0])
@pytest.mark.parametrize("on", ["frame", "swingarm"])
def test_both_derivatives_are_those_of_the_stroke(on, extended):
    """A Chebyshev series, differentiated term by term, knows nothing of the equations."""
    points = dict(SPORTS, shock_extended_mm=extended)
    if on == "swingarm":
        points["rocker"] = {
            "on": "swingarm",
            "pivot_mm": [-278.9, -141.6],
            "rod_near_mm": [-258.9, -201.6],
            "rod_far_mm": [-148.9, -211.6],
        }
        points["shock_foot_mm"] = [-338.9, -131.6]
        points["shock_extended_mm"] = None if extended is None else 215.0
    built = linkage_from(points)
    travel = 0.13
    series = Chebyshev.interpolate(built.stroke, 60, domain=[0, travel])
    at = np.linspace(0.005, 0.125, 31)
    _, ratio, change = built.motion(at)
    assert ratio == pytest.approx(series.deriv(1)(at), abs=1e-9)
    again = Chebyshev.interpolate(lambda z: built.motion(z)[1], 60, domain=[0, travel])
    assert change == pytest.approx(again.deriv(1)(at), abs=1e-9)
    assert built.motion(at.reshape(31, 1))[1].shape == (31, 1)


@source("the law of cosines: elementary geometry", BALANCE)
def test_without_a_rocker_it_is_the_law_of_cosines():
    pivot, top, foot = np.array([0.0, 0.0]), np.array([-0.20, 0.33]), np.array([-0.36, -0.02])
    built = linkage_from(
        {
            "pivot_mm": mm(pivot),
            "axle_mm": [-520, -90],
            "shock_top_mm": mm(top),
            "shock_foot_mm": mm(foot),
        }
    )
    arm = np.hypot(520, 90) / 1000
    for z in (0.0, 0.05, 0.12):
        swing = np.arcsin((-0.09 + z) / arm) - np.arcsin(-0.09 / arm)
        between = np.arccos(top @ foot / np.linalg.norm(top) / np.linalg.norm(foot)) - swing
        a, b = np.linalg.norm(top), np.linalg.norm(foot)
        length = np.sqrt(a**2 + b**2 - 2 * a * b * np.cos(between))
        assert float(built.stroke(z)) == pytest.approx(np.linalg.norm(top - foot) - length, abs=1e-12)


@source("SciPy's brentq on the two lengths in line", LIBRARY)
def test_the_sports_machines_reach_ends_where_rod_and_rocker_lie_in_line():
    stretched = np.linalg.norm(NEAR - ROCKER) + np.linalg.norm(NEAR - FAR)
    arm, height = np.linalg.norm(AXLE - PIVOT), (AXLE - PIVOT)[1]

    def apart(travel):
        swing = np.arcsin(height / arm) - np.arcsin((height + travel) / arm)
        return np.linalg.norm(turned(FAR, PIVOT, swing) - ROCKER) - stretched

    assert linkage_from(SPORTS).reach == pytest.approx(brentq(apart, 0.1, 0.2), abs=1e-6)


@source("a round trip with the rod as drawn", BALANCE)
def test_a_shorter_rod_raises_or_lowers_the_bike_but_keeps_the_shock():
    other = {**SPORTS, "rocker": {**SPORTS["rocker"], "rod_length_mm": 1000 * np.linalg.norm(NEAR - FAR) - 3}}
    built = linkage_from(other)
    assert built.extended == pytest.approx(0.313521, abs=1e-6)
    assert abs(built.drop) > 0.002
    same = {**SPORTS, "rocker": {**SPORTS["rocker"], "rod_length_mm": 1000 * np.linalg.norm(NEAR - FAR)}}
    assert linkage_from(same).drop == pytest.approx(0, abs=1e-9)
    assert linkage_from(same).reach == pytest.approx(linkage_from(SPORTS).reach, abs=1e-9)


REAR = {
    "wheel_travel_mm": 130,
    "unsprung_kg": 20,
    "load_static_kg": 90,
    "load_rider_kg": 150,
    "leverage": {**SPORTS, "shock_extended_mm": 330},
    "spring": {"kind": "straight", "rate_n_per_mm": 80},
    "preload_mm": 10,
}


@source("the same leverage as a dense table", BALANCE)
def test_a_rear_end_on_a_linkage_sags_as_on_a_dense_table_of_it():
    built = leverage_from(REAR["leverage"])
    wheel = np.linspace(0, 0.13, 131)
    table = {"kind": "table", "wheel_mm": mm(wheel), "shock_mm": [0.0, *mm(built.stroke(wheel))[1:]]}
    exact, close = evaluate_rear(REAR), evaluate_rear({**REAR, "leverage": table})
    for name in ("static_sag_mm", "rider_sag_mm", "full_stroke_n", "energy_to_stop_j"):
        assert exact[name] == pytest.approx(close[name], rel=1e-4)
    assert exact["wheel_rate_n_per_mm"] == pytest.approx(close["wheel_rate_n_per_mm"], rel=0.02)
