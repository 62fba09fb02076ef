"""Rate or preload: the straight springs and preloads that bring both sags into band, and where the bike stands."""

from __future__ import annotations

from typing import Any

from calc.refusal import Note, Refusal
from calc.window import Mark, window
from calc.words import say
from calc.writing import Writing
from setups import sums
from setups.ahead.standing import LEAST_SHOWN_MM, Standing, standing
from setups.figures import redrawn
from setups.models import JobCard

ROWS = 9
"""How many rates the table behind the picture has."""
MARKED = ("received", "chosen")
EMPTY: dict[str, Any] = {"svg": None, "rows": [], "rates_n_per_mm": None, "text": None}


def room(card: JobCard, end: str, writing: Writing) -> dict[str, Any]:
    """Return the room for rate and preload at `end`: its picture, the same as a table, and one sentence."""
    now = standing(card, end)
    if not now.ready:
        return now.lacks(**EMPTY)
    asked = now.asked()
    notes = []
    if now.adjuster_mm is None or now.adjuster_mm[0] == now.adjuster_mm[1]:
        asked["adjuster_mm"] = [0.0, _shown_up_to(now)]
        text = say("No adjuster's range is known: the preload shown is what spacers give.")
        notes.append(Note("no_adjuster", "info", text))
    try:
        found = window(asked, _marks(card, end), writing)
    except Refusal as refusal:
        return now.refused(refusal, **EMPTY)
    rates = found["region"]["rate_n_per_mm"]
    return {
        "svg": redrawn(found["svg"]),
        "rows": _rows(found["region"]),
        "rates_n_per_mm": [rates[0], rates[-1]] if rates else None,
        "text": found["notes"][0]["text"],
        "notes": [*found["notes"][1:], *(note.as_dict() for note in notes)],
        **now.why(),
    }


def _shown_up_to(now: Standing) -> float:
    """Return how far the preload is shown where no adjuster is known: past what is in the bike, to a round figure."""
    held = [one["preload_mm"] for one in sums.springed(now.body, now.end) if one.get("preload_mm") is not None]
    return max([LEAST_SHOWN_MM, *(10.0 * (preload // 10 + 2) for preload in held)])


def _marks(card: JobCard, end: str) -> list[Mark]:
    """Return the straight springs that are in the bike and chosen; others have no one rate to stand at."""
    marks = []
    for stage in MARKED:
        body = sums.body_of(card, stage, end)
        held = sums.springed(body, end) if body else []
        first = held[0] if held else {}
        spring, preload = first.get("spring") or {}, first.get("preload_mm")
        alike = all(one["spring"] == spring and one.get("preload_mm") == preload for one in held)
        if spring.get("kind") == "straight" and preload is not None and alike:
            label = say(sums.STAGE_LABELS[stage])
            marks.append(Mark(label, spring["rate_n_per_mm"], preload, solid=stage == "chosen"))
    return marks


def _rows(region: dict[str, Any]) -> list[dict[str, float]]:
    """Return the region as a short table: evenly spread rates, each with its least and most preload."""
    rates = region["rate_n_per_mm"]
    if not rates:
        return []
    picked = sorted({round(place * (len(rates) - 1) / (ROWS - 1)) for place in range(ROWS)})
    return [
        {
            "rate_n_per_mm": rates[at],
            "least_preload_mm": region["least_preload_mm"][at],
            "most_preload_mm": region["most_preload_mm"][at],
        }
        for at in picked
    ]
