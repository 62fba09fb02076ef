"""How the numbers in a picture are written: in the units of whoever reads it, with the sign of the language in use."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from calc.writing import Writing
from shops.language import signs

DRAWN = ("length", "force")
"""The quantities that a picture's numbers are of."""


def writing_of(units: Mapping[str, str]) -> dict[str, Any]:
    """Return what `calc.picture.picture` takes of these units (by quantity; metric without) and the language in use."""
    drawn = {quantity: units[quantity] for quantity in DRAWN if quantity in units}
    return {"units": drawn, "decimal": signs()[0]}


def written_for(units: Mapping[str, str]) -> Writing:
    """Return how the pictures of a look ahead write their axes: in these units, by quantity; metric without."""
    named = {quantity: units[quantity] for quantity in ("length", "force", "rate", "mass") if quantity in units}
    return Writing(**named, decimal=signs()[0])
