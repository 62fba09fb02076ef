"""What a card's estimate says, and whether the customer has agreed to it as it stands now."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Literal

from setups.approval_models import Estimate, EstimateAsk
from setups.models import JobCard
from setups.record.canonical import canonical, digest

State = Literal["none", "not_asked", "asked", "approved", "declined", "changed"]
KINDS = ("labour", "parts")


def digest_of(lines: Sequence[Mapping[str, Any]], currency: str) -> str:
    """Return the digest of an estimate: any other line, amount or currency gives another."""
    return digest(canonical({"currency": currency, "lines": list(lines)}))


def total_minor(lines: Sequence[Mapping[str, Any]]) -> int:
    """Return the sum of an estimate in minor units."""
    return sum(line["amount_minor"] for line in lines)


def estimate_of(card: JobCard) -> Estimate | None:
    """Return the card's estimate, None where there is none."""
    found: Estimate | None = getattr(card, "estimate", None)
    return found


def currency_of(card: JobCard) -> str:
    """Return the currency of the card's estimate: its own, or the business's where there is no line yet."""
    estimate = estimate_of(card)
    return (estimate.currency if estimate and estimate.lines else "") or card.business.currency


def present_digest(card: JobCard) -> str:
    """Return the digest of the card's estimate as it stands; of an empty one where there is none."""
    estimate = estimate_of(card)
    return digest_of(estimate.lines if estimate else [], currency_of(card))


def state(card: JobCard) -> State:
    """Return how far the customer's approval has come.

    The last answer to the estimate as it stands counts; an answer to an earlier one is "changed" and counts for
    nothing, and so does an unanswered link to it.
    """
    estimate = estimate_of(card)
    if estimate is None or not estimate.lines:
        return "none"
    now = present_digest(card)
    asks: list[EstimateAsk] = list(card.asks.all())
    answered = [ask for ask in asks if ask.answer]
    to_this = [ask for ask in answered if ask.digest == now]
    if to_this:
        last = max(to_this, key=lambda ask: (ask.answered_at, ask.pk))
        return "approved" if last.answer == EstimateAsk.Answer.APPROVED else "declined"
    if any(ask.digest == now and ask.revoked_at is None for ask in asks):
        return "asked"
    return "changed" if answered else "not_asked"


def waits(card: JobCard) -> bool:
    """Return whether the card's work waits for the customer's approval."""
    estimate = estimate_of(card)
    return estimate is not None and estimate.needs_approval and state(card) != "approved"
