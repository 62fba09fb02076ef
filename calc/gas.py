"""The atmosphere, and the air shut in a fork leg. SI: m, m³, Pa (absolute unless said), N, J.

Sources: [1] ISO 2533:1975, identical here to the US Standard Atmosphere 1976. [2] R. Joel, Basic Engineering
Thermodynamics, ch. 1 and 5: the polytropic p Vⁿ = const and its work.
"""

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

    `altitude_m` is in m, any shape. Raises nothing; above 44 km it would be NaN. Source: [1].

    >>> round(float(atmosphere(1000.0)), 1)
    89874.6
    """
    warmth = 1 - LAPSE_K_PER_M * np.asarray(altitude_m, dtype=np.float64) / SEA_LEVEL_K
    return np.asarray(SEA_LEVEL_PA * warmth ** (STANDARD_GRAVITY / (AIR_CONSTANT * LAPSE_K_PER_M)))


def volume_at(pressure: Values, volume: Values, new_pressure: Values, n: float) -> Array:
    """Return the volume at `new_pressure` of gas that follows `p Vⁿ = const` from `pressure` and `volume`.

    `pressure` and `new_pressure` in Pa, absolute, `volume` in m³, all broadcast together; `n` is the exponent, above
    0. Returns m³. Raises ZeroDivisionError where n is 0. Source: [2].

    Joel's example 1.3, 2070 to 207 kPa from 0.014 m³ at n = 1.35, prints 0.077 m³:

    >>> round(float(volume_at(2070e3, 0.014, 207e3, 1.35)), 3)
    0.077
    """
    grown = (np.asarray(pressure, dtype=np.float64) / np.asarray(new_pressure, dtype=np.float64)) ** (1 / n)
    return np.asarray(volume * grown)


def work_into(pressure: Values, volume: Values, new_volume: Values, n: float) -> Array:
    """Return the work in J that squeezes gas from `volume` to `new_volume` along `p Vⁿ = const`.

    `pressure` in Pa, absolute, `volume` and `new_volume` in m³ broadcast together; `n` is the exponent. Raises
    nothing. Source: [2].

    Joel's example 1.4 squeezes 0.056 m³ at 100 kPa hyperbolically to 0.007 m³, and prints 11.645 kJ:

    >>> round(float(work_into(100e3, 0.056, 0.007, 1.0)) / 1000, 3)
    11.645
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

    Raises nothing: a stroke that leaves no volume gives inf. Source: [2].
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
        """Return the work in J done on the leg's air, less the atmosphere's share, from 0 to `x` (m).

        `n` is the exponent of the compression.

        At n = 1 the work is p V ln(V/V′), less the atmosphere's share p A x:

        >>> air = TrappedAir(area=0.002, volume=0.0006, pressure=1e5, ambient=1e5)
        >>> round(float(air.work(0.15)), 6), round(60 * 0.69314718 - 30, 6)
        (11.588831, 11.588831)
        """
        swept = np.multiply(self.area, x)
        return work_into(self.pressure, self.volume, self.volume - swept, n) - np.multiply(self.ambient, swept)
