"""How the numbers in a picture are written: in the units of whoever reads it, with the sign of the language in use."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from shops.language import signs

DRAWN = ("length", "force")
"""The quantities that a picture's numbers are of."""


def writing_of(units: Mapping[str, str]) -> dict[str, Any]:
    """Return what `calc.picture.picture` takes of these units (by quantity; metric without) and the language in use."""
    drawn = {quantity: units[quantity] for quantity in DRAWN if quantity in units}
    return {"units": drawn, "decimal": signs()[0]}
