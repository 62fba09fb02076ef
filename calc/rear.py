"""The rear: one shock or two through a leverage, seen at the shock and at the wheel. SI.

`N = F_shock·r(z)` with `r = ds/dz`; the wheel rate `k r² + F_shock·dr/dz` keeps its second term.

Sources: [1] Elementary statics and elementary calculus (virtual work: N dz = F ds). [2] What a shock's gas pushes,
pressure times rod area, is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from calc.gas import SLOW
from calc.leverage import Leverage, leverage_from
from calc.springs import Springs, Stops, spring_from, stops_from

Array = NDArray[np.float64]
Values = Array | float

LOOK = 401


@dataclass(frozen=True)
class Rear:
    """A rear end: `wheel_travel` (m), the number of `shocks`, their `leverage`; `springs`, `preload` (m), `gas_force`
    (N) and `stops` are of one shock.

    Its coordinate, `u` of the solvers, is the vertical travel `z` (m, any shape that broadcasts against the springs),
    0 at full extension; the exponent `n` of the air has no effect here. The methods return forces in N, rates in N/m,
    work in J and lengths in m, of the shape broadcast. Raises nothing. Source: [1], [2].

    Both terms of the wheel rate, k r² + F dr/dz, are the slope of the force, here by a central difference:

    >>> end = rear_from({"wheel_travel_mm": 100, "preload_mm": 10, "leverage": {"kind": "table",
    ...     "wheel_mm": [0, 50, 100], "shock_mm": [0, 20, 42]}, "spring": {"kind": "straight", "rate_n_per_mm": 50}})
    >>> step = (end.force_and_slope(0.030001)[0] - end.force_and_slope(0.029999)[0]) / 0.000002
    >>> abs(float(end.force_and_slope(0.03)[1] - step)) < 0.5
    True
    """

    wheel_travel: float
    shocks: int
    leverage: Leverage
    springs: Springs
    preload: Values
    gas_force: float
    stops: Stops

    @property
    def travel(self) -> float:
        """The full wheel travel, m."""
        return self.wheel_travel

    @property
    def steepness(self) -> float:
        """Vertical wheel travel per `u`: one."""
        return 1.0

    def rises(self) -> bool:
        """Return whether the wheel force rises along the whole travel for every spring, seen on a grid.

        The springs are taken unscaled: a few per cent of scale are left to the solver's own care.
        """
        return self._rises

    @cached_property
    def _rises(self) -> bool:
        plain = replace(self, springs=replace(self.springs, scale=1.0))
        each = np.linspace(0, self.wheel_travel, LOOK)
        slope = plain.force_and_slope(each.reshape((LOOK,) + (1,) * len(plain.springs.shape)))[1]
        return float(np.min(slope)) >= 0

    def shock_spring(self, stroke: Values) -> tuple[Array, Array]:
        """Return force (N) and rate (N/m) of one shock's spring and stops at `stroke` (m), without gas."""
        force, rate = self.springs.force_and_rate(np.add(self.preload, stroke))
        if self.stops.idle:
            return force, rate
        stop, stop_rate = self.stops.force_and_rate(stroke)
        return force + stop, rate + stop_rate

    def parts(self, z: Values, n: float = SLOW) -> tuple[Array, Array]:
        """Return the springs' (stops included) and the gas's share of the wheel force, N, whatever `n`."""
        stroke, r, _ = self.leverage.motion(z)
        return self.shocks * r * self.shock_spring(stroke)[0], self.shocks * r * self.gas_force

    def force_and_slope(self, z: Values, n: float = SLOW) -> tuple[Array, Array]:
        """Return the vertical force at the wheel (N) and the wheel rate (N/m); `n` has no effect here.

        The travel is `z`.
        """
        stroke, r, change = self.leverage.motion(z)
        force, rate = self.shock_spring(stroke)
        force = force + self.gas_force
        return self.shocks * (force * r), self.shocks * (rate * r**2 + force * change)

    def along(self, z: Values, n: float = SLOW) -> tuple[Array, Array]:
        """Return the force along the end's own coordinate, which is the vertical one, and its slope.

        In N and N/m.
        """
        return self.force_and_slope(z, n)

    def work(self, z: Values, n: float = SLOW) -> Array:
        """Return the work in J from full extension to travel `z`: ∫N dz, which equals the shocks' ∫F ds."""
        stroke = self.leverage.stroke(z)
        stored = self.springs.energy_at(np.add(self.preload, stroke)) - self.springs.energy_at(self.preload)
        return np.asarray(self.shocks * (stored + self.gas_force * stroke + self.stops.work(stroke)))

    def spring_share(self, z: Values, load: Values) -> Array:
        """Return the force (N) each spring must give for the end to rest at `z` under a sprung load (N)."""
        stroke, r, _ = self.leverage.motion(z)
        return np.asarray(load / (self.shocks * r) - self.gas_force - self.stops.force_and_rate(stroke)[0])

    def spring_stroke(self, z: Values) -> Array:
        """Return how far the springs are compressed beyond their preload: the shock's stroke at `z`.

        In m.
        """
        return self.leverage.stroke(z)

    def with_springs(self, springs: Springs, preload: Values) -> Rear:
        """Return the same rear with `springs` at `preload` (m) in every shock."""
        return replace(self, springs=springs, preload=preload)

    def softened(self, factor: float) -> Rear:
        """Return the same rear with every spring's force multiplied by `factor`, preload kept."""
        return replace(self, springs=self.springs.scaled(factor))

    def wound_up(self, by: Values) -> Rear:
        """Return the same rear with `by` (m) more preload on every spring."""
        return replace(self, preload=self.preload + by)

    def clearance(self) -> Array:
        """Return the compression left before the spring goes solid, m; NaN where it is not known."""
        return np.asarray(self.springs.solid - self.preload - self.leverage.stroke(self.wheel_travel))


def rear_from(rear: Mapping[str, Any]) -> Rear:
    """Return the rear of a checked request.

    Raises `Refusal` for a linkage that cannot be. Source: [1].

    >>> end = rear_from({"wheel_travel_mm": 300, "shocks": 1, "gas_force_n": 250, "preload_mm": 10,
    ...     "leverage": {"kind": "ratio", "wheel_per_shock": 2.5},
    ...     "spring": {"kind": "straight", "rate_n_per_mm": 50}})
    >>> [round(float(part), 6) for part in end.force_and_slope(0.0)]  # (50·10 + 250)/2.5 N, 50 000/2.5² N/m
    [300.0, 8000.0]
    """
    travel = rear["wheel_travel_mm"] / 1000
    leverage = leverage_from(rear["leverage"])
    return Rear(
        travel,
        int(rear.get("shocks", 1)),
        leverage,
        spring_from(rear["spring"]),
        rear["preload_mm"] / 1000,
        rear.get("gas_force_n", 0.0),
        stops_from(rear, float(leverage.stroke(travel))),
    )
