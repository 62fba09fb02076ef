"""Frequency, fall and wheel rate of a rear end against handbooks and worked examples."""

from __future__ import annotations

import pytest
from scipy.integrate import solve_ivp

from calc.evaluate import evaluate_rear, figures
from calc.rear import rear_from
from tests.published.source import LIBRARY, source


def lever(rate, travel, *, ratio=1.0, preload=0.0):
    """Return an end with one straight spring (N/mm) on a constant leverage."""
    return rear_from(
        {
            "wheel_travel_mm": travel,
            "preload_mm": preload,
            "leverage": {"kind": "ratio", "wheel_per_shock": ratio},
            "spring": {"kind": "straight", "rate_n_per_mm": rate},
        }
    )


@source("Harris' Shock and Vibration Handbook, static deflection: f = 15.76/√δ Hz, δ in mm, from memory")
@pytest.mark.parametrize("sag_mm", [30, 60, 100])
def test_a_frequency_is_that_of_its_static_deflection(sag_mm):
    found = figures(lever(10.0, 300.0), 5.0 * sag_mm, 10.0 * sag_mm)
    assert float(found.rider_sag) * 1000 == pytest.approx(sag_mm)
    assert float(found.frequency) == pytest.approx(15.76 / sag_mm**0.5, rel=3e-4)


@source("B. K. Sarkar, Strength of Materials, problem 8.5: 150 N that fall 5 cm stretch 2073.6 N/m by 18.39 cm")
def test_the_fall_that_just_reaches_the_stop():
    found = figures(lever(2.0736, 183.9), 100.0, 150.0)
    assert float(found.fall) * 1000 == pytest.approx(50.0, abs=0.3)  # a fall of 5 cm, by rounded steps there


@source("elementary physics: a load let go on a spring sinks to twice its sag; SciPy's solve_ivp", LIBRARY)
def test_the_fall_is_that_of_an_integrated_drop():
    """Let a mass fall so far as is said, and it stops just at the end of the travel."""
    end = lever(52.0, 150.0, ratio=2.5, preload=10.0)
    mass = 60.0
    load = mass * 9.80665
    fall = float(figures(end, 0.5 * load, load).fall)
    speed = (2 * 9.80665 * fall) ** 0.5

    def stops(_, state):
        return state[1]

    stops.terminal, stops.direction = True, -1
    run = solve_ivp(
        lambda _, state: [state[1], 9.80665 - float(end.force_and_slope(state[0])[0]) / mass],
        (0, 1),
        [0.0, speed],
        events=stops,
        rtol=1e-10,
        atol=1e-12,
    )
    assert run.y_events[0][0][0] == pytest.approx(0.150, abs=1e-7)


@source("V. Cossalter, Motorcycle Dynamics: reduced stiffness k·τ² of a constant ratio, from memory")
def test_the_reduced_stiffness_of_a_constant_ratio():
    rear = {
        "wheel_travel_mm": 120,
        "unsprung_kg": 15,
        "load_static_kg": 60,
        "load_rider_kg": 100,
        "preload_mm": 5,
        "leverage": {"kind": "ratio", "wheel_per_shock": 2.0},
        "spring": {"kind": "straight", "rate_n_per_mm": 100},
    }
    assert evaluate_rear(rear)["wheel_rate_n_per_mm"] == 100 / 2**2
