"""The axle loads of a card three ways: scales, the rider's mass and share, the sags; and taking one of them.

The sums are calc's. What is said to come from scales here are readings that were measured: a load worked out some
other way and then taken is no second witness.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from calc.loads import loads
from calc.refusal import Problem, Refusal
from calc.words import mark, say
from setups import measured, sums
from setups.models import JobCard, Reading
from setups.sure import sources_of

STATES = ("static", "rider")
SCALES = {"static": "axle_alone_kg", "rider": "axle_rider_kg"}
MEASURED = "measured"
INSTRUMENTS: Mapping[str, str] = {
    "rider": mark("worked out from the rider's mass and share"),
    "sags": mark("worked out from the sags and the known springs"),
}
"""What stands in a scale's place on a reading that was worked out; kept in English, said when it is read."""
_WAYS: Mapping[str, str] = {
    "scales": mark("the axle scales"),
    "rider": mark("the rider's mass and share"),
    "sags": mark("the sags and the known springs"),
}


@dataclass(frozen=True)
class ThreeWays:
    """One end's loads as each way gives them, how they agree, and what stands in the way of any."""

    answer: dict[str, Any] | None
    problems: tuple[Problem, ...] = ()
    missing: tuple[str, ...] = ()
    weighed: bool = False

    def as_dict(self) -> dict[str, Any]:
        """Return the ways as the plain mapping that the API answers."""
        found = self.answer or {"ways": {}, "best": None, "compared": [], "notes": []}
        return {
            **found,
            "says": self.says(),
            "weighed": self.weighed,
            "problems": [problem.as_dict() for problem in self.problems],
            "missing": list(self.missing),
        }

    def says(self) -> str:
        """Return the one sentence that matters most: the worst disagreement, else how many ways agree."""
        if self.answer is None:
            return say("The loads cannot be told yet.")
        compared = self.answer["compared"]
        worst = max(compared, key=lambda one: one["times_u"], default=None)
        if worst is not None and worst["verdict"] != "agree":
            return str(worst["text"])
        if worst is None:
            told = [say(_WAYS[way]) for way in self.answer["ways"]]
            return say("One way only so far for each load: {names}.", names=say(" and ").join(told))
        if len(self.answer["ways"]) == 2:
            return say("Two ways agree within their uncertainties.")
        return say("Three ways agree within their uncertainties.")


def three_ways(
    card: JobCard, stage: str, end: str, share: float | None = None, share_u: float | None = None
) -> ThreeWays:
    """Return the loads of `end` at `stage` (received, built), each way that the card's readings allow.

    `share` of the rider's mass is on this axle, `share_u` its standard uncertainty: `measured.RIDER_SHARE` and
    calc's own where not said.
    """
    body = sums.body_of(card, stage, end) or sums.body_of(card, "received", end)
    if body is None:
        return ThreeWays(None, missing=(say("how the {end} stands: springs, preload and the rest", end=say(end)),))
    asked = sums.ask(card, stage, end, body)
    request = {key: value for key, value in asked.request.items() if not key.startswith("load_")}
    scales = _scales(card, stage, end)
    ways = {"scales": scales, "rider": _rider(card, end, scales, share, share_u), "sags": _sags(card, stage, end)}
    given = {way: said for way, said in ways.items() if said}
    missing = _missing(ways, end)
    if not given:
        return ThreeWays(None, missing=missing)
    try:
        answer = loads({end: request, "sources": sources_of(card, end, body) | _own_spring(body, end), **given})
    except Refusal as refusal:
        blanks = [problem for problem in refusal.problems if sums.is_blank(problem, request, end)]
        wrong = [sums.placed(problem, end, card) for problem in refusal.problems if problem not in blanks]
        names = dict.fromkeys(sums.blank_name(problem, end) for problem in blanks)
        return ThreeWays(None, tuple(wrong), (*names, *missing), bool(scales))
    return ThreeWays(answer, (), missing, bool(scales))


def readings_from(found: ThreeWays, stage: str, end: str, way: str) -> list[dict[str, Any]]:
    """Return the readings that take `way`'s loads, to a tenth of a kilogram, as assumed; none where it tells none."""
    told = (found.answer or {"ways": {}})["ways"].get(way, {})
    return [
        {
            "stage": stage,
            "end": end,
            "quantity": SCALES[state],
            "value": round(told[f"{state}_kg"], 1),
            "instrument": INSTRUMENTS[way],
            "origin": "assumed",
        }
        for state in STATES
        if told.get(f"{state}_kg") is not None
    ]


def _scales(card: JobCard, stage: str, end: str) -> dict[str, Any]:
    found = _weighed(card, stage, end)
    return {f"{state}_kg": found[name].value for state, name in SCALES.items() if name in found}


def _weighed(card: JobCard, stage: str, end: str) -> dict[str, Reading]:
    """Return the scale's readings that count; where a stage was not weighed, those as received serve."""
    both = {**measured.counting(card, "received", end), **measured.counting(card, stage, end)}
    return {name: one for name, one in both.items() if name in SCALES.values() and one.origin == MEASURED}


def _rider(
    card: JobCard, end: str, scales: Mapping[str, Any], share: float | None, share_u: float | None
) -> dict[str, Any]:
    mass = card.rider.mass_in_kit_kg if card.rider is not None else None
    if mass is None or "static_kg" not in scales:
        return {}
    said = {"mass_kg": mass, "share": measured.RIDER_SHARE[end] if share is None else share}
    return said if share_u is None else {**said, "share_u": share_u}


def _sags(card: JobCard, stage: str, end: str) -> dict[str, Any]:
    found, _ = measured.sag_or_problems(card, stage, end)
    if found is None:
        return {}
    said = {f"{state}_sag_mm": found[f"{state}_sag_mm"] for state in STATES}
    # A topped-out bike stands on its stop, not on its springs: it is no scale then.
    known = {key: value for key, value in said.items() if value is not None and value > sums.TOPPED_OUT_MM}
    if not known:
        return {}
    spread = [found[key] for key in ("static_u_mm", "rider_u_mm") if found[key] is not None]
    return {**known, "u_mm": max(spread)} if spread else known


def _own_spring(body: Mapping[str, Any], end: str) -> dict[str, dict[str, str]]:
    """Return where the fitted spring and its preload come from: here they are the bike's own, not a list's."""
    sources = body.get("sources") or {}
    leg = next((number for number, one in enumerate(body.get("legs", ())) if one.get("spring")), 0)
    prefix = f"legs.{leg}." if end == "front" else ""
    said = {field: (sources.get(prefix + field) or {}).get("from", "assumed") for field in ("spring", "preload_mm")}
    return {field: {"from": "assumed" if origin == "computed" else origin} for field, origin in said.items()}


def _missing(ways: Mapping[str, Mapping[str, Any]], end: str) -> tuple[str, ...]:
    """Return what the ways that are not given lack, a phrase each."""
    axle = say(sums.AXLES[end])
    lacks = {
        "scales": say("the scale's readings at the {axle}", axle=axle),
        "rider": say("the rider's mass, and the bike alone weighed at the {axle}", axle=axle),
        "sags": say("the sags at the {end}, read with the springs known", end=say(end)),
    }
    return tuple(words for way, words in lacks.items() if not ways[way])

