"""A rear leverage as a bike keeps it: its shape, and what calc takes of it.

Kept beside what calc takes: the readings that a smoothed table stands for, with their tape error.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from calc.checks import Findings
from calc.linkage import POINTS, ROCKER_POINTS
from calc.refusal import Refusal
from calc.smoothing import smooth
from setups import shapes
from setups.shapes import join, shape

READ = "readings"
_READINGS = ("wheel_mm", "shock_mm", "reading_u_mm")
_KEPT: Mapping[str, tuple[str, ...]] = {
    "ratio": ("wheel_per_shock",),
    "table": ("wheel_mm", "shock_mm", READ),
    "linkage": (*POINTS, "rocker", "shock_extended_mm"),
}


def check_shape(findings: Findings, leverage: Any, path: str) -> bool:
    """Note what of a kept leverage is no object or no field that we know; return whether it is sound.

    The readings behind a smoothed table must be ones that can be smoothed.
    """
    if leverage is None:
        return True
    kind = leverage.get("kind") if isinstance(leverage, Mapping) else ""
    fields = ("kind", *_KEPT.get(kind, ())) if isinstance(kind, str) else ("kind",)
    if isinstance(leverage, Mapping) and len(fields) == 1:
        return True  # calc names the kinds
    if not shape(findings, leverage, path, fields):
        return False
    rocker, readings = leverage.get("rocker"), leverage.get(READ)
    sound = rocker is None or shape(findings, rocker, join(path, "rocker"), ("on", *ROCKER_POINTS, "rod_length_mm"))
    if readings is not None and shape(findings, readings, join(path, READ), _READINGS):
        try:
            smooth({key: value for key, value in readings.items() if key in _READINGS and value is not None})
        except Refusal as refusal:
            findings.problems += [replace(each, field=f"{join(path, READ)}.{each.field}") for each in refusal.problems]
    return sound


def plain(kept: Mapping[str, Any]) -> dict[str, Any]:
    """Return a kept leverage as calc takes it: blanks, and the readings behind a table, left out.

    >>> plain({"kind": "ratio", "wheel_per_shock": 2.9, "readings": None})
    {'kind': 'ratio', 'wheel_per_shock': 2.9}
    """
    held: dict[str, Any] = shapes.plain(kept, READ)
    return held
