"""One spring, several loads: the preload for each load case of a card, and whether the adjuster reaches them all."""

from __future__ import annotations

from typing import Any

from calc.cases import cases
from calc.refusal import Note, Refusal
from calc.words import mark, say
from setups import measured
from setups.ahead.standing import standing
from setups.load_cases import load_with
from setups.models import JobCard

SOLO = mark("rider alone")
NEWEST = ("built", "chosen", "received")
EMPTY: dict[str, Any] = {"stage": None, "cases": [], "reaches_all": None, "text": None}
ASSUMED = mark("The share of the rear axle is as typed: where a load really lies, only the scales tell.")


def each_load(card: JobCard, end: str) -> dict[str, Any]:
    """Return the preload that gives the rider sag aimed at, for the rider alone and for each of the card's cases.

    The springs are those of the newest setting: built, else chosen, else received.
    """
    now = standing(card, end, NEWEST)
    loads = measured.loads_of(card, "built" if now.stage == "built" else "received", end)
    if not now.ready or loads is None:
        return now.lacks(**EMPTY)
    listed = [{"label": say(SOLO), "load_kg": loads.rider_kg}]
    listed += [{"label": one["label"], "load_kg": load_with(loads, end, one)} for one in card.cases]
    asked = {key: value for key, value in now.asked().items() if key != "target_static_sag_mm"}
    try:
        found = cases({**asked, "cases": listed})
    except Refusal as refusal:
        return now.refused(refusal, **EMPTY)
    notes = [*found["notes"], Note("share_as_typed", "info", say(ASSUMED)).as_dict()] if card.cases else found["notes"]
    rows = [{key: value for key, value in row.items() if key != "load_kg"} for row in found["cases"]]
    return {
        "stage": now.stage,
        "cases": rows,
        "reaches_all": found["reaches_all"],
        "text": found["text"],
        "notes": notes,
        **now.why(),
    }
