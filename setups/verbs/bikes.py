"""What can be done to bikes."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.db import transaction

from calc.refusal import Problem, Refusal
from calc.words import say
from setups import bodies
from setups.chassis_data import check_chassis
from setups.limits import YEAR
from setups.models import Bike
from setups.verbs.guard import change, check_bands
from shops import trail
from shops.access import everywhere
from shops.refusals import blocked, wrong
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
    """Change what is known of a bike. Cards opened before keep the settings that they started from.

    An owner may be entered where there was none; from one owner to another is `ownership.change_owner`.
    """
    require_not_merged(bike)
    check_data(values)
    if bike.owner_id is not None and "owner" in values and values["owner"] != bike.owner:
        text = say(
            "This bike has an owner: change the owner with a reason, which keeps the former one from its history.",
        )
        raise wrong("owner", "change_owner", text)
    return change(actor, "change bike", bike, version, values)


def require_not_merged(bike: Bike) -> None:
    """Refuse to work on a bike that was entered twice and is hidden behind the one that was kept.

    The row stays locked, so that nothing is hung on a bike while it is merged.
    """
    held = everywhere(Bike, why="a bike already held").select_for_update().get(pk=bike.pk)
    if held.merged_into is not None:
        text = say(
            "This bike was entered twice and is now part of {merged_into}: go on with that one.",
            merged_into=held.merged_into,
        )
        raise blocked("merged", text)


def check_data(values: Mapping[str, Any], prefix: str = "") -> None:
    """Refuse suspension data that cannot be, with every problem of both ends and the sources at once."""
    check_bands(values, {"year": YEAR})
    problems: list[Problem] = []
    for end in ("front", "rear"):
        try:
            bodies.check_end(values.get(f"{prefix}{end}"), end, f"{prefix}{end}")
        except Refusal as refusal:
            problems += refusal.problems
    if values.get("chassis") is not None:
        try:
            check_chassis(values["chassis"])
        except Refusal as refusal:
            problems += refusal.problems
    if "sources" in values:
        try:
            bodies.check_sources(values["sources"])
        except Refusal as refusal:
            problems += refusal.problems
    if problems:
        raise Refusal(*problems)
