"""Builds the whole demo in one transaction, as at the dates that its stories tell."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta

from django.db import transaction

from setups.demo.bikes import BIKES, LOOSE_FORK, MINNOW, BikeData
from setups.demo.clock import standing_at
from setups.demo.job import Job
from setups.demo.people import BUSINESS, CUSTOMERS, STRANGERS_CUSTOMER, CustomerData
from setups.demo.stories import LOOSE_FORK_COMPLAINT, LOOSE_FORK_DESCRIPTION, STORIES
from setups.demo.workshop import FOUNDED_DAYS_AGO, Workshop, calibrate, found
from setups.models import Bike, Customer, KindOfBike, Rider
from setups.verbs import bikes, cards, customers, kinds
from shops.access import rows
from shops.models import Business
from shops.trail import Actor

NARROWED = {
    "static_low_percent": 9.5,
    "static_high_percent": 13.0,
    "rider_low_percent": 21.0,
    "rider_high_percent": 26.0,
    "source": "narrowed within common practice, no source",
}
"""The sag bands that the demo's manager sets for the fork of a motocross bike, narrower than the usual."""


class ForeignBusinessError(Exception):
    """The database holds a business that is not the demo's."""


@dataclass(frozen=True)
class Brought:
    """A customer with the riders who come along, in the order of the data."""

    customer: Customer
    riders: list[Rider]


def build(today: date) -> str | None:
    """Build the demo, its dates counted back from `today`; return the secret of its customer's link.

    The secret is kept nowhere. None: the demo is there already, nothing was changed.
    Raises ForeignBusinessError where the database holds another business.
    """
    with transaction.atomic():
        if Business.objects.filter(name=BUSINESS).exists():
            return None
        if Business.objects.exists():
            raise ForeignBusinessError
        with standing_at(_morning(today - timedelta(days=FOUNDED_DAYS_AGO))):
            workshop = found(today)
            narrow_motocross(workshop.actor("maren"))
            brought = {one.key: take_in(workshop.actor("tamsin"), one) for one in CUSTOMERS}
            known = {
                one.key: add_bike(workshop.actor("tamsin"), brought[one.owner].customer, one) for one in BIKES
            }
        secret = tell(workshop, brought, known, today)
        with standing_at(_morning(today)):
            calibrate(workshop, today, today)
    return secret


def narrow_motocross(actor: Actor) -> None:
    """Let a manager set the shop's own sag bands for one kind of bike."""
    row = rows(KindOfBike, actor.person).get(kind="motocross", end="front")
    kinds.change_kind(actor, row, row.version, NARROWED)


def take_in(actor: Actor, data: CustomerData) -> Brought:
    """Add a customer with riders."""
    customer = customers.add_customer(
        actor, name=data.name, phone=data.phone, email=data.email, notes=data.notes
    )
    riders = [
        customers.add_rider(actor, customer=customer, name=name, mass_in_kit_kg=mass)
        for name, mass in data.riders
    ]
    return Brought(customer, riders)


def add_bike(actor: Actor, owner: Customer, data: BikeData) -> Bike:
    """Add a bike as the business first sees it."""
    return bikes.add_bike(
        actor,
        owner=owner,
        make=data.make,
        model=data.model,
        year=data.year,
        kind=data.kind,
        plate=data.plate,
        frame_number=data.frame_number,
        front=dict(data.front),
        rear=dict(data.rear),
        chassis=None if data.chassis is None else dict(data.chassis),
        sources=dict(data.sources),
        notes=data.notes,
    )


def tell(workshop: Workshop, brought: dict[str, Brought], known: dict[str, Bike], today: date) -> str:
    """Work every story through in the order of opening, then take in a loose fork and the stranger's bike.

    Return the secret of the last customer's link that the stories make.
    """
    secret = ""
    fitted = {data.key: dict(zip(("front", "rear"), data.came_with, strict=True)) for data in BIKES}
    for story in STORIES:
        day = today - timedelta(days=story.days_ago)
        with standing_at(_morning(day)):
            calibrate(workshop, today, day)
        who = brought[story.bike.owner]
        job = Job(
            workshop,
            story,
            known[story.bike.key],
            who.customer,
            who.riders[story.rider],
            fitted[story.bike.key],
            today,
        )
        job.run()
        secret = job.link_secret or secret
    with standing_at(_morning(today - timedelta(days=1)) + timedelta(hours=5)):
        owner = brought["sunniva"]
        cards.open_card(
            workshop.actor("jory"),
            customer=owner.customer,
            rider=owner.riders[1],
            complaint=LOOSE_FORK_COMPLAINT,
            loose="fork",
            loose_description=LOOSE_FORK_DESCRIPTION,
            loose_front=dict(LOOSE_FORK),
        )
        stranger = workshop.actor("stranger")
        who = take_in(stranger, STRANGERS_CUSTOMER)
        bike = add_bike(stranger, who.customer, MINNOW)
        cards.open_card(stranger, bike=bike, rider=who.riders[0], complaint="Clunks at the front.")
    return secret


def _morning(day: date) -> datetime:
    return datetime.combine(day, time(8, 0), UTC)
