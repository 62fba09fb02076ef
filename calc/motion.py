"""A leverage laid out over the wheel travel: shock stroke, motion ratio and leverage ratio, and how far it reaches.

Source: [1] the closed leverages of `calc.leverage` and `calc.linkage`.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from calc.bands import BANDS
from calc.checks import Findings, check_leverage
from calc.evaluate import CURVE_POINTS, rounded
from calc.leverage import leverage_from
from calc.linkage import Linkage
from calc.refusal import Note
from calc.words import say

LEAST_RATIO = 1e-9
"""A motion ratio below this has no inverse worth naming."""
STRAIGHT = 0.01


def motion(request: Mapping[str, Any]) -> dict[str, Any]:
    """Lay a leverage out over the wheel travel.

    `request`: `wheel_travel_mm` and `leverage` (ratio, table or linkage) as in `evaluate`. Returns `curve`
    (`travel_mm`, `shock_mm`, `leverage_ratio` = dz/ds, null where the shock stands still, and `motion_ratio` =
    ds/dz, 41 points), `shock_stroke_mm` over all travel, `reach_mm`, up to which the leverage is known (the
    table's end; where the linkage can go no further; None for a ratio), and of a linkage
    `shock_extended_mm`, else None; `notes`. Six significant figures. Raises `Refusal` with every problem found.

    Source: [1].

    >>> answer = motion({"wheel_travel_mm": 100, "leverage": {"kind": "ratio", "wheel_per_shock": 2.5}})
    >>> answer["shock_stroke_mm"], answer["curve"]["leverage_ratio"][0], answer["reach_mm"]
    (40.0, 2.5, None)
    """
    findings = Findings()
    travel = findings.number(request, "wheel_travel_mm", "", BANDS["rear.wheel_travel_mm"])
    check_leverage(findings, request.get("leverage"), "leverage", travel)
    findings.raise_any()
    given = request["leverage"]
    leverage = leverage_from(given)
    each = np.linspace(0.0, request["wheel_travel_mm"] / 1000, CURVE_POINTS)
    stroke, ratio, _ = leverage.motion(each)
    linkage = leverage if isinstance(leverage, Linkage) else None
    reach = given["wheel_mm"][-1] if given["kind"] == "table" else linkage and 1000 * linkage.reach
    return {
        "curve": {
            "travel_mm": [rounded(1000 * value) for value in each],
            "shock_mm": [rounded(1000 * value) for value in stroke],
            "leverage_ratio": [rounded(1 / value) if value > LEAST_RATIO else None for value in ratio],
            "motion_ratio": [rounded(value) for value in ratio],
        },
        "shock_stroke_mm": rounded(1000 * stroke[-1]),
        "reach_mm": reach and rounded(reach),
        "shock_extended_mm": linkage and rounded(1000 * linkage.extended),
        "notes": [note.as_dict() for note in _notes(float(ratio[0]), float(ratio[-1]), given["kind"])],
    }


def _notes(first: float, last: float, kind: str) -> list[Note]:
    """Say which way the leverage goes, and what its kind leaves out."""
    notes = []
    if min(first, last) > LEAST_RATIO:
        how = "rises" if first < last * (1 - STRAIGHT) else "falls" if last < first * (1 - STRAIGHT) else "stays"
        words = {
            "rises": say("the rear firms up over its travel"),
            "falls": say("the rear softens over its travel"),
            "stays": say("the leverage is straight"),
        }
        text = say(
            "The leverage ratio goes from {first:.3g} to {last:.3g}: {words}.",
            first=1 / first, last=1 / last, words=words[how],
        )
        notes.append(Note(f"motion_{how}", "info", text))
    if kind == "linkage":
        text = say("The linkage is taken as rigid and without play; wear in its bearings adds free travel.")
        notes.append(Note("rigid", "info", text))
    if kind == "table":
        text = say("A table's slope wavers with its readings' errors: smooth noisy ones first.")
        notes.append(Note("noisy_table", "info", text))
    return notes
