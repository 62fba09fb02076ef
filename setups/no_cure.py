"""Why preload is no cure for a soft spring: what a softer one, wound up to the same rider sag, does instead."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from calc.choose import soft_wound_up
from calc.refusal import Refusal
from calc.words import say


def softer(end: str, request: Mapping[str, Any], result: Mapping[str, Any]) -> tuple[dict[str, Any], str] | None:
    """Return what calc finds of the softer spring and the sentence that sets it against `result`, forces in N.

    None where no preload brings a softer spring to the same rider sag.
    """
    try:
        soft = soft_wound_up({end: request}, result["rider_sag_mm"])
    except Refusal:
        return None
    text = say(
        "Preload is no cure: the softer spring, wound up to the same rider sag, first moves at {breakaway_n:.0f} "
        "N instead of {breakaway_n2:.0f} N, and has {full_stroke_n:.0f} N instead of {full_stroke_n2:.0f} N left "
        "at full stroke.",
        breakaway_n=soft["breakaway_n"],
        breakaway_n2=result["breakaway_n"],
        full_stroke_n=soft["full_stroke_n"],
        full_stroke_n2=result["full_stroke_n"],
    )
    return soft, text
