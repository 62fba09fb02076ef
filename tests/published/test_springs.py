"""Springs in series and side by side against worked examples of textbooks."""

import numpy as np
import pytest

from calc.springs import in_series, side_by_side, straight


def coil(shear_modulus, wire, mean_diameter, turns):
    """Rate of a coil, N/m, by the textbooks' own equation k = G d⁴/(8 D³ n)."""
    return shear_modulus * wire**4 / (8 * mean_diameter**3 * turns)


def test_two_coils_in_series():
    """D. K. Sarkar, Design of Machine Elements, ex. 8.7: D 30, n 12, G 80 GPa, d 3 and d2; 720 N/m in all."""
    first = coil(80e9, 0.003, 0.030, 12)
    assert first == pytest.approx(2500, abs=0.005)
    together = in_series(straight(first), straight(1011.24))
    assert together.rate.tolist() == pytest.approx([720], abs=0.005)
    stacked = float(together.deflection_at(36.0))
    assert stacked == pytest.approx(36 / first + 36 / 1011.24, rel=1e-12)
    second_wire = 0.003 * (1011.24 / first) ** 0.25
    assert second_wire * 1000 == pytest.approx(2.392, abs=0.001)


def test_two_coils_side_by_side():
    """V. B. Bhandari, Design of Machine Elements, ex. 10.18: d 10, D 80, N 8; d 8, D 64, N 12; 2000 N."""
    outer = straight(coil(81.37e9, 0.010, 0.080, 8))
    inner = straight(coil(81.37e9, 0.008, 0.064, 12))
    both = side_by_side(outer, inner)
    deflection = float(both.deflection_at(2000.0))
    assert float(outer.force_at(deflection)) == pytest.approx(1304.35, abs=0.005)
    assert float(inner.force_at(deflection)) == pytest.approx(695.65, abs=0.005)
    assert deflection * 1000 == pytest.approx(52.527, abs=0.0005)


def test_a_straight_springs_energy_is_half_its_force_times_its_deflection():
    """Clapeyron's theorem for a linear elastic body, any text on strength of materials."""
    spring = straight(4600.0)
    for deflection in np.linspace(0.01, 0.3, 7):
        half = 0.5 * float(spring.force_at(deflection)) * deflection
        assert float(spring.energy_at(deflection)) == pytest.approx(half, rel=1e-12)
