"""The fork's force at the wheel against a published machine."""

import math

import pytest

from calc.fork import Fork
from calc.springs import Stops


def test_front_axial_force_of_the_sports_machine():
    """(1172.57 N − 18.4 kg·g)·cos 24° = 906.30 N, g = 9.81.

    The sports machine after Sharp, Evangelou and Limebeer, Advances in the modelling of motorcycle dynamics,
    Multibody System Dynamics 12 (2004), as in Applied Sciences 10(19) 6826.
    """
    fork = Fork(0.12, math.radians(24), (), Stops(0.12, bump_rate=9062.96, bump_length=0.12))
    at_wheel, _ = fork.force_and_slope(0.1)
    axial = (1172.57 - 18.4 * 9.81) * math.cos(math.radians(24))
    assert axial == pytest.approx(906.30, abs=0.005)
    assert float(at_wheel) == pytest.approx(1172.57 - 18.4 * 9.81, abs=0.01)
