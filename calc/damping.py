"""What a swing that dies away tells: damping ratio, wheel rate and damping; and what a change of spring asks for.

One mass on its spring with viscous damping: between two peaks `c` cycles apart whose amplitudes are as r to 1
the logarithmic decrement is δ = ln(r)/c, and ζ = δ/√(4π² + δ²). The damped period gives the rest.

Sources: [1] S. S. Rao, Mechanical Vibrations, ch. 2, logarithmic decrement, and its example of a motorcycle's shock
absorber. That the clicker's starting point is the same damping ratio is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import hypot, log, pi, sqrt
from types import MappingProxyType
from typing import Any

from calc.bands import Band
from calc.words import mark

BANDS: MappingProxyType[str, Band] = MappingProxyType(
    {
        "amplitude_ratio": Band(mark("the first peak over the last"), "", 1.01, 1000),
        "cycles": Band(mark("the number of swings between the two peaks"), "", 0.5, 20),
        "period_s": Band(mark("the time of one swing"), "s", 0.1, 5),
    }
)
"""What is accepted (common practice, no source)."""


@dataclass(frozen=True)
class Swing:
    """What a decay says: `damping_ratio` (without a unit), `rate_n_per_m` and `damping_n_s_per_m` at the wheel.

    Source: [1].

    >>> Swing(0.4037, 2358.3, 554.5).damping_ratio
    0.4037
    """

    damping_ratio: float
    rate_n_per_m: float
    damping_n_s_per_m: float


def swing(decay: Mapping[str, Any], mass_kg: float) -> Swing:
    """Return what a decay says of one mass on its spring.

    `decay` holds `amplitude_ratio` (first peak over last, above 1, without a unit), `cycles` between the two (half ones
    count) and `period_s`, the time of one damped swing in s; `mass_kg` is the mass that swings. With ω_d = 2π/T and
    ζω = δ/T: K = m(ω_d² + (ζω)²), c = 2mζω. Raises nothing for what was checked. Source: [1].

    Rao's motorcycle of 200 kg, 2 s, down to a quarter in half a swing, prints 0.4037, 2358.2652 N/m and 554.4981:

    >>> found = swing({"amplitude_ratio": 4, "cycles": 0.5, "period_s": 2}, 200)
    >>> round(found.damping_ratio, 4), round(found.rate_n_per_m, 1), round(found.damping_n_s_per_m, 1)
    (0.4037, 2358.3, 554.5)
    """
    decrement = log(decay["amplitude_ratio"]) / decay["cycles"]
    fade, turn = decrement / decay["period_s"], 2 * pi / decay["period_s"]
    return Swing(decrement / hypot(2 * pi, decrement), mass_kg * (turn**2 + fade**2), 2 * mass_kg * fade)


def growth(before: float, after: float) -> float:
    """Return the factor √(K₂/K₁) on the damping that keeps the damping ratio, without a unit.

    `before` and `after` are the wheel rates, both above 0 and in one unit, at one mass. Raises ZeroDivisionError where
    `before` is 0. Source: ζ = c/(2√(Km)) of [1].

    >>> growth(16.0, 25.0)
    1.25
    """
    return sqrt(after / before)
