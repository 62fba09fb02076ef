"""The atmosphere, and the air shut in a fork leg. SI: m, m³, Pa (absolute unless said), N, J."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Values = Array | float

SLOW = 1.0
HARD = 1.4

SEA_LEVEL_PA = 101325.0
SEA_LEVEL_K = 288.15
LAPSE_K_PER_M = 0.0065
AIR_CONSTANT = 287.05287
STANDARD_GRAVITY = 9.80665


def atmosphere(altitude_m: Values) -> Array:
    """Return the standard atmosphere's pressure in Pa at a geopotential altitude, −500 to 11000 m.

    ISO 2533 (as the US Standard Atmosphere 1976): `p0 (1 − Lh/T0)^(g/(RL))` in the lowest layer.

    >>> round(float(atmosphere(1000.0)), 1)
    89874.6
    """
    warmth = 1 - LAPSE_K_PER_M * np.asarray(altitude_m, dtype=np.float64) / SEA_LEVEL_K
    return np.asarray(SEA_LEVEL_PA * warmth ** (STANDARD_GRAVITY / (AIR_CONSTANT * LAPSE_K_PER_M)))


def volume_at(pressure: Values, volume: Values, new_pressure: Values, n: float) -> Array:
    """Return the volume at `new_pressure` of gas that follows `p Vⁿ = const` from `pressure` and `volume`.

    >>> round(float(volume_at(1e5, 1e-3, 2e5, 1.0)), 9)
    0.0005
    """
    grown = (np.asarray(pressure, dtype=np.float64) / np.asarray(new_pressure, dtype=np.float64)) ** (1 / n)
    return np.asarray(volume * grown)


def work_into(pressure: Values, volume: Values, new_volume: Values, n: float) -> Array:
    """Return the work in J that squeezes gas from `volume` to `new_volume` along `p Vⁿ = const`.

    >>> round(float(work_into(1e5, 1e-3, 5e-4, 1.0)), 4)
    69.3147
    """
    p, v, new = (np.asarray(value, dtype=np.float64) for value in (pressure, volume, new_volume))
    if n == 1:
        return np.asarray(p * v * np.log(v / new))
    return np.asarray(p * v / (n - 1) * ((v / new) ** (n - 1) - 1))


@dataclass(frozen=True)
class TrappedAir:
    """The air above the oil of a fork leg; all fields broadcast together and against the stroke.

    `area` of the tube at the seal (m²), `volume` at full extension (m³), `pressure` absolute at full
    extension and `ambient` (Pa). At stroke x the volume is `volume − area·x`, the force on the tube `(p −
    ambient)·area`.
    """

    area: Values
    volume: Values
    pressure: Values
    ambient: Values

    def force_and_rate(self, x: Values, n: float = SLOW) -> tuple[Array, Array]:
        """Return the air force (N) and its rate (N/m) at stroke `x` (m), the air following `p Vⁿ = const`.

        `n` is 1 for slow settling, 1.4 for a hit without loss of heat.

        >>> air = TrappedAir(area=0.002, volume=0.0006, pressure=101325.0, ambient=101325.0)
        >>> round(float(air.force_and_rate(0.15)[0]), 2)
        202.65
        """
        left = self.volume - np.multiply(self.area, x)
        if n == 1:
            squeezed = self.pressure * self.volume * self.area / left
        else:
            squeezed = self.pressure * self.area * (self.volume / left) ** n
        return squeezed - self.ambient * self.area, n * self.area * squeezed / left

    def work(self, x: Values, n: float = SLOW) -> Array:
        """Return the work in J done on the leg's air, less the atmosphere's share, from 0 to `x` (m)."""
        swept = np.multiply(self.area, x)
        return work_into(self.pressure, self.volume, self.volume - swept, n) - np.multiply(self.ambient, swept)
