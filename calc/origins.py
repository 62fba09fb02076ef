"""How sure each input of an end is, by where it comes from: one table of standard uncertainties, and draws from it.

All figures are common practice, no source; a value of one's own goes first. A measured input is drawn from a
normal distribution, every other from a rectangular one of the same standard deviation (JCGM 101:2008, 6.4.2
and 6.4.7, from memory). Legs share their errors: one instrument read both, one stamp names both springs.

Numbered: [1] JCGM 101:2008, 6.4.2 (rectangular) and 6.4.7 (normal), from memory. [2] The table of uncertainties:
common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from calc.bands import Band
from calc.words import mark, say

Array = NDArray[np.float64]

ORIGINS = ("measured", "stamped", "manual", "assumed")
MOST_U = Band(mark("a standard uncertainty of one's own"), "", 0, 100)


@dataclass(frozen=True)
class Quantity:
    """One kind of input: `what` names it, `u` is its standard uncertainty by origin, in the own `unit` (% of the
    value where so said).

    `reading` words how it is read, empty for what no reading can take away. Raises ValueError for an origin that is
    none of `ORIGINS`. Source: [2].

    >>> QUANTITIES["preload_mm"].by("measured")
    0.5
    """

    what: str
    unit: str
    u: tuple[float, float, float, float]
    reading: str = ""

    def by(self, origin: str) -> float:
        """Return the standard uncertainty of an `origin`.

        In the quantity's own unit.
        """
        return self.u[ORIGINS.index(origin)]


QUANTITIES: MappingProxyType[str, Quantity] = MappingProxyType(
    {
        "load_static_kg": Quantity(
            mark("the axle load of the bike alone"), "kg", (0.6, 2.0, 2.0, 4.0), mark(
                "Weigh the {end} axle, the bike alone",
            )
        ),
        "load_rider_kg": Quantity(
            mark(
                "the axle load with the rider",
            ), "kg", (0.6, 3.0, 3.0, 5.0), mark("Weigh the {end} axle with the rider")
        ),
        "unsprung_kg": Quantity(mark("the unsprung mass"), "kg", (0.3, 1.0, 1.0, 2.0), mark(
            "Weigh the {end} unsprung parts",
        )),
        "rake_deg": Quantity(mark("the rake"), "°", (0.3, 0.3, 0.3, 1.5), mark("Measure the rake")),
        "spring": Quantity(mark("the spring's rate"), "%", (0.8, 2.9, 2.9, 8.0), mark("Test the spring's rate")),
        "preload_mm": Quantity(mark("the preload"), "mm", (0.5, 1.0, 1.0, 3.0), mark("Measure the preload")),
        "seal_diameter_mm": Quantity(mark("the seal diameter"), "mm", (0.05, 0.1, 0.1, 0.5), mark(
            "Measure the seal diameter",
        )),
        "bore_diameter_mm": Quantity(mark("the bore diameter"), "mm", (0.05, 0.1, 0.1, 0.5), mark(
            "Measure the bore diameter",
        )),
        "air_gap_mm": Quantity(mark("the air gap"), "mm", (1.0, 3.0, 3.0, 8.0), mark("Read the air gap")),
        "solids_cm3": Quantity(
            mark("the volume of the solids"), "cm³", (2.0, 5.0, 5.0, 12.0), mark(
                "Measure what spring and spacer displace",
            )
        ),
        "pressure_kpa": Quantity(mark("the air pressure"), "kPa", (2.0, 5.0, 5.0, 15.0), mark(
            "Read the fork's air pressure",
        )),
        "leverage": Quantity(mark(
            "the leverage",
        ), "%", (1.0, 2.0, 2.0, 6.0), mark("Measure wheel against shock travel")),
        "gas_force_n": Quantity(mark("the shock's gas force"), "N", (10.0, 25.0, 25.0, 60.0), mark(
            "Measure the gas force",
        )),
        "friction_static_mm": Quantity(mark("friction in the static sag"), "mm", (0.3, 0.6, 0.6, 0.6)),
        "friction_rider_mm": Quantity(mark("friction in the rider sag"), "mm", (0.3, 0.6, 0.6, 0.6)),
    }
)
"""Standard uncertainties as (measured, stamped, manual, assumed): common practice, no source."""

_SHARED = ("load_static_kg", "load_rider_kg", "unsprung_kg", "spring", "preload_mm")
_FRICTION = ("friction_static_mm", "friction_rider_mm")
_FORK = ("rake_deg", "seal_diameter_mm", "bore_diameter_mm", "air_gap_mm", "solids_cm3", "pressure_kpa")
FIELDS: Mapping[str, tuple[str, ...]] = {
    "front": (*_SHARED, *_FORK, *_FRICTION),
    "rear": (*_SHARED, "leverage", "gas_force_n", *_FRICTION),
}


@dataclass(frozen=True)
class Input:
    """One input of an end: its `field`, its `origin`, its standard uncertainty `u` in the quantity's own unit, and
    whether its errors are `normal` (else rectangular).

    Raises KeyError for a field that is none of `QUANTITIES`. Source: [1], [2].

    >>> Input("preload_mm", "assumed", 3.0, normal=False).left  # 0.5 mm measured, of 3 mm
    0.16666666666666666
    """

    field: str
    origin: str
    u: float
    normal: bool

    @property
    def quantity(self) -> Quantity:
        """The kind of input."""
        return QUANTITIES[self.field]

    @property
    def left(self) -> float:
        """The part of the uncertainty that stays when it is read with the usual instrument, 0 to 1."""
        return min(1.0, self.quantity.by("measured") / self.u) if self.u > 0 else 1.0

    def reading(self, end: str) -> str:
        """Return how it is read ("Weigh the front axle with the rider"), empty where no reading helps."""
        return say(self.quantity.reading, end=say(end))


def inputs_of(end: Mapping[str, Any], name: str, sources: Mapping[str, Any]) -> list[Input]:
    """Return every input of a checked end (`name` front or rear) that can be wrong.

    `sources` maps a field to {"from": origin, "u": its own standard uncertainty or None}; what it leaves out
    is assumed, friction excepted. A fork without pressure has no gauge to be wrong.

    Raises nothing for what was checked. Source: [2].

    >>> rear = inputs_of({}, "rear", {"spring": {"from": "stamped"}})
    >>> [(each.origin, each.u) for each in rear if each.field in ("spring", "leverage")]
    [('stamped', 2.9), ('assumed', 6.0)]
    """
    pressed = any(leg.get("pressure_kpa") for leg in end.get("legs") or [])
    found = []
    for field in FIELDS[name]:
        if field == "pressure_kpa" and not pressed:
            continue
        source = sources.get(field) or {}
        origin, own = source.get("from") or "assumed", source.get("u")
        u = QUANTITIES[field].by(origin) if own is None else float(own)
        found.append(Input(field, origin, u, normal=own is not None or origin == "measured"))
    return found


def draws(inputs: Sequence[Input], samples: int, seed: int) -> dict[str, Array]:
    """Return `samples` errors of each input, in its own unit; the same seed always gives the same ones.

    `inputs` are those of an end, `seed` any whole number. Raises nothing. Source: [1].

    >>> errors = draws(inputs_of({}, "rear", {}), 4000, 1)["leverage"]
    >>> errors.shape, bool(abs(errors.std() - 6.0) < 0.1), bool(abs(errors).max() <= 6.0 * 3**0.5)
    ((4000,), True, True)
    """
    random = np.random.default_rng(seed)
    wide = math.sqrt(3.0)
    return {
        each.field: each.u * (random.normal(size=samples) if each.normal else random.uniform(-wide, wide, samples))
        for each in inputs
    }
