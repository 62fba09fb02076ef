"""The fork: springs and trapped air of its legs, summed, seen along the fork and at the wheel. SI.

A friction-free guide carries the side force, so the vertical wheel force times cos(rake) is the axial force.

Sources: [1] ISO 2533 and the gas laws of `calc.gas`. [2] Elementary statics of a friction-free guide. [3] That every
solid counts, submerged or not, and that the gap is read with the spring out, is common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from calc.gas import SLOW, TrappedAir, atmosphere
from calc.springs import Springs, Stops, spring_from, stops_from

Array = NDArray[np.float64]
Values = Array | float

ZERO_CELSIUS_K = 273.15


@dataclass(frozen=True)
class Leg:
    """One leg, or `count` equal ones (a number of legs): `springs` (None: empty) at its `preload` (m), and the `air`
    above the oil.

    Source: [2].

    >>> from calc.springs import straight
    >>> air = TrappedAir(area=0.002, volume=0.0006, pressure=101325.0, ambient=101325.0)
    >>> float(Leg(straight(4600.0), 0.01, air, count=2).all_springs.force_at(0.01))
    92.0
    """

    springs: Springs | None
    preload: Array | float
    air: TrappedAir
    count: int = 1

    @cached_property
    def all_springs(self) -> Springs | None:
        """The springs of all `count` legs as one."""
        return self.springs if self.springs is None or self.count == 1 else self.springs.scaled(self.count)

    @cached_property
    def all_air(self) -> TrappedAir:
        """The air of all `count` legs as one."""
        return replace(self.air, area=self.air.area * self.count, volume=self.air.volume * self.count)


@dataclass(frozen=True)
class Fork:
    """A front end: `stroke` (m), `rake` from the vertical (rad), its `legs` and `stops`.

    Its coordinate, `u` of the solvers, is the stroke `x` along the fork (m, any shape that broadcasts against the
    springs), 0 at full extension; the air follows `p Vⁿ = const` with the exponent `n`, 1 settling slowly to 1.4 in a
    hit. The methods return forces in N, rates in N/m, work in J and lengths in m, of the shape broadcast. Nothing
    here raises: what was not checked before gives NaN. Raises nothing. Source: [1], [2].

    Upright, two springs of 4.6 N/mm at 10 mm, vented: 92 N to move it, and 50 mm further on another 460 N and the
    air.

    >>> leg = {"spring": {"kind": "straight", "rate_n_per_mm": 4.6}, "preload_mm": 10, "seal_diameter_mm": 48,
    ...     "bore_diameter_mm": 42, "air_gap_mm": 110, "solids_cm3": 70}
    >>> fork = fork_from({"stroke_mm": 300, "rake_deg": 0, "legs": [leg, leg]})
    >>> [round(float(part), 6) for part in fork.parts(0.05)][0], round(float(fork.force_and_slope(0.0)[0]), 6)
    (552.0, 92.0)
    """

    stroke: float
    rake: float
    legs: tuple[Leg, ...]
    stops: Stops

    @property
    def travel(self) -> float:
        """The full stroke, m."""
        return self.stroke

    @property
    def steepness(self) -> float:
        """Vertical wheel travel per stroke: cos(rake)."""
        return math.cos(self.rake)

    def rises(self) -> bool:
        """Return True: spring, air and stops all rise with the stroke.

        Source: [2].
        """
        return True

    def springs_axial(self, x: Values) -> tuple[Array, Array]:
        """Return the springs' and stops' force along the fork (N) and its rate (N/m)."""
        force: Values = 0.0
        rate: Values = 0.0
        if not self.stops.idle:
            force, rate = self.stops.force_and_rate(x)
        for leg in self.legs:
            if leg.all_springs is not None:
                of_leg, rate_of_leg = leg.all_springs.force_and_rate(np.add(leg.preload, x))
                force, rate = force + of_leg, rate + rate_of_leg
        return np.asarray(force), np.asarray(rate)

    def air_axial(self, x: Values, n: float = SLOW) -> tuple[Array, Array]:
        """Return the air's force along the fork (N) and its rate (N/m), the air following `p Vⁿ = const`.

        The stroke is `x`.
        """
        force: Values = 0.0
        rate: Values = 0.0
        for leg in self.legs:
            of_leg, rate_of_leg = leg.all_air.force_and_rate(x, n)
            force, rate = force + of_leg, rate + rate_of_leg
        return np.asarray(force), np.asarray(rate)

    def parts(self, x: Values, n: float = SLOW) -> tuple[Array, Array]:
        """Return the springs' (stops included) and the air's share of the vertical force at the wheel, N."""
        return self.springs_axial(x)[0] / self.steepness, self.air_axial(x, n)[0] / self.steepness

    def along(self, x: Values, n: float = SLOW) -> tuple[Array, Array]:
        """Return the force along the fork (N) and its slope (N/m)."""
        force, rate = self.springs_axial(x)
        air, air_rate = self.air_axial(x, n)
        return force + air, rate + air_rate

    def force_and_slope(self, x: Values, n: float = SLOW) -> tuple[Array, Array]:
        """Return the vertical force at the wheel (N) and its slope along the fork (N/m)."""
        force, slope = self.along(x, n)
        return force / self.steepness, slope / self.steepness

    def work(self, x: Values, n: float = SLOW) -> Array:
        """Return the work in J from full extension to stroke `x`: ∫N dz, which equals ∫F_axial dx."""
        total: Values = self.stops.work(x)
        for leg in self.legs:
            total = total + leg.all_air.work(x, n)
            springs = leg.all_springs
            if springs is not None:
                total = total + springs.energy_at(np.add(leg.preload, x)) - springs.energy_at(leg.preload)
        return np.asarray(total)

    def spring_share(self, x: Values, load: Values) -> Array:
        """Return the force (N) each spring must give for the end to rest at `x` under a sprung load (N)."""
        others = self.air_axial(x)[0] + self.stops.force_and_rate(x)[0]
        return np.asarray((load * self.steepness - others) / self.carriers)

    @property
    def carriers(self) -> int:
        """The number of legs that carry a spring."""
        return sum(leg.count for leg in self.legs if leg.springs is not None)

    def spring_stroke(self, x: Values) -> Values:
        """Return how far the springs are compressed beyond their preload at `x`: as far as the fork.

        In m.
        """
        return x

    def with_springs(self, springs: Springs, preload: Values) -> Fork:
        """Return the same fork with `springs` at `preload` (m) in every leg that carries one."""
        return self._each_spring(lambda leg, _: replace(leg, springs=springs, preload=preload))

    def softened(self, factor: float) -> Fork:
        """Return the same fork with every spring's force multiplied by `factor`, preloads kept."""
        return self._each_spring(lambda leg, springs: replace(leg, springs=springs.scaled(factor)))

    def wound_up(self, by: Values) -> Fork:
        """Return the same fork with `by` (m) more preload on every spring."""
        return self._each_spring(lambda leg, springs: replace(leg, preload=leg.preload + by))

    def _each_spring(self, change: Callable[[Leg, Springs], Leg]) -> Fork:
        return replace(self, legs=tuple(leg if leg.springs is None else change(leg, leg.springs) for leg in self.legs))

    def with_less_air(self, volume: Array) -> Fork:
        """Return the same fork with `volume` (m³, one per spring) less air in each leg that has a spring."""
        return self._each_spring(
            lambda leg, springs: replace(leg, air=replace(leg.air, volume=leg.air.volume - volume))
        )

    def least_end_volume(self) -> float:
        """Return the least air left at full stroke in a leg that carries a spring, m³."""
        return min(
            float(np.min(leg.air.volume - leg.air.area * self.stroke)) for leg in self.legs if leg.springs is not None
        )

    def clearance(self) -> Array:
        """Return the least compression left before a spring goes solid, m; NaN where none is known."""
        least: Values = np.nan
        for leg in self.legs:
            if leg.springs is not None:
                least = np.fmin(least, leg.springs.solid - leg.preload - self.stroke)
        return np.asarray(least)


def bore_area(leg: Mapping[str, Any]) -> float:
    """Return the area in m² of a checked leg's oil where the gap is read: from its pour, or else its bore.

    The `pour` measures it: so many `cm3` that raised the oil by `rise_mm`: area = volume / rise.

    Raises nothing. Source: elementary geometry.

    >>> round(bore_area({"pour": {"cm3": 28, "rise_mm": 20}}), 9)
    0.0014
    """
    pour = leg.get("pour")
    if pour is not None:
        return float(pour["cm3"] / pour["rise_mm"] / 1000)
    return float(math.pi / 4 * (leg["bore_diameter_mm"] / 1000) ** 2)


def bore_mm(leg: Mapping[str, Any]) -> float:
    """Return the diameter in mm of a round bore with a checked leg's `bore_area`.

    Raises nothing. Source: elementary geometry.

    >>> round(bore_mm({"bore_diameter_mm": 42}), 9)
    42.0
    """
    return 1000 * math.sqrt(4 / math.pi * bore_area(leg))


@dataclass(frozen=True)
class Venting:
    """The air outside where the fork was shut (`shut`, Pa) and where it is ridden (`ambient`, Pa).

    `warmth` is the absolute temperature ridden over the one shut at. A shut leg keeps its gas: at one volume
    `P/T` stays (ideal gas law).

    Source: ideal gas law, from memory.

    >>> Venting(84556.0, 101325.0).warmth
    1.0
    """

    shut: float
    ambient: float
    warmth: float = 1.0


def venting_from(front: Mapping[str, Any]) -> Venting:
    """Return where a checked front end was vented, at its own altitude and temperature unless stated.

    Raises nothing. Source: [1]; ideal gas law, from memory.

    >>> venting_from({"altitude_m": 0, "vented_temperature_c": 20, "temperature_c": 20}).warmth
    1.0
    """
    ridden = front.get("altitude_m", 0.0)
    vented = front.get("vented_altitude_m")
    warm, shut_at = front.get("temperature_c"), front.get("vented_temperature_c")
    warmth = 1.0 if warm is None or shut_at is None else (warm + ZERO_CELSIUS_K) / (shut_at + ZERO_CELSIUS_K)
    return Venting(float(atmosphere(ridden if vented is None else vented)), float(atmosphere(ridden)), warmth)


def air_from(leg: Mapping[str, Any], stroke: float, venting: Venting) -> TrappedAir:
    """Return the air of a checked leg, vented or pressurised at full extension; `stroke` in m.

    The end volume is bore area times gap less all the solids, submerged or not; the leg's pressure is that
    above the air outside where it was shut.

    `venting` says where the leg was shut. Raises nothing. Source: [1], [3].

    A gap of 100 mm in a bore of 40 mm is 125.66 cm³; less 25.66 cm³ of solids, 100 cm³ are left at the stop.

    >>> leg = {"bore_diameter_mm": 40, "air_gap_mm": 100, "solids_cm3": 25.6637, "seal_diameter_mm": 48}
    >>> air = air_from(leg, 0.3, Venting(101325.0, 101325.0))
    >>> round(float(air.volume - air.area * 0.3) * 1e6, 3)
    100.0
    """
    area = math.pi / 4 * (leg["seal_diameter_mm"] / 1000) ** 2
    end_volume = bore_area(leg) * leg["air_gap_mm"] / 1000 - leg["solids_cm3"] * 1e-6
    pressure = (venting.shut + leg.get("pressure_kpa", 0.0) * 1000) * venting.warmth
    return TrappedAir(area, end_volume + area * stroke, pressure, venting.ambient)


def fork_from(front: Mapping[str, Any]) -> Fork:
    """Return the fork of a checked front end; equal legs are counted, not repeated.

    Raises nothing. Source: [1], [2].

    >>> leg = {"spring": {"kind": "straight", "rate_n_per_mm": 4.6}, "preload_mm": 10, "seal_diameter_mm": 48,
    ...     "bore_diameter_mm": 42, "air_gap_mm": 110, "solids_cm3": 70, "pressure_kpa": 0}
    >>> fork = fork_from({"stroke_mm": 300, "rake_deg": 0, "altitude_m": 0, "legs": [leg, dict(leg)]})
    >>> len(fork.legs), round(float(fork.force_and_slope(0.0)[0]), 6)
    (1, 92.0)
    """
    stroke = front["stroke_mm"] / 1000
    venting = venting_from(front)
    different: list[tuple[Mapping[str, Any], int]] = []
    for leg in front["legs"]:
        if different and different[0][0] == leg:
            different[0] = (leg, different[0][1] + 1)
        else:
            different.append((leg, 1))
    legs = []
    for leg, count in different:
        springs = None if leg.get("spring") is None else spring_from(leg["spring"])
        preload = 0.0 if springs is None else leg["preload_mm"] / 1000
        legs.append(Leg(springs, preload, air_from(leg, stroke, venting), count))
    return Fork(stroke, math.radians(front["rake_deg"]), tuple(legs), stops_from(front, stroke))
