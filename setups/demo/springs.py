"""The demo's spring list: what lies on the shelf of each shop, wound so that geometry and stamp agree.

A family is springs of one outer (fork) or inner (shock) diameter and one free length. For each stamped rate
the thickest wire (in steps of 0.1 mm) is taken that leaves the deflection which the bikes need, and as many
turns as give the stamped rate; volume, mass and solid length then follow from calc's own coil. The stress is
high, as it is in this trade: such springs are set (scragged) by their maker.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from calc.coil import ENDS, coil, rate_n_per_mm, solid_length_mm
from calc.materials import MATERIALS

STYLE = "closed_ground"
DEAD_TURNS = ENDS[STYLE].dead
THINNEST_TENTHS, THICKEST_TENTHS = 25, 200
LEAST_INDEX = 4.0


@dataclass(frozen=True)
class Family:
    """Springs alike but for their rate; `across_mm`: outer diameter of a fork's, inner of a shock's.

    `reach_mm` is the deflection that must be left before the spring goes solid.
    """

    prefix: str
    name: str
    end: str
    material: str
    across_mm: float
    free_length_mm: float
    reach_mm: float
    springs: tuple[Mapping[str, Any], ...]


@dataclass(frozen=True)
class SpringData:
    """One line of a shop's spring list, field by field as the list keeps it."""

    end: str
    code: str
    label: str
    spring: Mapping[str, Any]
    material: str
    active_turns: float
    wire_mm: float
    outer_diameter_mm: float
    inner_diameter_mm: float
    free_length_mm: float
    displaced_cm3: float
    mass_g: float
    batch: str
    stock: int


def straight(first: float, last: float, step: float) -> tuple[dict[str, Any], ...]:
    """Return straight springs stamped `first` to `last` N/mm in steps of `step`."""
    count = round((last - first) / step) + 1
    return tuple({"kind": "straight", "rate_n_per_mm": round(first + i * step, 3)} for i in range(count))


def dual(soft: float, hard: float, change_mm: float) -> dict[str, Any]:
    """Return a dual-rate spring (N/mm, change-over deflection of the whole spring in mm)."""
    return {"kind": "dual", "soft_n_per_mm": soft, "hard_n_per_mm": hard, "change_mm": change_mm}


def progressive(start: float, end: float, over_mm: float) -> dict[str, Any]:
    """Return a progressive spring (N/mm, deflection over which the rate rises in mm)."""
    return {"kind": "progressive", "start_n_per_mm": start, "end_n_per_mm": end, "over_mm": over_mm}


CARBON, CHROME_SILICON, TITANIUM = "en10270_1_sm", "a401", "titanium"

FAMILIES = (
    Family("D48", "48 mm dirt fork", "front", CARBON, 41.0, 485.0, 322.0, straight(3.2, 5.4, 0.2)),
    Family(
        "D48L", "48 mm dirt fork, light", "front", CHROME_SILICON, 40.0, 470.0, 322.0, straight(3.8, 5.0, 0.2)
    ),
    Family(
        "E48",
        "48 mm dirt fork, one-leg",
        "front",
        CHROME_SILICON,
        41.5,
        500.0,
        318.0,
        straight(5.6, 9.6, 0.4),
    ),
    Family("A45", "45 mm adventure fork", "front", CARBON, 36.0, 400.0, 250.0, straight(5.0, 7.6, 0.2)),
    Family(
        "A45D",
        "45 mm adventure fork",
        "front",
        CARBON,
        36.0,
        420.0,
        250.0,
        (dual(4.8, 6.4, 110.0), dual(5.2, 7.2, 110.0), dual(5.6, 8.0, 110.0)),
    ),
    Family("R41", "41 mm street fork", "front", CARBON, 33.5, 330.0, 175.0, straight(5.8, 9.4, 0.4)),
    Family(
        "R41P",
        "41 mm street fork",
        "front",
        CARBON,
        33.5,
        345.0,
        175.0,
        (progressive(5.4, 8.2, 110.0), progressive(6.0, 9.2, 110.0), progressive(6.6, 10.0, 110.0)),
    ),
    Family("T43", "43 mm track fork", "front", CHROME_SILICON, 34.5, 290.0, 150.0, straight(8.0, 13.0, 0.5)),
    Family("L62", "dirt shock, 62 mm", "rear", CHROME_SILICON, 62.0, 270.0, 150.0, straight(38, 60, 2)),
    Family("L62T", "dirt shock, 62 mm, light", "rear", TITANIUM, 62.0, 270.0, 150.0, straight(44, 54, 2)),
    Family(
        "L62P",
        "dirt shock, 62 mm",
        "rear",
        CHROME_SILICON,
        62.0,
        275.0,
        150.0,
        (progressive(42.0, 52.0, 110.0), progressive(46.0, 58.0, 110.0)),
    ),
    Family("B60", "adventure shock, 60 mm", "rear", CHROME_SILICON, 60.0, 225.0, 112.0, straight(78, 134, 4)),
    Family("C57", "track shock, 57 mm", "rear", CHROME_SILICON, 57.0, 175.0, 84.0, straight(75, 105, 3)),
    Family("W44", "twin shock, 44 mm", "rear", CARBON, 44.0, 245.0, 125.0, straight(14, 28, 2)),
    Family(
        "W44P",
        "twin shock, 44 mm",
        "rear",
        CARBON,
        44.0,
        255.0,
        125.0,
        (progressive(15.0, 21.0, 85.0), progressive(18.0, 25.0, 85.0)),
    ),
    Family("W44D", "twin shock, 44 mm", "rear", CARBON, 44.0, 255.0, 125.0, (dual(16.0, 22.0, 45.0),)),
)

NAMES = {
    CARBON: "carbon steel, EN 10270-1 SM",
    CHROME_SILICON: "chrome-silicon steel",
    TITANIUM: "titanium alloy",
}
"""How the list words each material."""


TESTED: Mapping[tuple[str, str], Mapping[str, list[float]]] = {
    ("HAR", "D48-4.4"): {
        "deflection_mm": [50.0, 100.0, 150.0, 200.0, 250.0, 300.0],
        "force_n": [206.0, 413.0, 617.0, 824.0, 1030.0, 1235.0],
    },
}
"""What the spring tester read of a line, by shop and code: one that is softer than its stamp says."""


def shelf(shop: str) -> Iterator[SpringData]:
    """Yield the spring list of the shop with code `shop`, in a fixed order and with fixed stock counts.

    The second shop keeps no light springs, so that a spring may have to come from the first.
    """
    number = 0
    for family in FAMILIES:
        if shop == "HIL" and family.prefix in {"D48L", "L62T"}:
            continue
        for spring in family.springs:
            number += 1
            # A spread of counts with a few empty places; forks need pairs, so most counts are even.
            stock = (number * 7 + len(shop) + ord(shop[1])) % 5 * 2
            yield _wound(family, spring, f"{shop}-{2300 + number * 3}", stock)


def softest(spring: Mapping[str, Any]) -> float:
    """Return the rate in N/mm with every turn at work."""
    return float(
        spring[
            {"straight": "rate_n_per_mm", "dual": "soft_n_per_mm", "progressive": "start_n_per_mm"}[
                spring["kind"]
            ]
        ]
    )


def stamp(spring: Mapping[str, Any]) -> str:
    """Return the rate as it is stamped on the spring."""
    if spring["kind"] == "straight":
        return (
            f"{spring['rate_n_per_mm']:.1f}"
            if spring["rate_n_per_mm"] < 30
            else f"{spring['rate_n_per_mm']:.0f}"
        )
    pair = (
        ("soft_n_per_mm", "hard_n_per_mm") if spring["kind"] == "dual" else ("start_n_per_mm", "end_n_per_mm")
    )
    return "-".join(f"{spring[key]:.1f}" for key in pair)


def _wound(family: Family, spring: Mapping[str, Any], batch: str, stock: int) -> SpringData:
    wire, mean, active = _wire(family, softest(spring))
    made = coil(
        {
            "wire_mm": wire,
            "mean_diameter_mm": mean,
            "active_turns": active,
            "total_turns": active + DEAD_TURNS,
            "ends": STYLE,
            "material": family.material,
        }
    )
    rate = stamp(spring)
    kind = "" if spring["kind"] == "straight" else f", {spring['kind']}"
    return SpringData(
        end=family.end,
        code=f"{family.prefix}-{rate}",
        label=f"{family.name} {rate} N/mm{kind}",
        spring={**spring, "solid_deflection_mm": round(family.free_length_mm - made["solid_length_mm"], 1)},
        material=family.material,
        active_turns=active,
        wire_mm=wire,
        outer_diameter_mm=round(mean + wire, 2),
        inner_diameter_mm=round(mean - wire, 2),
        free_length_mm=family.free_length_mm,
        displaced_cm3=round(made["displaced_cm3"], 1),
        mass_g=round(made["mass_g"]),
        batch=batch,
        stock=stock,
    )


def _wire(family: Family, rate: float) -> tuple[float, float, float]:
    """Return wire and mean diameter in mm and the active turns of a family's spring of `rate` N/mm."""
    material = MATERIALS[family.material]
    for tenths in range(THICKEST_TENTHS, THINNEST_TENTHS, -1):
        wire = tenths / 10
        mean = round(family.across_mm + (wire if family.end == "rear" else -wire), 2)
        if mean / wire < LEAST_INDEX:
            continue
        # The rate falls as one over the turns: what one turn would have tells how many are needed.
        active = round(rate_n_per_mm(material.at(wire).shear_gpa, wire, mean, 1.0) / rate, 2)
        if family.free_length_mm - solid_length_mm(wire, active + DEAD_TURNS, STYLE) >= family.reach_mm:
            return wire, mean, active
    raise ValueError(f"No wire gives {rate} N/mm in the family {family.prefix}.")
