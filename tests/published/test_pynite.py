"""A coil as beams: PyNiteFEA's frame of a whole helix against the one-line rate."""

from __future__ import annotations

import math

import numpy as np
import pytest
from Pynite import FEModel3D

from calc.coil import rate_n_per_mm
from tests.published.source import LIBRARY, source

SHEAR, YOUNG = 79.5, 206.0  # GPa: EN 10270-2 and 10270-1


def rate_as_beams(wire, across, turns, pitch, per_turn=40):
    """Return the rate (N/mm) of a helix of round wire, its lower end held, its upper end guided along the axis."""
    model = FEModel3D()
    model.add_material("steel", YOUNG * 1000, SHEAR * 1000, YOUNG / (2 * SHEAR) - 1, 7.85e-6)
    inertia = math.pi * wire**4 / 64
    model.add_section("wire", math.pi * wire**2 / 4, inertia, inertia, 2 * inertia)
    count = round(turns * per_turn)
    for index, turn in enumerate(np.linspace(0, turns, count + 1)):
        angle = 2 * math.pi * turn
        model.add_node(f"n{index}", across / 2 * math.cos(angle), across / 2 * math.sin(angle), pitch * turn)
        if index:
            model.add_member(f"m{index}", f"n{index - 1}", f"n{index}", "steel", "wire")
    model.def_support("n0", *[True] * 6)
    # The seat keeps the upper end in line with the axis and lets neither end turn.
    model.def_support(f"n{count}", True, True, False, True, True, True)
    model.add_node_load(f"n{count}", "FZ", -1.0)
    model.analyze_linear(check_statics=False)
    return -1 / model.nodes[f"n{count}"].DZ["Combo 1"]


@source("the PyNiteFEA library, the coil as straight beams", LIBRARY)
@pytest.mark.parametrize(("wire", "across", "turns"), [(4.6, 36.0, 10), (11.0, 72.0, 6), (4.0, 48.0, 8)])
def test_the_rate_of_a_coil_is_that_of_its_beams(wire, across, turns):
    found = rate_as_beams(wire, across, turns, 1.6 * wire)
    assert rate_n_per_mm(SHEAR, wire, across, turns) == pytest.approx(found, rel=0.02)
