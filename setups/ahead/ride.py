"""Grip and ride before and after: one end as a quarter car on a random road of ISO 8608."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any

from calc.contact import contact
from calc.refusal import Refusal
from calc.words import say
from setups.ahead.standing import standing
from setups.models import JobCard

ASSUMED: Mapping[str, Any] = MappingProxyType(
    {"road_class": "C", "speed_km_per_h": 60.0, "tyre_rate_n_per_mm": 180.0, "damping_ratio": 0.3}
)
"""What is taken where nobody says: an average road, a usual tyre and damper (common practice, no source)."""
STATES = ("before", "after_same_damping", "after_matched_damping")
EMPTY: dict[str, Any] = {"stage": None, **dict.fromkeys(STATES), "assumed": []}


def grip(card: JobCard, end: str, given: Mapping[str, Any]) -> dict[str, Any]:
    """Return the ride at `end` as received and with the newest other setting, with `given` over what is assumed.

    `given` may hold road_class, speed_km_per_h, tyre_rate_n_per_mm and damping_ratio.
    """
    before, after = standing(card, end), standing(card, end, ("built", "chosen"))
    known = {key: value for key, value in given.items() if value is not None and key in ASSUMED}
    used = {**ASSUMED, **known}
    assumed = [key for key in ASSUMED if key not in known]
    if before.result is None or after.result is None:
        lacking = before if before.result is None else after
        return lacking.lacks(**EMPTY)
    if after.stage == "received":
        return {**EMPTY, "notes": [], "problems": [], "missing": [say("a chosen or built setting to compare with")]}
    request = before.request
    asked = {
        **{key: used[key] for key in ("road_class", "speed_km_per_h", "tyre_rate_n_per_mm")},
        "sprung_kg": request["load_rider_kg"] - request["unsprung_kg"],
        "unsprung_kg": request["unsprung_kg"],
        "before": {
            "wheel_rate_n_per_mm": before.result["wheel_rate_n_per_mm"],
            "damping_ratio": used["damping_ratio"],
        },
        "after": {"wheel_rate_n_per_mm": after.result["wheel_rate_n_per_mm"]},
    }
    try:
        found = contact(asked)
    except Refusal as refusal:
        return before.refused(refusal, **EMPTY)
    return {
        "stage": after.stage,
        **{state: found[state] for state in STATES},
        "assumed": assumed,
        "notes": found["notes"],
        "problems": [],
        "missing": [],
    }
