"""The atmosphere and trapped air against the standard, a textbook and a reference library."""

import math

import numpy as np
import pytest
from ambiance import Atmosphere
from CoolProp.CoolProp import PropsSI

from calc.gas import HARD, TrappedAir, atmosphere, volume_at, work_into


@pytest.mark.parametrize(
    ("altitude", "pressure"),
    [(0, 101325), (500, 95460.8), (1000, 89874.6), (1500, 84556.0), (2000, 79495.2), (3000, 70108.5)],
)
def test_standard_atmosphere(altitude, pressure):
    """ISO 2533:1975 (identical below 32 km: US Standard Atmosphere 1976), table by geopotential altitude."""
    assert float(atmosphere(altitude)) == pytest.approx(pressure, abs=0.05)


def test_atmosphere_agrees_with_a_reference_library_over_the_whole_band():
    """The ambiance library (ICAO 1993) takes geometric heights: turned with the standard's radius."""
    geopotential = np.linspace(-500, 6000, 27)
    radius = 6356766.0
    geometric = radius * geopotential / (radius - geopotential)
    assert atmosphere(geopotential) == pytest.approx(Atmosphere(geometric).pressure, rel=2e-6)


def test_polytropic_expansion():
    """R. Joel, Basic Engineering Thermodynamics, ex. 1.3: 2070 to 207 kPa from 0.014 m³, n 1.35."""
    grown = float(volume_at(2070e3, 0.014, 207e3, 1.35))
    assert grown == pytest.approx(0.077, abs=0.0005)
    assert -float(work_into(2070e3, 0.014, 0.077, 1.35)) / 1000 == pytest.approx(37.2, abs=0.1)


def leg():
    area = math.pi / 4 * 0.048**2
    return TrappedAir(area, 82.4e-6 + area * 0.3, 101325.0, 101325.0)


def test_slow_air_is_the_isotherm_of_real_air():
    """CoolProp's real air at 20 °C, temperature held; the ideal gas is good to 0.5 %."""
    air = leg()
    density = PropsSI("D", "T", 293.15, "P", 101325.0, "Air")
    for stroke in (0.05, 0.15, 0.25, 0.29):
        squeezed = density * air.volume / (air.volume - air.area * stroke)
        real = (PropsSI("P", "T", 293.15, "D", squeezed, "Air") - 101325.0) * air.area
        assert float(air.force_and_rate(stroke)[0]) == pytest.approx(real, rel=5e-3)


def test_a_hard_hit_is_the_isentrope_of_real_air():
    """CoolProp's real air at constant entropy from 20 °C; n = 1.4 is good to 1.5 %."""
    air = leg()
    density = PropsSI("D", "T", 293.15, "P", 101325.0, "Air")
    entropy = PropsSI("S", "T", 293.15, "P", 101325.0, "Air")
    for stroke in (0.05, 0.15, 0.25, 0.29):
        squeezed = density * air.volume / (air.volume - air.area * stroke)
        real = (PropsSI("P", "S", entropy, "D", squeezed, "Air") - 101325.0) * air.area
        assert float(air.force_and_rate(stroke, HARD)[0]) == pytest.approx(real, rel=1.5e-2)
