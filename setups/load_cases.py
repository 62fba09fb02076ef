"""The load cases of a card: what rides along beside the rider, and how much of it the rear axle carries."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from calc.bands import Band
from calc.checks import Findings
from calc.words import mark, say
from setups.measured import Loads

MOST = 8
LONGEST_LABEL = 60
MASS = Band(mark("the mass that is added"), "kg", 0, 250, open_low=True)
REAR_SHARE = Band(mark("the rear axle's share of it; above 1 where it lies behind that axle"), "", 0, 1.5)


def check_cases(cases: Sequence[Mapping[str, Any]]) -> None:
    """Refuse load cases without a name of their own, or with a mass or share that cannot be."""
    findings, seen = Findings(), set()
    for place, case in enumerate(cases):
        label = case["label"].strip()
        if not label:
            findings.add(f"cases.{place}.label", "missing", say("Name what rides along, like “pillion”."))
        elif label.lower() in seen:
            text = say("There is another load case named {label!r}.", label=label)
            findings.add(f"cases.{place}.label", "named_twice", text, label)
        seen.add(label.lower())
        findings.value(case["mass_kg"], f"cases.{place}.mass_kg", MASS)
        findings.value(case["rear_share"], f"cases.{place}.rear_share", REAR_SHARE)
    findings.raise_any()


def load_with(loads: Loads, end: str, case: Mapping[str, Any]) -> float:
    """Return the axle load of `end` in kg with the rider and what `case` adds."""
    share = case["rear_share"] if end == "rear" else 1 - case["rear_share"]
    return round(loads.rider_kg + share * case["mass_kg"], 3)
