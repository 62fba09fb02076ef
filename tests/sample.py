"""The invented bike that the tests and benches of calc work on: a plain off-road machine with one rider.

Every test changes what it is about with `{**FRONT, …}`; what must be changed in place is copied first.
"""

from __future__ import annotations

import copy

LOADS = ("load_static_kg", "load_rider_kg")

LEG = {
    "spring": {"kind": "straight", "rate_n_per_mm": 4.6},
    "preload_mm": 10,
    "seal_diameter_mm": 48,
    "bore_diameter_mm": 42,
    "air_gap_mm": 110,
    "solids_cm3": 70,
    "pressure_kpa": 0,
}
"""One fork leg."""

TABLE = {"kind": "table", "wheel_mm": [0, 60, 120, 180, 240, 300], "shock_mm": [0, 18.5, 38, 59, 82, 107]}
"""The rear's leverage, firming up."""

RATIO = {"kind": "ratio", "wheel_per_shock": 2.8}
"""A straight leverage near to it."""

REAR = {
    "wheel_travel_mm": 300,
    "unsprung_kg": 22,
    "load_static_kg": 57,
    "load_rider_kg": 112,
    "shocks": 1,
    "leverage": TABLE,
    "spring": {"kind": "straight", "rate_n_per_mm": 52},
    "preload_mm": 7,
    "gas_force_n": 250,
}


def fork(leg=LEG, **more):
    """Return the front end with two legs like `leg`, each its own copy, and `more` of its fields."""
    return {
        "stroke_mm": 300,
        "rake_deg": 26.5,
        "unsprung_kg": 16,
        "load_static_kg": 58,
        "load_rider_kg": 88,
        "altitude_m": 600,
        "legs": [copy.deepcopy(leg), copy.deepcopy(leg)],
        **more,
    }


FRONT = fork()


def without(end, *fields):
    """Return an end without some of its fields."""
    return {key: value for key, value in end.items() if key not in fields}
