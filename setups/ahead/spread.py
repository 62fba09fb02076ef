"""How sure each sag and rate of a card is: its 95 % interval, what makes it unsure, the reading worth taking next."""

from __future__ import annotations

from typing import Any

from calc.refusal import Refusal
from calc.uncertainty import covering, uncertainty
from setups import measured, sums
from setups.ahead.standing import Standing, standing
from setups.models import JobCard
from setups.sure import noted_sources

RESULTS = ("static_sag_mm", "rider_sag_mm", "wheel_rate_n_per_mm", "rate_n_per_mm", "preload_mm")


def spreads(card: JobCard) -> dict[str, dict[str, Any]]:
    """Return, by stage and end, how sure what the card shows there is; None where nothing was written down."""
    return {stage: {end: _spread(card, stage, end) for end in measured.ENDS} for stage in sums.STAGES}


def _spread(card: JobCard, stage: str, end: str) -> dict[str, Any] | None:
    if not measured.has_end(card, end):
        return None
    read = _read(card, stage, end)
    computed = None
    if sums.body_of(card, stage, end) is not None:
        computed = _computed(card, standing(card, end, (stage,)))
    if read is None and computed is None:
        return None
    return {"measured": read, "computed": computed}


def _computed(card: JobCard, now: Standing) -> dict[str, Any] | None:
    """Return calc's intervals for what is computed, by where each of the card's figures comes from."""
    if now.result is None:
        return None
    sources = noted_sources(card, now.stage, now.end, now.body)
    try:
        found = uncertainty({**now.asked(), "sources": sources})
    except Refusal:
        return None  # what is wrong with the figures is said at the end itself
    return {key: found[key] for key in (*RESULTS, "inputs", "next_reading", "notes")}


def _read(card: JobCard, stage: str, end: str) -> dict[str, Any] | None:
    """Return the intervals of the sags that were read, from the tape's own uncertainty, friction apart."""
    if stage not in measured.STAGES:
        return None
    found, _ = measured.sag_or_problems(card, stage, end)
    if found is None:
        return None
    read: dict[str, Any] = {}
    for state in ("static", "rider"):
        value, u = found[f"{state}_sag_mm"], found[f"{state}_u_mm"]
        read[f"{state}_sag_mm"] = None
        if value is not None:
            low, high = covering(value, u)
            read[f"{state}_sag_mm"] = {"value": value, "u": u, "low": low, "high": high}
    return read
