"""How the numbers in a picture are written for the person who looks at it: the units are theirs."""

from __future__ import annotations

from typing import Any

from shops.models import Person

DRAWN = ("length", "force")
"""The quantities that a picture's numbers are of."""


def writing_of(person: Person) -> dict[str, Any]:
    """Return what `calc.picture.picture` takes of units."""
    return {"units": {quantity: person.units[quantity] for quantity in DRAWN if quantity in person.units}}
