"""What can be done to customers and riders. Their values are personal: the trail only says which fields
changed.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.db import transaction

from calc.checks import check_person
from setups.models import Customer, Rider
from setups.verbs.guard import change, require_not_erased
from shops import trail
from shops.trail import Actor


@transaction.atomic
def add_customer(actor: Actor, **values: Any) -> Customer:
    """Take in a new customer of the actor's business."""
    customer = Customer.objects.create(business_id=actor.person.business_id, **values)
    trail.record(actor, "add customer", customer, None, values)
    return customer


@transaction.atomic
def change_customer(actor: Actor, customer: Customer, version: int, values: Mapping[str, Any]) -> Customer:
    """Change a customer's name, phone, e-mail or notes."""
    require_not_erased(customer)
    return change(actor, "change customer", customer, version, values)


@transaction.atomic
def add_rider(actor: Actor, *, customer: Customer, **values: Any) -> Rider:
    """Add a rider of a customer's; the mass, in full kit, may be left blank but not be unbelievable."""
    require_not_erased(customer)
    _check_mass(values)
    rider = Rider.objects.create(customer=customer, **values)
    trail.record(actor, "add rider", rider, None, {"customer": customer, **values})
    return rider


@transaction.atomic
def change_rider(actor: Actor, rider: Rider, version: int, values: Mapping[str, Any]) -> Rider:
    """Change a rider's name or mass in kit."""
    require_not_erased(rider.customer)
    _check_mass(values)
    return change(actor, "change rider", rider, version, values)


def _check_mass(values: Mapping[str, Any]) -> None:
    if values.get("mass_in_kit_kg") is not None:
        check_person(values["mass_in_kit_kg"], "mass_in_kit_kg")
