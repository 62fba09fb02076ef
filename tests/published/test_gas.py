"""The atmosphere and trapped air against the standard, a textbook and a reference library."""

import math

import numpy as np
import pytest
from ambiance import Atmosphere
from CoolProp.CoolProp import PropsSI

from calc.gas import HARD, TrappedAir, atmosphere, volume_at, work_into
from tests.published.source import LIBRARY, source


@source("ISO 2533:1975, identical to the US Standard Atmosphere 1976 below 32 km")
@pytest.mark.parametrize(
    ("altitude", "pressure"),
    [(0, 101325), (500, 95460.8), (1000, 89874.6), (1500, 84556.0), (2000, 79495.2), (3000, 70108.5)],
)
def test_standard_atmosphere(altitude, pressure):
    """ISO 2533:1975 (identical below 32 km: US Standard Atmosphere 1976), table by geopotential altitude."""
    assert float(atmosphere(altitude)) == pytest.approx(pressure, abs=0.05)


@source("the ambiance library (ICAO 1993)", LIBRARY)
def test_atmosphere_agrees_with_a_reference_library_over_the_whole_band():
    """The ambiance library (ICAO 1993) takes geometric heights: turned with the standard's radius."""
    geopotential = np.linspace(-500, 6000, 27)
    radius = 6356766.0
    geometric = radius * geopotential / (radius - geopotential)
    assert atmosphere(geopotential) == pytest.approx(Atmosphere(geometric).pressure, rel=2e-6)


@source("R. Joel, Basic Engineering Thermodynamics, example 1.3")
def test_polytropic_expansion():
    """R. Joel, Basic Engineering Thermodynamics, ex. 1.3: 2070 to 207 kPa from 0.014 m³, n 1.35."""
    grown = float(volume_at(2070e3, 0.014, 207e3, 1.35))
    assert grown == pytest.approx(0.077, abs=0.0005)
    assert -float(work_into(2070e3, 0.014, 0.077, 1.35)) / 1000 == pytest.approx(37.2, abs=0.1)


def leg():
    area = math.pi / 4 * 0.048**2
    return TrappedAir(area, 82.4e-6 + area * 0.3, 101325.0, 101325.0)


@source("the CoolProp library", LIBRARY)
def test_slow_air_is_the_isotherm_of_real_air():
    """CoolProp's real air at 20 °C, temperature held; the ideal gas is good to 0.5 %."""
    air = leg()
    density = PropsSI("D", "T", 293.15, "P", 101325.0, "Air")
    for stroke in (0.05, 0.15, 0.25, 0.29):
        squeezed = density * air.volume / (air.volume - air.area * stroke)
        real = (PropsSI("P", "T", 293.15, "D", squeezed, "Air") - 101325.0) * air.area
        assert float(air.force_and_rate(stroke)[0]) == pytest.approx(real, rel=5e-3)


@source("the CoolProp library", LIBRARY)
def test_a_hard_hit_is_the_isentrope_of_real_air():
    """CoolProp's real air at constant entropy from 20 °C; n = 1.4 is good to 1.5 %."""
    air = leg()
    density = PropsSI("D", "T", 293.15, "P", 101325.0, "Air")
    entropy = PropsSI("S", "T", 293.15, "P", 101325.0, "Air")
    for stroke in (0.05, 0.15, 0.25, 0.29):
        squeezed = density * air.volume / (air.volume - air.area * stroke)
        real = (PropsSI("P", "S", entropy, "D", squeezed, "Air") - 101325.0) * air.area
        assert float(air.force_and_rate(stroke, HARD)[0]) == pytest.approx(real, rel=1.5e-2)


@source("ISO 2533:1975, table by geopotential altitude, from memory")
@pytest.mark.parametrize(("altitude", "pressure"), [(4000, 61640.2), (5000, 54019.9), (6000, 47181.0)])
def test_standard_atmosphere_higher_up(altitude, pressure):
    assert float(atmosphere(altitude)) == pytest.approx(pressure, abs=0.1)


@source("R. Joel, Basic Engineering Thermodynamics, example 1.4: 800 kPa and 11.645 kJ")
def test_hyperbolic_compression():
    """100 kPa and 0.056 m³, pressed slowly into 0.007 m³."""
    assert float(work_into(100e3, 0.056, 0.007, 1.0)) / 1000 == pytest.approx(11.645, abs=5e-4)
    assert float(volume_at(100e3, 0.056, 800e3, 1.0)) == pytest.approx(0.007)


@source("R. Joel, Basic Engineering Thermodynamics, examples 5.1 and 5.2: 900 mmHg, 0.7 m³")
def test_boyles_law():
    """765 mmHg over 20 000 mm³, squeezed to 17 000 mm³, push 135 mmHg more than outside: a leg's air at n = 1."""
    torr = 133.322387415
    air = TrappedAir(area=1e-4, volume=20e-6, pressure=765 * torr, ambient=765 * torr)
    assert float(air.force_and_rate(0.030)[0]) / 1e-4 / torr == pytest.approx(900 - 765)
    assert float(volume_at(300e3, 0.14, 60e3, 1.0)) == pytest.approx(0.7)


@source("R. Joel, Basic Engineering Thermodynamics, examples 5.11 and 5.12, results as in FOSSEE's Scilab companion")
def test_polytropes_of_joel():
    """1.4 MPa expands to four times its volume at n = 1.3: 230.9 kPa. 140 kPa and 0.15 m³ to 1400 kPa at 1.25."""
    assert float(volume_at(1.4e6, 1.0, 230.9e3, 1.3)) == pytest.approx(4, abs=0.001)
    pressed = float(volume_at(140e3, 0.15, 1400e3, 1.25))
    assert float(work_into(140e3, 0.15, pressed, 1.25)) / 1000 == pytest.approx(49.13, abs=0.01)


@source("worked example of adiabatic compression, sarthaks.com/2890936: 0.00387 m³ and 2.751 kJ")
def test_adiabatic_compression_of_a_cylinder():
    """1.02 bar and 0.015 m³ to 6.8 bar, γ = 1.4; the work there is by rounded temperatures."""
    pressed = float(volume_at(1.02e5, 0.015, 6.8e5, 1.4))
    assert round(pressed, 5) == 0.00387
    assert float(work_into(1.02e5, 0.015, pressed, 1.4)) / 1000 == pytest.approx(2.751, abs=0.003)
