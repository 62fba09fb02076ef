"""What every verb on a card asks first, and how a versioned row is changed with its line in the trail."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, TypeVar

from calc.bands import Band
from calc.checks import Findings
from calc.words import say
from setups.models import Customer, JobCard
from shops import trail, versions
from shops.access import Scoped, everywhere
from shops.refusals import blocked
from shops.trail import Actor

R = TypeVar("R", bound=Scoped)


def hold(card: JobCard) -> None:
    """Lock the card for the rest of the transaction and refuse a sealed one: sealing must not race with a
    change.
    """
    found = everywhere(JobCard, why="a card already held").select_for_update().get(pk=card.pk)
    if found.step == JobCard.Step.SEALED:
        raise blocked("sealed", say(
            "Card {number} is sealed: it can only be amended, with a reason.",
            number=card.number,
        ))


def require_not_erased(customer: Customer) -> None:
    """Refuse to write on a customer whose data were erased: it would bring a person back under an erased id."""
    if customer.erased_at is not None:
        raise blocked("erased", say(
            "This customer’s personal data were erased; take them in anew if they come again.",
        ))


def check_bands(values: Mapping[str, Any], bands: Mapping[str, Band]) -> None:
    """Refuse every given value of `values` that lies outside its band."""
    findings = Findings()
    for name, band in bands.items():
        if values.get(name) is not None:
            findings.value(values[name], name, band)
    findings.raise_any()


def change(
    actor: Actor, verb: str, row: R, version: int, values: Mapping[str, Any], *, reason: str = ""
) -> R:
    """Set the fields `values` of a versioned row and record those that differ.

    Where none does, nothing is written and the version stays. Raises `Stale` unless the version stands.
    """
    before, after = trail.changes(row, values)
    if not after:
        held: Any = row
        versions.require(held, version)
        return row
    for name, value in after.items():
        setattr(row, name, value)
    versions.save(row, version, list(after))
    trail.record(actor, verb, row, before, after, reason)
    return row
