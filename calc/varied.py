"""An end of the bike with every input off by so much, for any number of such errors in one set of arrays.

Sources: [1] JCGM 101:2008, 7.3 (evaluating the model for every sample), from memory. [2] That legs share their
errors, one instrument having read both: common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from calc.evaluate import end_from, sprung_load
from calc.fork import Fork, Leg, bore_mm
from calc.gas import STANDARD_GRAVITY, TrappedAir
from calc.leverage import Leverage
from calc.rear import Rear
from calc.solve import settle
from calc.springs import Springs

Array = NDArray[np.float64]
Values = Array | float

LEAST_AIR = 0.05
"""The part of the stated end volume that errors of gap, bore and solids always leave: less would not move."""


@dataclass(frozen=True)
class ScaledLeverage:
    """A leverage whose shock stroke is `factor` times that of `stated` at every wheel travel.

    Raises nothing. Source: [1].

    >>> from calc.leverage import ratio
    >>> ScaledLeverage(ratio(2.5), np.array([1.0, 1.1])).stroke(0.1).round(6).tolist()
    [0.04, 0.044]
    """

    stated: Leverage
    factor: Array

    def stroke(self, travel: Values) -> Array:
        """Return the shock stroke (m) at wheel travel `travel` (m), broadcast against the factors."""
        return np.asarray(self.stated.stroke(travel) * self.factor)

    def motion(self, travel: Values) -> tuple[Array, Array, Array]:
        """Return the shock stroke, the motion ratio and its change, broadcast against the factors.

        The stroke is in m at wheel travel `travel` (m).
        """
        stroke, ratio, change = self.stated.motion(travel)
        return stroke * self.factor, ratio * self.factor, change * self.factor


@dataclass(frozen=True)
class VariedRear(Rear):
    """A rear whose leverage and preload carry errors; whether it rises is told from the end as stated.

    The field `stated` is that end. Source: [1].

    >>> from calc.rear import rear_from
    >>> plain = rear_from({"wheel_travel_mm": 300, "preload_mm": 0, "leverage": {"kind": "ratio",
    ...     "wheel_per_shock": 2.5}, "spring": {"kind": "straight", "rate_n_per_mm": 50}})
    >>> VariedRear(**{each.name: getattr(plain, each.name) for each in fields(Rear)}, stated=plain).rises()
    True
    """

    stated: Rear | None = None

    @cached_property
    def _rises(self) -> bool:
        return True if self.stated is None else self.stated.rises()


@dataclass(frozen=True)
class Varied:
    """An end at `errors` (field → errors in its own unit, all of one shape): the end and its sprung loads, N.

    `turned` is what a rake's error makes of a wheel load along the fork. The stroke and the wheel travel are
    taken as exact.

    `loads` are the sprung ones, in N, static and rider; `turned` is a factor without a unit. Raises nothing. Source:
    [1], [2].

    >>> rear = {"wheel_travel_mm": 300, "unsprung_kg": 22, "load_static_kg": 57, "load_rider_kg": 112,
    ...     "leverage": {"kind": "ratio", "wheel_per_shock": 2.5}, "preload_mm": 0,
    ...     "spring": {"kind": "straight", "rate_n_per_mm": 50}}
    >>> off = varied(rear, "rear", {"spring": np.array([0.0, 25.0])})  # a quarter more rate, a fifth less sag
    >>> sag = off.sags()[1]
    >>> round(float(sag[1] / sag[0]), 9)
    0.8
    """

    end: Fork | Rear
    loads: tuple[Array, Array]
    errors: Mapping[str, Array]
    turned: Values = 1.0

    def fitted(self, springs: Springs, preload: Values) -> Fork | Rear:
        """Return the end with other `springs` at `preload` (m), the errors of rate and preload on top."""
        scaled = springs.scaled(1 + self._error("spring") / 100)
        return self.end.with_springs(scaled, np.add(preload, self._error("preload_mm") / 1000))

    def sags(self, end: Fork | Rear | None = None) -> tuple[Array, Array]:
        """Return the static and the rider sag (m, along the end's own coordinate), friction added.

        An end that is topped out or on its stop stays there, whatever the friction.
        """
        held = self.end if end is None else end
        return self._sag(held, 0, "static"), self._sag(held, 1, "rider")

    def wheel_rate(self) -> Array:
        """Return the vertical wheel rate (N/m) where the rider's load rests, friction apart, error by error."""
        slope = self.end.force_and_slope(settle(self.end, self.loads[1]))[1]
        return np.asarray(slope / (self.end.steepness * self.turned * self.turned))

    def _sag(self, end: Fork | Rear, state: int, word: str) -> Array:
        rest = settle(end, self.loads[state])
        held = (rest <= 0) | (rest >= end.travel)
        moved = np.clip(rest + self._error(f"friction_{word}_mm") / 1000, 0.0, end.travel)
        return np.where(held, rest, moved)

    def needed(self, static: float, rider: float) -> tuple[Array, Array]:
        """Return rate (N/m) and preload (m) of the straight spring that gives the two sags (m), error by error.

        The closed form of `calc.needed`; the preload is NaN where the rate is not above zero.

        The sags `static` and `rider` are in m along the end's own coordinate.
        """
        low, high = (self.end.spring_share(u, load) for u, load in zip((static, rider), self.loads, strict=True))
        first, second = (np.asarray(self.end.spring_stroke(u)) for u in (static, rider))
        rate = (high - low) / (second - first)
        preload = np.where(rate > 0, low / np.where(rate > 0, rate, 1.0) - first, np.nan)
        return rate, preload

    def load_at(self, sag: float) -> tuple[Array, Array]:
        """Return the sprung load (N at the wheel) that rests at `sag` (m), and its slope (N/m), error by error."""
        force, slope = self.end.force_and_slope(np.asarray(sag))
        return np.asarray(force / self.turned), np.asarray(slope / self.turned)

    def _error(self, field: str) -> Values:
        return self.errors.get(field, 0.0)


def varied(given: Mapping[str, Any], name: str, errors: Mapping[str, Array]) -> Varied:
    """Return a checked end (`name` front or rear) at `errors`, its present springs included.

    A rake's error turns the wheel load into another force along the fork, so it is laid on the load.

    `given` is that mapping. Raises nothing. Source: [1], [2].

    A tenth less rate, 4 kg more load: the sag by hand.

    >>> rear = {"wheel_travel_mm": 300, "unsprung_kg": 22, "load_static_kg": 57, "load_rider_kg": 112,
    ...     "leverage": {"kind": "ratio", "wheel_per_shock": 2.5}, "preload_mm": 7,
    ...     "spring": {"kind": "straight", "rate_n_per_mm": 52}}
    >>> off = varied(rear, "rear", {"spring": np.array([0.0, -10.0]), "load_rider_kg": np.array([0.0, 4.0])})
    >>> (off.sags()[1] * 1000).round(2).tolist(), round((94 * 9.80665 * 2.5 / 46.8 - 7) * 2.5, 2)
    ([88.58, 105.61], 105.61)
    """
    end = end_from(given, name)
    made = _fork(given, end, errors) if isinstance(end, Fork) else _rear(end, errors)
    turned = _turned(given, errors)
    return Varied(made, _loads(given, errors, turned), errors, turned)


def _turned(given: Mapping[str, Any], errors: Mapping[str, Array]) -> Values:
    if "rake_deg" not in errors:
        return 1.0
    return np.cos(np.radians(given["rake_deg"] + errors["rake_deg"])) / math.cos(math.radians(given["rake_deg"]))


def _loads(given: Mapping[str, Any], errors: Mapping[str, Array], turned: Values) -> tuple[Array, Array]:
    unsprung = errors.get("unsprung_kg", 0.0)
    alone, ridden = (
        (sprung_load(given, state) + (errors.get(f"load_{state}_kg", 0.0) - unsprung) * STANDARD_GRAVITY) * turned
        for state in ("static", "rider")
    )
    return np.asarray(alone), np.asarray(ridden)


def _rear(end: Rear, errors: Mapping[str, Array]) -> Rear:
    pieces = {each.name: getattr(end, each.name) for each in fields(Rear)}
    if "leverage" in errors:
        pieces["leverage"] = ScaledLeverage(end.leverage, 1 / (1 + errors["leverage"] / 100))
    pieces["springs"] = end.springs.scaled(1 + errors.get("spring", 0.0) / 100)
    pieces["preload"] = np.add(end.preload, errors.get("preload_mm", 0.0) / 1000)
    pieces["gas_force"] = np.maximum(end.gas_force + errors.get("gas_force_n", 0.0), 0.0)
    return VariedRear(**pieces, stated=end)


def _fork(given: Mapping[str, Any], fork: Fork, errors: Mapping[str, Array]) -> Fork:
    legs = [_leg(asked, leg, fork.stroke, errors) for asked, leg in zip(given["legs"], fork.legs, strict=False)]
    return replace(fork, legs=tuple(legs))


def _leg(given: Mapping[str, Any], leg: Leg, stroke: float, errors: Mapping[str, Array]) -> Leg:
    air = _air(given, leg.air, stroke, errors)
    if leg.springs is None:
        return replace(leg, air=air)
    springs = leg.springs.scaled(1 + errors.get("spring", 0.0) / 100)
    return replace(leg, springs=springs, preload=np.add(leg.preload, errors.get("preload_mm", 0.0) / 1000), air=air)


def _air(given: Mapping[str, Any], stated: TrappedAir, stroke: float, errors: Mapping[str, Array]) -> TrappedAir:
    seal, gap, solids = (given[key] + errors.get(key, 0.0) for key in ("seal_diameter_mm", "air_gap_mm", "solids_cm3"))
    bore = bore_mm(given) + errors.get("bore_diameter_mm", 0.0)
    area = math.pi / 4 * (seal / 1000) ** 2
    least = LEAST_AIR * (stated.volume - stated.area * stroke)
    end_volume = np.maximum(math.pi / 4 * (bore / 1000) ** 2 * gap / 1000 - solids * 1e-6, least)
    pressure = stated.pressure + errors.get("pressure_kpa", 0.0) * 1000
    least_pressure = np.minimum(stated.pressure, stated.ambient)
    return TrappedAir(area, end_volume + area * stroke, np.maximum(pressure, least_pressure), stated.ambient)
