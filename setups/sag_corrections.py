"""A card's accepted corrections of its computed sags, and what they do to a result. Nothing here asks or saves."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from calc.refusal import Note
from calc.words import capital, number, say
from setups.models import JobCard

SAGS = ("static", "rider")


def correction_of(card: JobCard, end: str) -> Mapping[str, Any] | None:
    """Return what was accepted for `end`: `static_mm` and `rider_mm` to add, and the `cards` behind them; or None."""
    found: Mapping[str, Any] | None = (card.corrections or {}).get(end)
    return found


def words(correction: Mapping[str, Any]) -> str:
    """Return a correction in words, for notes and the record: "corrected by +3.1 mm, 7 cards"."""
    parts = [
        say("{signed} mm ({sag} sag)", signed=_signed(correction[f"{sag}_mm"]), sag=say(sag)) for sag in reversed(SAGS)
    ]
    return say("corrected by {names}, {cards} cards", names=say(" and ").join(parts), cards=correction["cards"])


def short(correction: Mapping[str, Any], sag: str) -> str:
    """Return what one sag was corrected by: "corrected by +3.1 mm, 7 cards"."""
    return say(
        "corrected by {signed} mm, {cards} cards",
        signed=_signed(correction[f"{sag}_mm"]), cards=correction["cards"],
    )


def corrected(
    correction: Mapping[str, Any] | None, result: Mapping[str, Any], travel_mm: float
) -> dict[str, Any]:
    """Return calc's `result` with an accepted correction added to both sags, and a note that says so.

    Everything else stays as computed: forces, rates and the curve are those of the springs.
    """
    if correction is None:
        return dict(result)
    sags = {
        f"{sag}_sag_mm": round(min(max(result[f"{sag}_sag_mm"] + correction[f"{sag}_mm"], 0.0), travel_mm), 3)
        for sag in SAGS
    }
    said = words(correction)
    text = say(
        "{said} of this model; everything else is as computed.",
        said=capital(said),
    )
    note = Note("sag_corrected", "info", text, correction["rider_mm"], "mm").as_dict()
    return {**result, **sags, "notes": [note, *result["notes"]]}


def model_band(band_mm: tuple[float, float], correction: Mapping[str, Any] | None, sag: str) -> list[float]:
    """Return the band (mm) that the computed sag must land in, for the corrected one to land in `band_mm`."""
    if correction is None:
        return list(band_mm)
    more = correction[f"{sag}_mm"]
    low = max(band_mm[0] - more, 0.0)
    return [low, max(band_mm[1] - more, low + 1.0)]


def _signed(value_mm: float) -> str:
    return number(value_mm, "+.1f").replace("-", "−")
