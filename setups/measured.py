"""What the readings of a card say: which of them count, the sags and the axle loads that follow, the targets.

Readings are raw and kept for ever; the latest one that is not struck counts. Sags are calc's to derive.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from calc import printed
from calc.refusal import Problem, Refusal
from calc.sag import sag
from calc.words import say
from setups.kinds import COMMON_PRACTICE, USUAL, source_words
from setups.models import End, JobCard, KindOfBike, Reading
from shops.access import everywhere

STAGES = ("received", "built")
ENDS = ("front", "rear")
LENGTHS = (
    "wheel_free_mm",
    "alone_from_above_mm",
    "alone_from_below_mm",
    "rider_from_above_mm",
    "rider_from_below_mm",
)
RIDER_SHARE: Mapping[str, float] = {"front": 0.35, "rear": 0.65}
"""Which part of the rider's mass each axle carries when no scale tells: common practice, no source."""

AXLE_SCALES, ASSUMED_SHARE = "axle scales", "assumed share"


@dataclass(frozen=True)
class Loads:
    """The axle loads of one end in kg, unsprung mass included, and where the one with the rider comes
    from.
    """

    static_kg: float
    rider_kg: float
    origin: str

    def as_dict(self) -> dict[str, Any]:
        """Return the loads as the plain mapping that the API answers."""
        return {"static_kg": self.static_kg, "rider_kg": self.rider_kg, "from": self.origin}


@dataclass(frozen=True)
class Band:
    """A band of sag in mm, ends included."""

    low: float
    high: float

    def holds(self, value: float) -> bool:
        """Return whether `value`, in mm, lies in the band."""
        return self.low <= value <= self.high


@dataclass(frozen=True)
class Targets:
    """The sag bands aimed at, at one end, in mm (front along the fork, rear vertical)."""

    static: Band
    rider: Band

    def as_dict(self) -> dict[str, list[float]]:
        """Return the bands as the plain mapping that the API answers."""
        return {
            "static_sag_mm": [self.static.low, self.static.high],
            "rider_sag_mm": [self.rider.low, self.rider.high],
        }


def end_data(card: JobCard, end: str) -> Mapping[str, Any] | None:
    """Return the fixed data of `end`: the bike's, or the loose part's; None where the card has no
    such end.
    """
    if card.bike is not None:
        found = card.bike.front if end == End.FRONT else card.bike.rear
    else:
        found = card.loose_front if end == End.FRONT else card.loose_rear
    return found or None


def has_end(card: JobCard, end: str) -> bool:
    """Return whether the card is about `end` at all: a loose fork has no rear."""
    if card.bike is not None or not card.loose:
        return True
    return (card.loose == JobCard.Loose.FORK) == (end == End.FRONT)


def travel_mm(card: JobCard, end: str) -> float | None:
    """Return the travel that sags are a part of: the fork's stroke, the rear wheel's travel; None where
    unknown.
    """
    data = end_data(card, end) or {}
    return data.get("stroke_mm" if end == End.FRONT else "wheel_travel_mm")


def counting(card: JobCard, stage: str, end: str) -> dict[str, Reading]:
    """Return, by quantity, the readings that count: of each the latest that is not struck."""
    found: dict[str, Reading] = {}
    for reading in card.readings.all():
        if reading.stage == stage and reading.end == end and reading.struck_at is None:
            held = found.get(reading.quantity)
            if held is None or reading.pk > held.pk:
                found[reading.quantity] = reading
    return found


def lengths(card: JobCard, stage: str, end: str) -> dict[str, float]:
    """Return the lengths in mm that count at `stage`, by quantity.

    The wheel-free length is the same suspension fully extended: taken once, it serves for both stages.
    """
    values = {
        quantity: reading.value for quantity, reading in counting(card, stage, end).items() if quantity in LENGTHS
    }
    if values and "wheel_free_mm" not in values and stage == "built":
        free = counting(card, "received", end).get("wheel_free_mm")
        if free is not None:
            values["wheel_free_mm"] = free.value
    return values


def sag_request(card: JobCard, end: str, values: Mapping[str, float]) -> dict[str, Any]:
    """Return the request that calc derives the sags of `end` from, for the lengths `values`."""
    request: dict[str, Any] = {"end": end, **values}
    travel = travel_mm(card, end)
    if travel is not None:
        request["travel_mm"] = travel
    return request


def sag_of(card: JobCard, stage: str, end: str, rate_n_per_mm: float | None = None) -> dict[str, Any] | None:
    """Return calc's sags of what was read at `stage`, or None where too little was read.

    With the rate along the readings' axis the friction band is given as a force too. Raises Refusal where
    the readings, each taken as it was, contradict each other by now.
    """
    values = lengths(card, stage, end)
    if "wheel_free_mm" not in values or len(values) < 2:
        return None
    request = sag_request(card, end, values)
    return sag(request if rate_n_per_mm is None else {**request, "rate_n_per_mm": rate_n_per_mm})


def sag_or_problems(
    card: JobCard, stage: str, end: str, rate_n_per_mm: float | None = None
) -> tuple[dict[str, Any] | None, list[Problem]]:
    """Return the sags of `stage` and `end` (None where there are none), and what is wrong with the readings."""
    try:
        return sag_of(card, stage, end, rate_n_per_mm), []
    except Refusal as refusal:
        return None, list(refusal.problems)


def loads_of(card: JobCard, stage: str, end: str) -> Loads | None:
    """Return the axle loads at `stage`: the scales' if taken, those as received if not taken again.

    Without a reading with the rider on, the rider's mass is shared out by `RIDER_SHARE` and marked so. None
    where the bike alone was not weighed, or neither the rider nor his load is known.
    """
    found = {**counting(card, "received", end), **(counting(card, stage, end) if stage != "received" else {})}
    alone, ridden = found.get("axle_alone_kg"), found.get("axle_rider_kg")
    if alone is None:
        return None
    if ridden is not None:
        assumed = "assumed" in (alone.origin, ridden.origin)
        return Loads(alone.value, ridden.value, "assumed" if assumed else AXLE_SCALES)
    mass = card.rider.mass_in_kit_kg if card.rider is not None else None
    if mass is None:
        return None
    return Loads(alone.value, round(alone.value + RIDER_SHARE[end] * mass, 3), ASSUMED_SHARE)


def kind_of(card: JobCard, end: str) -> Any:
    """Return what the business takes as usual for the card's kind of bike at `end`; None for a loose part.

    Asked once for a card: targets and unsprung masses need it many times over.
    """
    if card.bike is None:
        return None
    held: dict[str, KindOfBike] | None = card.__dict__.get("_kinds")
    if held is None:
        found = everywhere(KindOfBike, why="the kinds of a business whose card is already held")
        held = {row.end: row for row in found.filter(business_id=card.business_id, kind=card.bike.kind)}
        card.__dict__["_kinds"] = held
    return held.get(end) or USUAL[(card.bike.kind, end)]


def targets_of(card: JobCard, end: str) -> Targets | None:
    """Return the sag bands aimed at: the card's own, else the kind's percentages of this bike's travel."""
    own = (card.targets or {}).get(end)
    if own:
        return Targets(Band(*own["static_sag_mm"]), Band(*own["rider_sag_mm"]))
    kind, travel = kind_of(card, end), travel_mm(card, end)
    if kind is None or travel is None:
        return None

    def part(percent: float) -> float:
        return float(printed.whole(travel * percent / 100))

    return Targets(
        Band(part(kind.static_low_percent), part(kind.static_high_percent)),
        Band(part(kind.rider_low_percent), part(kind.rider_high_percent)),
    )


def targets_source(card: JobCard) -> str:
    """Return one phrase that says where the card's targets come from."""
    own = [end for end in ENDS if (card.targets or {}).get(end)]
    if len(own) == len(ENDS) or (own and card.bike is None):
        return say("set for this job")
    if card.bike is None:
        return say("none: a loose part has no kind of bike; set them for this job")
    kind = kind_of(card, "front")
    source = getattr(kind, "source", COMMON_PRACTICE)
    usual = say(
        "the shop's usual for {kind} bikes ({source})",
        kind=card.bike.get_kind_display(), source=source_words(source),
    )
    return say("{usual}; {end} set for this job", usual=usual, end=say(own[0])) if own else usual
