"""Opening a card and changing what stands on its face."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

from django.db import transaction

from calc.bands import BANDS
from calc.checks import Findings
from calc.refusal import Problem, Refusal
from calc.words import say
from setups import bodies, fasteners, measured
from setups.blockers import day_in
from setups.limits import DISTANCE, HOURS
from setups.load_cases import check_cases
from setups.models import Bike, Customer, JobCard, Rider, Setting, TorqueLine
from setups.verbs import bikes
from setups.verbs.guard import change, check_bands, hold, require_not_erased
from shops import trail
from shops.access import everywhere
from shops.models import Shop
from shops.refusals import wrong
from shops.trail import Actor

BANDS_OF_FACE = {"distance_km": DISTANCE, "hours": HOURS, "altitude_m": BANDS["front.altitude_m"]}
TARGET_SAG = {"static_sag_mm": (0, 300), "rider_sag_mm": (1, 400)}


@transaction.atomic
def open_card(
    actor: Actor,
    *,
    customer: Customer | None = None,
    bike: Bike | None = None,
    rider: Rider | None = None,
    **values: Any,
) -> JobCard:
    """Open a card in the actor's shop, numbered after its last, with the bike's own data as received.

    `values` are complaint and, for a loose fork or shock, loose, loose_description, loose_front and
    loose_rear. Without a customer the bike's owner is taken. The usual fasteners come as blank torque lines.
    """
    customer = customer or (bike.owner if bike is not None else None)
    _check_who_and_what(customer, bike, rider, values)
    if bike is not None:
        bikes.require_not_merged(bike)
    if customer is not None:
        require_not_erased(customer)
    bikes.check_data(values, "loose_")
    card = JobCard(
        business_id=actor.person.business_id,
        shop_id=actor.person.shop_id,
        opened_by=actor.person,
        customer=customer,
        bike=bike,
        rider=rider,
        **values,
    )
    card.number = _next_number(actor.person.shop)
    card.save()
    for end in measured.ENDS:
        fixed = measured.end_data(card, end)
        if fixed and measured.has_end(card, end):
            Setting.objects.create(
                card=card, stage="received", end=end, body=bodies.received_body(fixed, end)
            )
    TorqueLine.objects.bulk_create(
        TorqueLine(
            card=card, business_id=card.business_id, opened_at=card.opened_at, fastener=one.name,
            needs_second_check=one.second_check,
        )
        for one in fasteners.usual(card.loose)
    )  # fmt: skip
    shown = {"number": card.number, "customer": customer, "bike": bike, "rider": rider, "loose": card.loose}
    trail.record(actor, "open card", card, None, shown)
    return card


@transaction.atomic
def change_card(actor: Actor, card: JobCard, version: int, values: Mapping[str, Any]) -> JobCard:
    """Change the card's step, texts, rider, distance, next service, targets, altitude or loose part's
    data.
    """
    hold(card)
    check_bands(values, BANDS_OF_FACE)
    if values.get("step") == JobCard.Step.SEALED:
        raise wrong("step", "seal", say("A card is sealed with its own action, once nothing blocks it."), "sealed")
    if values.get("rider") is not None:
        _check_rider(values["rider"], card.customer)
    if values.get("next_service_on") is not None:
        _check_service(values["next_service_on"], card)
    if "targets" in values:
        _check_targets(values["targets"], card)
    if "cases" in values:
        check_cases(values["cases"])
    bikes.check_data({key: value for key, value in values.items() if key.startswith("loose_")}, "loose_")
    return change(actor, "change card", card, version, values)


def _next_number(shop: Shop) -> str:
    """Count the shop's cards up by one, under its lock, and return the new number."""
    held = everywhere(Shop, why="the shop that numbers its cards").select_for_update().get(pk=shop.pk)
    held.cards_opened += 1
    held.save(update_fields=["cards_opened"])
    return f"{held.code}-{held.cards_opened:04d}"


def _check_who_and_what(
    customer: Customer | None, bike: Bike | None, rider: Rider | None, values: Mapping[str, Any]
) -> None:
    problems = []
    if customer is None:
        problems.append(Problem("customer", "missing", say("Say whose job this is: choose or add a customer.")))
    loose = values.get("loose", "")
    if bike is None and not loose:
        problems.append(
            Problem("bike", "missing", say("Choose a bike, or say that a loose fork or shock came in."))
        )
    if bike is not None and loose:
        problems.append(
            Problem(
                "loose", "bike_and_loose", say("A card is about a bike or about a loose part, not both."), loose
            )
        )
    for end, part in (("front", "fork"), ("rear", "shock")):
        if values.get(f"loose_{end}") is not None and loose != part:
            text = say("Data of a loose {part} belong on a card for a loose {part}.", part=say(part))
            problems.append(Problem(f"loose_{end}", "not_this_part", text))
    if problems:
        raise Refusal(*problems)
    if rider is not None and customer is not None:
        _check_rider(rider, customer)


def _check_rider(rider: Rider, customer: Customer) -> None:
    if rider.customer_id != customer.pk:
        raise wrong(
            "rider",
            "not_their_rider",
            say("This rider belongs to another customer; add the rider to this one first."),
        )


def _check_service(day: date, card: JobCard) -> None:
    opened = day_in(card.shop, card.opened_at)
    if day < opened:
        text = say(
            "The next service on {day} lies before this job, opened on {opened}: check the year.",
            day=day, opened=opened,
        )
        raise wrong("next_service_on", "before_the_job", text, day.isoformat())


def _check_targets(targets: Any, card: JobCard) -> None:
    """Refuse targets that are no pairs of bands, upside down, or beyond the travel."""
    findings = Findings()
    for end, bands in targets.items():
        if bands is None:
            continue
        travel = measured.travel_mm(card, end)
        for sag, (least, most) in TARGET_SAG.items():
            low, high = bands[sag]
            field = f"targets.{end}.{sag}"
            limit = min(most, travel or most)
            if not least <= low < high <= limit:
                text = say(
                    "A sag band of {low:g} to {high:g} mm cannot be aimed at: give the lower value first, both "
                    "within {least:g} to {limit:g} mm.",
                    low=low, high=high, least=least, limit=limit,
                )
                findings.problems.append(Problem(field, "band", text, None, "mm", least, limit))
        if bands["static_sag_mm"][1] > bands["rider_sag_mm"][1]:
            text = say("The static sag band lies above the rider sag band: are the two swapped?")
            findings.problems.append(
                Problem(f"targets.{end}.static_sag_mm", "bands_swapped", text, None, "mm")
            )
    findings.raise_any()
