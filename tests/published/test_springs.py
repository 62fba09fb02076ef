"""Springs in series and side by side against worked examples of textbooks."""

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import brentq

from calc.springs import dual, in_series, progressive, side_by_side, straight, wound
from tests.published.source import BALANCE, LIBRARY, source


def coil(shear_modulus, wire, mean_diameter, turns):
    """Rate of a coil, N/m, by the textbooks' own equation k = G d⁴/(8 D³ n)."""
    return shear_modulus * wire**4 / (8 * mean_diameter**3 * turns)


@source("B. K. Sarkar, Strength of Materials, problem 8.7")
def test_two_coils_in_series():
    """B. K. Sarkar, Strength of Materials, problem 8.7: D 30, n 12, G 80 GPa, d 3 and d2; 720 N/m in all."""
    first = coil(80e9, 0.003, 0.030, 12)
    assert first == pytest.approx(2500, abs=0.005)
    together = in_series(straight(first), straight(1011.24))
    assert together.rate.tolist() == pytest.approx([720], abs=0.005)
    stacked = float(together.deflection_at(36.0))
    assert stacked == pytest.approx(36 / first + 36 / 1011.24, rel=1e-12)
    second_wire = 0.003 * (1011.24 / first) ** 0.25
    assert second_wire * 1000 == pytest.approx(2.392, abs=0.001)


@source("V. B. Bhandari, Design of Machine Elements, example 10.18")
def test_two_coils_side_by_side():
    """V. B. Bhandari, Design of Machine Elements, ex. 10.18: d 10, D 80, N 8; d 8, D 64, N 12; 2000 N."""
    outer = straight(coil(81.37e9, 0.010, 0.080, 8))
    inner = straight(coil(81.37e9, 0.008, 0.064, 12))
    both = side_by_side(outer, inner)
    deflection = float(both.deflection_at(2000.0))
    assert float(outer.force_at(deflection)) == pytest.approx(1304.35, abs=0.005)
    assert float(inner.force_at(deflection)) == pytest.approx(695.65, abs=0.005)
    assert deflection * 1000 == pytest.approx(52.527, abs=0.0005)


@source("Clapeyron's theorem", BALANCE)
def test_a_straight_springs_energy_is_half_its_force_times_its_deflection():
    """Clapeyron's theorem for a linear elastic body, any text on strength of materials."""
    spring = straight(4600.0)
    for deflection in np.linspace(0.01, 0.3, 7):
        half = 0.5 * float(spring.force_at(deflection)) * deflection
        assert float(spring.energy_at(deflection)) == pytest.approx(half, rel=1e-12)


@source("V. B. Bhandari, Design of Machine Elements, example 10.19, results as in FOSSEE's Scilab companion")
def test_a_shorter_spring_inside_a_longer_one():
    """The inner spring, 15 mm shorter, meets the load late: a dual spring. d 6, D 36, N 10; d 5, D 30, N 8; 1000 N."""
    outer, inner = coil(81.37e9, 0.006, 0.036, 10), coil(81.37e9, 0.005, 0.030, 8)
    both = dual(outer, outer + inner, 0.015)
    deflection = float(both.deflection_at(1000.0))
    assert deflection * 1000 == pytest.approx(24.988839, abs=5e-6)
    assert outer * deflection == pytest.approx(706.021471, abs=5e-6)
    assert inner * (deflection - 0.015) == pytest.approx(293.978529, abs=5e-6)


@source("B. K. Sarkar, Strength of Materials, problem 8.8: inner spring 4000 N/m")
def test_a_compound_spring_whose_inner_part_is_a_centimetre_shorter():
    """Outer d 3, D 30, n 10, G 80 GPa; 100 N press it 20 mm, so that the inner one, 10 mm shorter, carries 40 N."""
    outer = coil(80e9, 0.003, 0.030, 10)
    assert float(dual(outer, outer + 4000.0, 0.010).force_at(0.020)) == pytest.approx(100.0)


@source("B. K. Sarkar, Strength of Materials, problem 8.5: 2073.6 N/m, a fall of 5 cm stretches it 18.39 cm")
def test_a_weight_that_falls_on_a_spring():
    """150 N fall 5 cm: what the spring stores is the weight times fall and stretch. d 6, D 50, n 50, G 80 GPa."""
    rate = coil(80e9, 0.006, 0.050, 50)
    assert rate == pytest.approx(2073.6)
    stretch = 0.1839
    assert float(straight(rate).energy_at(stretch)) == pytest.approx(150 * (0.05 + stretch), rel=2e-3)


@source("SciPy's quad over F = start·δ + (end − start)·δ²/(2·over), written anew", LIBRARY)
def test_a_progressive_springs_energy_is_scipys_integral():
    spring = progressive(4000.0, 7000.0, 0.2)

    def force(d):
        return 4000 * d + 3000 * d * d / 0.4 if d < 0.2 else 4000 * 0.2 + 300 + 7000 * (d - 0.2)

    for deflection in (0.05, 0.2, 0.27):
        stored = quad(force, 0, deflection, points=[0.2] if deflection > 0.2 else None)[0]
        assert float(spring.energy_at(deflection)) == pytest.approx(stored, rel=1e-10)
        assert float(spring.force_at(deflection)) == pytest.approx(force(deflection), rel=1e-12)


@source("SciPy's brentq on Σ min(c F, g), the winding turn by turn", LIBRARY)
def test_a_winding_is_the_sum_of_its_turns():
    random = np.random.default_rng(13906)
    compliance, gaps = random.uniform(0.5e-5, 3e-5, 12), random.uniform(0.002, 0.02, 12)
    spring = wound(compliance, gaps)
    for deflection in np.linspace(0.05, 0.98, 9) * gaps.sum():
        force = brentq(lambda f, d=deflection: np.minimum(compliance * f, gaps).sum() - d, 0, 1e5, xtol=1e-9)
        assert float(spring.force_at(deflection)) == pytest.approx(force, rel=1e-9)
