"""Taking readings and striking them out. What is refused leaves nothing behind; what is struck stays,
marked.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from django.db import transaction
from django.utils import timezone

from calc.bands import BANDS, Band
from calc.checks import Findings
from calc.refusal import Problem, Refusal
from calc.sag import BANDS as LENGTHS
from calc.sag import sag
from calc.words import say
from setups import measured
from setups.bodies import ORIGINS
from setups.loads import readings_from, three_ways
from setups.models import JobCard, Reading
from setups.verbs.guard import hold
from shops import trail
from shops.refusals import blocked, wrong
from shops.trail import Actor

PAIRS = (("alone_from_above_mm", "alone_from_below_mm"), ("rider_from_above_mm", "rider_from_below_mm"))
Place = tuple[str, str]


@transaction.atomic
def take_readings(actor: Actor, card: JobCard, taken: Sequence[Mapping[str, Any]]) -> list[Reading]:
    """Keep readings (stage, end, quantity, value, instrument, origin), all or none of them.

    Each must be believable by itself and beside what was read before; a newer one replaces an older one of
    the same kind but does not erase it. Raises Refusal with fields like "readings.2.value".
    """
    hold(card)
    problems: list[Problem] = []
    for number, one in enumerate(taken):
        problems += _alone(card, one, f"readings.{number}")
    if problems:
        raise Refusal(*problems)
    for place in dict.fromkeys((one["stage"], one["end"]) for one in taken):
        problems += _together(card, place, taken)
    if problems:
        raise Refusal(*problems)
    rows = [Reading.objects.create(card=card, taken_by=actor.person, **one) for one in taken]
    trail.record(actor, "take readings", card, None, {"readings": [_shown(row) for row in rows]})
    return rows


@transaction.atomic
def take_loads(
    actor: Actor,
    card: JobCard,
    stage: str,
    end: str,
    way: str,
    share: float | None = None,
    share_u: float | None = None,
) -> list[Reading]:
    """Take the axle loads of `end` as `way` (rider, sags) tells them, as assumed readings.

    A scale's word goes before any sum: where the axle was weighed nothing is taken. Raises Refusal.
    """
    found = three_ways(card, stage, end, share, share_u)
    if found.weighed:
        text = say(
            "The {end} axle was weighed: strike its reading first if it is wrong, then take the loads another "
            "way.",
            end=say(end),
        )
        raise blocked("weighed", text)
    taken = readings_from(found, stage, end, way)
    if not taken:
        lacking = "; ".join((*(problem.text for problem in found.problems), *found.missing)) or say(
            "nothing to go by",
        )
        raise wrong("way", "not_told", say(
            "That way does not tell the {end} axle's loads: {lacking}.",
            end=say(end), lacking=lacking,
        ), way)
    return take_readings(actor, card, taken)


@transaction.atomic
def strike_reading(actor: Actor, card: JobCard, reading: Reading) -> Reading:
    """Strike a reading out: it no longer counts, and the one before it does again."""
    hold(card)
    if reading.struck_at is not None:
        raise blocked("struck_already", say("This reading is struck out already."))
    reading.struck_at, reading.struck_by = timezone.now(), actor.person
    reading.save(update_fields=["struck_at", "struck_by"])
    trail.record(actor, "strike reading", card, {"reading": _shown(reading)}, {"struck": True})
    return reading


def _shown(reading: Reading) -> dict[str, Any]:
    """Return what the trail keeps of a reading: of a load only its row, since it tells the rider's mass."""
    shown: dict[str, Any] = {
        "id": reading.pk,
        "stage": reading.stage,
        "end": reading.end,
        "quantity": reading.quantity,
    }
    return shown if reading.quantity.endswith("_kg") else {**shown, "value": reading.value}


def _alone(card: JobCard, one: Mapping[str, Any], path: str) -> list[Problem]:
    findings = Findings()
    if not measured.has_end(card, one["end"]):
        findings.add(
            f"{path}.end",
            "no_such_end",
            say(
                "This card is about a {part}: it has no {end} end.",
                part=card.get_loose_display(), end=say(one["end"]),
            ),
        )
    if one.get("origin", "measured") not in ORIGINS:
        findings.add(
            f"{path}.origin", "unknown_choice", say(
                "{origin!r} is none of: {names}.",
                origin=one["origin"], names=", ".join(ORIGINS),
            )
        )
    findings.value(one["value"], f"{path}.value", band_of(one["quantity"], one["end"]))
    return findings.problems


def band_of(quantity: str, end: str) -> Band:
    """Return what is accepted of a reading: calc's own band, so that nothing is kept that it refuses later."""
    if quantity in measured.LENGTHS:
        return LENGTHS[quantity]
    return BANDS[f"{end}.load_{'static' if quantity == 'axle_alone_kg' else 'rider'}_kg"]


def _together(card: JobCard, place: Place, taken: Sequence[Mapping[str, Any]]) -> list[Problem]:
    """Return what is wrong with the new readings of one stage and end beside those that count already."""
    stage, end = place
    fresh = {
        one["quantity"]: (f"readings.{number}.value", one["value"])
        for number, one in enumerate(taken)
        if (one["stage"], one["end"]) == place
    }
    values = {quantity: reading.value for quantity, reading in measured.counting(card, stage, end).items()}
    values |= {quantity: value for quantity, (_, value) in fresh.items()}
    lengths = {key: value for key, value in values.items() if key in measured.LENGTHS}
    free = measured.counting(card, "received", end).get("wheel_free_mm")
    if "wheel_free_mm" not in lengths and free is not None:
        lengths["wheel_free_mm"] = free.value
    problems = _loads(values, end)
    if any(quantity in measured.LENGTHS for quantity in fresh):
        problems += _lengths(card, end, lengths)
    return [_moved(problem, fresh) for problem in problems]


def _loads(values: Mapping[str, float], end: str) -> list[Problem]:
    alone, ridden = values.get("axle_alone_kg"), values.get("axle_rider_kg")
    if alone is None or ridden is None or ridden > alone:
        return []
    text = say(
        "The {end} axle load with the rider, {ridden:g} kg, is not above that of the bike alone, {alone:g} kg: "
        "are the two swapped?",
        end=say(end), ridden=ridden, alone=alone,
    )
    return [Problem("axle_rider_kg", "rider_load_below_static", text, ridden, "kg", alone, None)]


def _lengths(card: JobCard, end: str, lengths: Mapping[str, float]) -> list[Problem]:
    if "wheel_free_mm" not in lengths:
        return _pairs(lengths)
    if len(lengths) < 2:
        return []
    try:
        sag(measured.sag_request(card, end, lengths))
    except Refusal as refusal:
        return list(refusal.problems)
    return []


def _pairs(lengths: Mapping[str, float]) -> list[Problem]:
    """Return the pairs read the wrong way round; without the wheel-free length calc cannot be asked yet."""
    problems = []
    for above, below in PAIRS:
        if above in lengths and below in lengths and lengths[above] < lengths[below]:
            text = say(
                "{lengths:g} mm from above is shorter than {lengths2:g} mm from below; settling from above "
                "leaves the longer length: are the two swapped?",
                lengths=lengths[above], lengths2=lengths[below],
            )
            problems.append(Problem(above, "pair_swapped", text, lengths[above], "mm", lengths[below], None))
    return problems


def _moved(problem: Problem, fresh: Mapping[str, tuple[str, float]]) -> Problem:
    """Return the problem with its field at the reading just taken, not at the one that it contradicts."""
    quantity = problem.field.rsplit(".", 1)[-1]
    if quantity in fresh:
        return replace(problem, field=fresh[quantity][0])
    first = next(iter(fresh.values()))
    return replace(problem, field=first[0])
