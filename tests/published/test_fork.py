"""The fork's force at the wheel against a published machine."""

import math

import pytest

from calc.fork import Fork, Leg
from calc.gas import TrappedAir
from calc.solve import settle
from calc.springs import Stops, straight


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
