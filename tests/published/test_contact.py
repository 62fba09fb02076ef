"""The quarter car against the closed frequency integral and SciPy's Lyapunov solver."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.linalg import solve_continuous_lyapunov

from calc.contact import ROAD_CLASSES, contact, quarter_car
from tests.published.source import BALANCE, LIBRARY, source

BIKE = {
    "sprung_kg": 160.0,
    "unsprung_kg": 17.0,
    "wheel_rate_n_per_m": 18e3,
    "damping_n_s_per_m": 1200.0,
    "tyre_rate_n_per_m": 150e3,
    "speed_m_per_s": 20.0,
    "roughness_m3": 256e-6,
}


def by_frequency(m_s, m_u, k, c, k_t, speed, roughness):
    """Integrate the textbook transfer functions over frequency: no state space, no Lyapunov equation."""
    velocity_density = (2 * np.pi * 0.1) ** 2 * roughness * speed  # one-sided, (m/s)²/Hz

    def gains(frequency):
        s = 2j * np.pi * frequency
        link = c * s + k
        z_u, z_s = np.linalg.solve(
            np.array([[m_u * s**2 + link + k_t, -link], [-link, m_s * s**2 + link]]), np.array([k_t, 0.0])
        )
        return abs(s**2 * z_s / s) ** 2, abs((z_s - z_u) / s) ** 2, abs(k_t * (z_u - 1) / s) ** 2

    def rms(index):
        parts = [(1e-6, 1), (1, 3), (3, 10), (10, 30), (30, 300), (300, 20_000)]
        area = sum(quad(lambda f: gains(f)[index], low, high, limit=500, epsrel=1e-10)[0] for low, high in parts)
        return np.sqrt(velocity_density * area)

    return rms(0), rms(1), rms(2)


@source("closed form of the quarter car on a road of class C, ISO 8608, derived for this project twice over", BALANCE)
def test_the_ride_row_at_printed_precision():
    # Derived for this project from the closed form and the Lyapunov equation, which agree; road class C of ISO 8608.
    answer = quarter_car(**BIKE)
    assert round(float(answer["acceleration_m_per_s2"]), 4) == 2.1205
    assert round(float(answer["travel_m"]) * 1e3, 3) == 8.633
    assert round(float(answer["tyre_load_n"]), 1) == 509.1


@source("SciPy's quad over the textbook transfer functions", LIBRARY)
@pytest.mark.parametrize("scale", [0.4, 1.0, 2.5])
def test_against_the_frequency_integral(scale):
    bike = BIKE | {"damping_n_s_per_m": 1200.0 * scale}
    answer = quarter_car(**bike)
    expected = by_frequency(
        *(
            bike[name]
            for name in (
                "sprung_kg",
                "unsprung_kg",
                "wheel_rate_n_per_m",
                "damping_n_s_per_m",
                "tyre_rate_n_per_m",
                "speed_m_per_s",
                "roughness_m3",
            )
        )
    )
    found = [float(answer[name]) for name in ("acceleration_m_per_s2", "travel_m", "tyre_load_n")]
    # The acceleration's tail beyond 20 kHz is cut off: it falls as 1/f² and is worth some 1e-4.
    assert found == pytest.approx(expected, rel=1e-3)


@source("SciPy's solve_continuous_lyapunov", LIBRARY)
def test_against_scipys_lyapunov_solver_in_one_call_for_many_bikes():
    rng = np.random.default_rng(8608)
    masses, rates = rng.uniform(60, 200, 40), rng.uniform(8e3, 40e3, 40)
    answer = quarter_car(**(BIKE | {"sprung_kg": masses, "wheel_rate_n_per_m": rates}))
    for index in range(40):
        m_s, k = masses[index], rates[index]
        a = np.array(
            [
                [0, 1, 0, -1],
                [-k / m_s, -1200 / m_s, 0, 1200 / m_s],
                [0, 0, 0, 1],
                [k / 17, 1200 / 17, -150e3 / 17, -1200 / 17],
            ]
        )
        q = np.zeros((4, 4))
        q[2, 2] = (2 * np.pi * 0.1) ** 2 * 256e-6 * 20 / 2
        p = solve_continuous_lyapunov(a, -q)
        assert answer["travel_m"][index] == pytest.approx(np.sqrt(p[0, 0]), rel=1e-9)
        assert answer["tyre_load_n"][index] == pytest.approx(150e3 * np.sqrt(p[2, 2]), rel=1e-9)


@source("white road velocity: every rms goes with the root of speed and of roughness, ISO 8608 with w = 2", BALANCE)
def test_invariant_of_the_unsprung_point():
    double = quarter_car(**(BIKE | {"speed_m_per_s": 40.0}))
    rougher = quarter_car(**(BIKE | {"roughness_m3": ROAD_CLASSES["D"]}))
    assert float(double["tyre_load_n"]) == pytest.approx(509.1 * np.sqrt(2), rel=1e-4)
    assert float(rougher["travel_m"]) == pytest.approx(8.633e-3 * 2, rel=1e-3)


@source("S. S. Rao, Mechanical Vibrations: ζ = c/(2√(km)), from memory", BALANCE)
def test_a_better_match_needs_more_rebound():
    request = {
        "sprung_kg": 90,
        "unsprung_kg": 22,
        "tyre_rate_n_per_mm": 120,
        "speed_km_per_h": 60,
        "road_class": "D",
        "before": {"wheel_rate_n_per_mm": 10, "damping_ratio": 0.4},
        "after": {"wheel_rate_n_per_mm": 12},
    }
    answer = contact(request)
    assert answer["rebound_change_percent"] == pytest.approx(100 * (np.sqrt(1.2) - 1))
    assert answer["after_same_damping"]["travel_mm"] != pytest.approx(answer["after_matched_damping"]["travel_mm"])
    assert 0 < answer["before"]["near_leaving_share"] < 0.5
