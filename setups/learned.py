"""Learning from as built: what sealed cards of one model of bike showed of computed sags, and what that offers.

Cards of all shops and years of the business count, whatever way their loads were known: a shop that shares the
rider's mass out by assumption learns what that costs it, too.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from calc.learned import Bias, bias
from setups import measured, sums
from setups.models import BuiltSag, JobCard
from setups.sag_corrections import SAGS, correction_of
from shops.access import everywhere

LATEST = 200
"""How many cards of a model are looked back on: what came later knows the model's later years better."""


@dataclass(frozen=True)
class Learned:
    """What one end of a model showed: the bias of each sag, None where no card has it."""

    static: Bias | None
    rider: Bias | None

    @property
    def cards(self) -> int:
        """Return how many cards tell of both sags."""
        return min((one.cards if one else 0) for one in (self.static, self.rider))

    @property
    def offered(self) -> bool:
        """Return whether there are cards enough to offer the means as a correction."""
        return all(one is not None and one.enough for one in (self.static, self.rider))

    def correction(self) -> dict[str, Any]:
        """Return the correction that is offered, as a card keeps it: mm to add to each sag, and the cards behind."""
        found: dict[str, Any] = {"cards": self.cards}
        for sag in SAGS:
            one: Bias | None = getattr(self, sag)
            if one is not None:
                found |= {f"{sag}_mm": round(one.mean_mm, 1), f"{sag}_expanded_mm": _rounded(one.expanded_mm)}
        return found

    def as_dict(self) -> dict[str, Any]:
        """Return the finding as the plain mapping that the API answers."""
        return {
            "cards": self.cards,
            "offered": self.offered,
            "static": None if self.static is None else shown(self.static),
            "rider": None if self.rider is None else shown(self.rider),
        }


def shown(one: Bias) -> dict[str, Any]:
    """Return a bias as the API answers it, mm to the hundredth."""
    return {
        "cards": one.cards,
        "mean_mm": _rounded(one.mean_mm),
        "spread_mm": _rounded(one.spread_mm),
        "u_mm": _rounded(one.u_mm),
        "expanded_mm": _rounded(one.expanded_mm),
        "sure": one.sure,
    }


def model_key(make: str, model: str) -> str:
    """Return what groups bikes of one model: make and model, without regard to case and spacing."""
    return " | ".join(" ".join(word.split()).casefold() for word in (make, model))


def learned(card: JobCard) -> dict[str, Learned | None]:
    """Return, by end, what earlier sealed cards of the card's model showed; None for a loose part or no card yet."""
    if card.bike is None:
        return dict.fromkeys(measured.ENDS)
    key = model_key(card.bike.make, card.bike.model)
    rows = everywhere(BuiltSag, why="the sealed cards of a business whose card is already held").filter(
        business_id=card.business_id, model_key=key, left_out=""
    )
    latest = rows.exclude(card_id=card.pk).order_by("-sealed_at", "-id")[: LATEST * len(SAGS) * len(measured.ENDS)]
    found: dict[tuple[str, str], list[tuple[float, float]]] = {}
    for end, sag, difference, u in latest.values_list("end", "sag", "difference_mm", "u_mm"):
        found.setdefault((end, sag), []).append((difference, u))
    biases = {place: bias(*zip(*pairs[:LATEST], strict=True)) for place, pairs in found.items()}
    return {
        end: Learned(biases.get((end, "static")), biases.get((end, "rider")))
        if any((end, sag) in biases for sag in SAGS)
        else None
        for end in measured.ENDS
    }


def built_sags(card: JobCard, sealed_at: datetime) -> Iterator[BuiltSag]:
    """Return the rows, not yet saved, that a card about to be sealed teaches: calc's own sags beside the measured.

    The prediction is calc's, without the correction that the card may have accepted: learning must not chase
    itself. An end that could not be computed or was not measured gives none, nor a sag computed at an end of the
    travel, which is no balance of forces.
    """
    if card.bike is None:
        return
    bike = card.bike
    for end in measured.ENDS:
        predicted = sums.computed(card, "built", end)
        found, _ = measured.sag_or_problems(card, "built", end)
        travel = measured.travel_mm(card, end)
        if predicted is None or found is None or travel is None:
            continue
        for sag in SAGS:
            said, read = predicted[f"{sag}_sag_mm"], found[f"{sag}_sag_mm"]
            if read is not None and 0 < said < travel:
                yield BuiltSag(
                    business_id=card.business_id,
                    shop_id=card.shop_id,
                    card=card,
                    make=bike.make,
                    model=bike.model,
                    model_key=model_key(bike.make, bike.model),
                    year=bike.year,
                    kind=bike.kind,
                    end=end,
                    sag=sag,
                    predicted_mm=said,
                    measured_mm=read,
                    difference_mm=round(read - said, 3),
                    u_mm=found[f"{sag}_u_mm"],
                    sealed_at=sealed_at,
                )


def answer(card: JobCard) -> dict[str, Any]:
    """Return what the API answers of a card: per end what was learned, and the correction that stands."""

    def of(end: str, one: Learned | None) -> Mapping[str, Any] | None:
        taken = correction_of(card, end)
        return None if one is None else {**one.as_dict(), "taken": taken is not None}

    return {end: of(end, one) for end, one in learned(card).items()}


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 2)
