"""What every look ahead starts from: one end as the card has it, and why it cannot be looked into."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from calc.refusal import Problem, Refusal
from calc.words import say
from setups import measured, ranking, sums
from setups.measured import Targets
from setups.models import JobCard

LEAST_SHOWN_MM = 40.0
"""How much preload is looked at where nobody has said what the adjuster gives."""


@dataclass(frozen=True)
class Standing:
    """One end of a card at its newest stage asked for, as calc takes it; `missing` says why it may not be there."""

    end: str
    stage: str
    body: Mapping[str, Any]
    request: dict[str, Any]
    result: Mapping[str, Any] | None
    targets: Targets | None
    adjuster_mm: Sequence[float] | None
    problems: tuple[Problem, ...]
    missing: tuple[str, ...]

    @property
    def ready(self) -> bool:
        """Tell whether it can be looked into, targets included."""
        return self.result is not None and not self.missing and self.targets is not None

    def asked(self) -> dict[str, Any]:
        """Return the start of calc's request: the end, the sag bands, the adjuster's range where it is known."""
        found: dict[str, Any] = {self.end: self.request}
        if self.targets is not None:
            found |= {f"target_{key}": band for key, band in self.targets.as_dict().items()}
        if self.adjuster_mm is not None:
            found["adjuster_mm"] = list(self.adjuster_mm)
        return found

    def lacks(self, **empty: Any) -> dict[str, Any]:
        """Return the answer of an end that cannot be looked into: `empty`, and why."""
        return {**empty, "notes": [], **self.why()}

    def why(self) -> dict[str, Any]:
        """Return what is wrong and what is missing, as every answer says it."""
        return {"problems": [problem.as_dict() for problem in self.problems], "missing": list(self.missing)}

    def refused(self, refusal: Refusal, **empty: Any) -> dict[str, Any]:
        """Return the answer where calc refuses what it was asked: `empty`, and its problems."""
        problems = [problem.as_dict() for problem in refusal.problems]
        return {**empty, "notes": [], "problems": problems, "missing": []}


def standing(card: JobCard, end: str, stages: Sequence[str] = ("received",)) -> Standing:
    """Return `end` at the first of `stages` that has been written down; else from what the bike's own data say."""
    stage = next((one for one in stages if sums.body_of(card, one, end) is not None), "received")
    body = sums.body_of(card, stage, end) or ranking.base_body(card, end)
    targets = measured.targets_of(card, end)
    adjuster = (measured.end_data(card, end) or {}).get("adjuster_mm")
    if not measured.has_end(card, end):
        gone = (say("a {end} end: the card is about a loose part", end=say(end)),)
        return Standing(end, stage, body, {}, None, targets, adjuster, (), gone)
    found = sums.worked(card, stage, end, body)
    missing = found.missing if targets is not None else (*found.missing, say("the sag bands to aim at"))
    return Standing(end, stage, body, found.request, found.result, targets, adjuster, found.problems, missing)


def share_of(card: JobCard, end: str) -> tuple[float, str]:
    """Return which part of the rider's mass `end` carries, 0 to 1, and where that comes from.

    Two readings of the axle scale and the rider's mass tell it; else the usual share is assumed.
    """
    read = measured.counting(card, "received", end)
    alone, ridden = read.get("axle_alone_kg"), read.get("axle_rider_kg")
    mass = card.rider.mass_in_kit_kg if card.rider is not None else None
    if alone is not None and ridden is not None and mass:
        share = (ridden.value - alone.value) / mass
        if 0 < share <= 1:
            assumed = "assumed" in (alone.origin, ridden.origin)
            return round(share, 4), "assumed" if assumed else "measured"
    return measured.RIDER_SHARE[end], "assumed"
