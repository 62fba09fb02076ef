"""How a bike stands: against the small-angle formulas, exact circles, and what a sketch must keep to."""

from __future__ import annotations

import doctest
import math
import re

import pytest

import calc.stance as module
from calc.chassis import attitude
from calc.stance import pitch_radius_mm, side_view, stance

BIKE = {"wheelbase_mm": 1480, "rake_deg": 26, "wheel_radius_mm": 340, "rear_radius_mm": 330, "offset_mm": 22}
ARM = {**BIKE, "pivot_x_mm": 560, "pivot_z_mm": 420}


def apart(one, other):
    return math.hypot(one[0] - other[0], one[1] - other[1])


@pytest.mark.parametrize("bike", [BIKE, ARM])
def test_where_it_was_measured_it_stands_as_measured(bike):
    found = stance(bike, 0, 0)
    assert found.pitch_deg == pytest.approx(0, abs=1e-12)
    assert found.wheelbase_mm == pytest.approx(1480)
    rake = math.radians(26)
    assert found.trail_mm == pytest.approx((340 * math.sin(rake) - 22) / math.cos(rake))  # Cossalter, ch. 1


@pytest.mark.parametrize(("front", "rear"), [(1, 0), (0, 1), (-2, 3), (2, -1)])
def test_small_changes_follow_the_small_angle_formulas(front, rear):
    found, same = stance(BIKE, front, rear), {"front_mm": 0, "rear_mm": 0}
    told = attitude({**BIKE, "before": same, "after": {"front_mm": front, "rear_mm": rear}})
    assert found.pitch_deg == pytest.approx(told["pitch_deg"], abs=0.002)
    assert found.rake_deg == pytest.approx(told["rake_deg"], abs=0.002)
    assert found.trail_mm == pytest.approx(told["trail_mm"], abs=0.02)


@pytest.mark.parametrize(("front", "rear"), [(0, 0), (60, -30), (-40, 80), (100, 100)])
def test_both_wheels_stand_on_the_ground_and_nothing_rigid_changes(front, rear):
    """Swingarm, frame and the axle's distance from the steering axis keep their lengths in any stance."""
    was, now = stance(ARM, 0, 0), stance(ARM, front, rear)
    assert (now.rear_axle[1], now.front_axle[1]) == (pytest.approx(330), pytest.approx(340))
    assert apart(now.rear_axle, now.pivot) == pytest.approx(math.hypot(560, 420 - 330))
    assert apart(now.head, now.pivot) == pytest.approx(apart(was.head, was.pivot))
    assert apart(now.front_axle, now.axis_foot) == pytest.approx(22)
    assert apart(now.axis_foot, now.head) == pytest.approx(apart(was.axis_foot, was.head) - front)
    lean = math.atan2(now.axis_foot[0] - now.head[0], now.head[1] - now.axis_foot[1])
    assert math.degrees(lean) == pytest.approx(now.rake_deg)


def test_a_swingarm_swings_no_further_than_it_is_long():
    with pytest.raises(ValueError, match="cannot swing"):
        stance({**ARM, "pivot_x_mm": 200, "pivot_z_mm": 420}, 0, 400)


@pytest.mark.parametrize(("teeth", "side"), [(6, 1.0), (12, 1.0)])
def test_a_sprockets_pins_lie_a_pitch_apart_on_their_circle(teeth, side):
    radius = pitch_radius_mm(teeth, 15.875)
    corners = [(radius * math.cos(2 * math.pi * n / teeth), radius * math.sin(2 * math.pi * n / teeth)) for n in (0, 1)]
    assert apart(*corners) == pytest.approx(15.875 * side)


def test_the_side_view_is_to_scale_and_tells_its_stages_by_pattern_and_words():
    stands = [("received", "as received", stance(ARM, 0, 0)), ("chosen", "chosen", stance(ARM, -20, 25))]
    svg = side_view(ARM, stands)
    scale = float(re.search(r'data-scale="([\d.]+)"', svg)[1])
    rings = [
        tuple(map(float, one)) for one in re.findall(r'<circle[^>]* cx="([\d.]+)" cy="([\d.]+)" r="([\d.]+)"', svg)
    ]
    assert [ring[2] for ring in rings] == pytest.approx([330 * scale, 340 * scale] * 2, abs=0.06)
    for (rear, front), (_, _, one) in zip((rings[:2], rings[2:]), stands, strict=True):
        assert front[0] - rear[0] == pytest.approx(one.wheelbase_mm * scale, abs=0.11)
        assert rear[1] + rear[2] == pytest.approx(front[1] + front[2], abs=0.11)
    dashed = re.findall(r'<circle[^>]*stroke-dasharray="13 8"', svg)
    assert len(dashed) == 2
    assert "as received: rake 26.0°" in svg
    assert "where the lines end is not the bike" in svg


def test_the_examples_hold():
    assert doctest.testmod(module).failed == 0
