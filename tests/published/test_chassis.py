"""Attitude, braking and squat against force balances written anew on the free body, and the front-force example."""

from __future__ import annotations

from math import acos, atan2, cos, hypot, pi, radians, sin

import pytest
from hypothesis import given
from hypothesis import strategies as st

from calc.chassis import attitude, braking_fork_force_n, squat, swingarm_after_sag, trail_mm
from tests.published.source import BALANCE, source

GEOMETRY = {
    "pivot_x_mm": 560.0,
    "pivot_z_mm": 400.0,
    "axle_z_mm": 320.0,
    "front_sprocket_x_mm": 630.0,
    "front_sprocket_z_mm": 400.0,
    "front_sprocket_radius_mm": 35.0,
    "rear_sprocket_radius_mm": 100.0,
    "height_mm": 650.0,
    "wheelbase_mm": 1450.0,
}


def transfer_that_leaves_the_spring_alone(g):
    """Balance rear wheel and swingarm about the pivot: which ΔN per unit of drive asks nothing of the spring?"""
    # The upper outer tangent, from the classic belt construction rather than from an angle's difference.
    distance = hypot(g["front_sprocket_x_mm"], g["front_sprocket_z_mm"] - g["axle_z_mm"])
    base = atan2(g["front_sprocket_z_mm"] - g["axle_z_mm"], g["front_sprocket_x_mm"])
    normal = base + acos((g["rear_sprocket_radius_mm"] - g["front_sprocket_radius_mm"]) / distance)
    leaves = (
        g["rear_sprocket_radius_mm"] * cos(normal),
        g["axle_z_mm"] + g["rear_sprocket_radius_mm"] * sin(normal),
    )
    meets = (
        g["front_sprocket_x_mm"] + g["front_sprocket_radius_mm"] * cos(normal),
        g["front_sprocket_z_mm"] + g["front_sprocket_radius_mm"] * sin(normal),
    )
    length = hypot(meets[0] - leaves[0], meets[1] - leaves[1])
    chain = ((meets[0] - leaves[0]) / length, (meets[1] - leaves[1]) / length)
    drive = 1.0
    tension = drive * g["axle_z_mm"] / g["rear_sprocket_radius_mm"]  # the wheel's own balance
    pivot = (g["pivot_x_mm"], g["pivot_z_mm"])

    def moment(at, force):
        return (at[0] - pivot[0]) * force[1] - (at[1] - pivot[1]) * force[0]

    without_transfer = moment((0, 0), (drive, 0)) + moment(leaves, (tension * chain[0], tension * chain[1]))
    return -without_transfer / moment((0, 0), (0, 1))


@source("rear wheel and swingarm as one free body; the ratio: V. Cossalter, Motorcycle Dynamics, from memory", BALANCE)
@given(
    st.floats(450, 650),
    st.floats(340, 480),
    st.floats(-30, 60),
    st.floats(28, 40),
    st.floats(70, 120),
    st.floats(-60, 40),
)
def test_squat_ratio_is_the_free_bodys(pivot_x, pivot_z, ahead, small, large, rise):
    geometry = GEOMETRY | {
        "pivot_x_mm": pivot_x,
        "pivot_z_mm": pivot_z,
        "front_sprocket_x_mm": pivot_x + 60 + ahead,
        "front_sprocket_z_mm": pivot_z,
        "front_sprocket_radius_mm": small,
        "rear_sprocket_radius_mm": large,
    }
    geometry = swingarm_after_sag(geometry, rise)
    neutral = transfer_that_leaves_the_spring_alone(geometry)
    found = squat(geometry)
    assert found["anti_squat"] == pytest.approx(neutral / (650 / 1450), rel=1e-9, abs=1e-12)
    if found["squat_ratio"] is not None:  # else the squat line is level
        assert found["squat_ratio"] * found["anti_squat"] == pytest.approx(1, rel=1e-12)


@source("V. Cossalter, Motorcycle Dynamics, ch. 6: a flatter swingarm squats more, from memory", BALANCE)
def test_more_sag_flattens_the_swingarm_and_raises_the_ratio():
    assert squat(swingarm_after_sag(GEOMETRY, -20))["squat_ratio"] > squat(GEOMETRY)["squat_ratio"]


@source("Sharp, Evangelou and Limebeer (2004), as in Applied Sciences 10(19) 6826")
def test_front_force_of_the_published_sports_machine():
    # Sports-machine parameter set after Sharp, Evangelou and Limebeer (2004), as used in Appl. Sci. 10(19) 6826:
    # (1172.57 N − 18.4 kg·g) cos 24° = 906.30 N with g = 9.81 m/s².
    standing = braking_fork_force_n(
        deceleration_m_per_s2=0,
        mass_kg=240,
        height_mm=600,
        wheelbase_mm=1400,
        front_sprung_load_n=1172.57 - 18.4 * 9.81,
        front_share=1,
        front_unsprung_kg=18.4,
        rake_deg=24,
    )
    assert round(standing, 2) == 906.30


@source("the sprung mass as a free body", BALANCE)
def test_braking_against_the_sums_of_the_free_body():
    # The sprung mass in its own equilibrium: along the fork, the guide's cross force eliminated by resolving.
    a, m, h, w, load, share, m_u, rake = 7.0, 230.0, 640.0, 1430.0, 950.0, 0.85, 16.0, radians(25)
    vertical = load + m * a * h / w
    horizontal = share * m * a - m_u * a
    along = (sin(rake), cos(rake))  # the fork's axis leans back: its top end is pushed back and up
    expected = horizontal * along[0] + vertical * along[1]
    found = braking_fork_force_n(
        deceleration_m_per_s2=a,
        mass_kg=m,
        height_mm=h,
        wheelbase_mm=w,
        front_sprung_load_n=load,
        front_share=share,
        front_unsprung_kg=m_u,
        rake_deg=25,
    )
    assert found == pytest.approx(expected)


@source("drawn with ruler and compass: elementary geometry", BALANCE)
def test_trail_by_construction():
    # Draw it: axle at (0, R); the steering axis passes `offset` behind it, leaning `rake`; cut it with the ground.
    radius, offset, rake = 305.0, 30.0, radians(24.5)
    behind = (
        -offset * cos(rake),
        radius - offset * sin(rake),
    )  # foot of the perpendicular from the axle to the axis
    down = behind[1] / cos(rake)
    ground = behind[0] + down * sin(rake)
    assert trail_mm(rake_deg=24.5, wheel_radius_mm=radius, offset_mm=offset) == pytest.approx(ground)


@source("a bike lowered level stays level: elementary geometry", BALANCE)
def test_equal_vertical_drops_leave_the_pitch_alone():
    before = {"front_mm": 60.0, "rear_mm": 90.0}
    after = {"front_mm": 60.0 + 10 / cos(radians(26)), "rear_mm": 100.0}
    answer = attitude(
        {
            "wheelbase_mm": 1480,
            "rake_deg": 26,
            "wheel_radius_mm": 340,
            "offset_mm": 22,
            "before": before,
            "after": after,
        }
    )
    assert answer["pitch_deg"] == pytest.approx(0, abs=1e-12)
    assert answer["trail_change_mm"] == pytest.approx(0, abs=1e-9)
    assert answer["wheelbase_change_mm"] == pytest.approx(-10 / cos(radians(26)) * sin(26 * pi / 180))
