"""What can be done to bikes."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.db import transaction

from calc.refusal import Problem, Refusal
from setups import bodies
from setups.limits import YEAR
from setups.models import Bike
from setups.verbs.guard import change, check_bands
from shops import trail
from shops.trail import Actor


@transaction.atomic
def add_bike(actor: Actor, **values: Any) -> Bike:
    """Take in a bike of the actor's business; its suspension data may be partly blank but must fit
    together.
    """
    check_data(values)
    bike = Bike.objects.create(business_id=actor.person.business_id, **values)
    trail.record(actor, "add bike", bike, None, values)
    return bike


@transaction.atomic
def change_bike(actor: Actor, bike: Bike, version: int, values: Mapping[str, Any]) -> Bike:
    """Change what is known of a bike. Cards opened before keep the settings that they started from."""
    check_data(values)
    return change(actor, "change bike", bike, version, values)


def check_data(values: Mapping[str, Any], prefix: str = "") -> None:
    """Refuse suspension data that cannot be, with every problem of both ends and the sources at once."""
    check_bands(values, {"year": YEAR})
    problems: list[Problem] = []
    for end in ("front", "rear"):
        try:
            bodies.check_end(values.get(f"{prefix}{end}"), end, f"{prefix}{end}")
        except Refusal as refusal:
            problems += refusal.problems
    if "sources" in values:
        try:
            bodies.check_sources(values["sources"])
        except Refusal as refusal:
            problems += refusal.problems
    if problems:
        raise Refusal(*problems)
