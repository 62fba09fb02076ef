"""The fork's force at the wheel against a published machine."""

import math

import pytest
from CoolProp.CoolProp import PropsSI

from calc.fork import Fork, Leg, fork_from
from calc.gas import TrappedAir
from calc.solve import settle
from calc.springs import Stops, straight
from tests.published.source import LIBRARY, source


@source("Sharp, Evangelou and Limebeer (2004), as in Applied Sciences 10(19) 6826")
def test_front_axial_force_of_the_sports_machine():
    """(1172.57 N − 18.4 kg·g)·cos 24° = 906.30 N, g = 9.81.

    The sports machine after Sharp, Evangelou and Limebeer, Advances in the modelling of motorcycle dynamics,
    Multibody System Dynamics 12 (2004), as in Applied Sciences 10(19) 6826.
    """
    no_air = TrappedAir(area=0.0, volume=1.0, pressure=101325.0, ambient=101325.0)
    leg = Leg(straight(12500.0), 0.01, no_air, count=2)
    fork = Fork(0.12, math.radians(24), (leg,), Stops(0.12))
    stroke = settle(fork, 1172.57 - 18.4 * 9.81)
    springs, _ = fork.springs_axial(stroke)
    assert float(springs) == pytest.approx(906.30, abs=0.005)
    assert 2 * 12500 * (0.01 + float(stroke)) == pytest.approx(906.30, abs=0.005)


@source("the CoolProp library; 84556.0 Pa from ISO 2533", LIBRARY)
def test_air_shut_in_cool_and_ridden_warm_is_real_airs_pressure():
    """CoolProp's air, shut at 10 °C and 1500 m (84556.0 Pa, ISO 2533), warmed to 55 °C at one volume, at 0 m."""
    density = PropsSI("D", "P", 84556.0, "T", 283.15, "Air")
    warm = PropsSI("P", "D", density, "T", 328.15, "Air")
    leg = {"spring": None, "seal_diameter_mm": 48, "bore_diameter_mm": 42, "air_gap_mm": 110, "solids_cm3": 70}
    place = {"altitude_m": 0, "vented_altitude_m": 1500, "vented_temperature_c": 10, "temperature_c": 55}
    fork = fork_from({"stroke_mm": 300, "rake_deg": 0, **place, "legs": [leg]})
    area = math.pi / 4 * 0.048**2
    assert float(fork.air_axial(0.0)[0]) / area + 101325 == pytest.approx(warm, rel=1e-3)
