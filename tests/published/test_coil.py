"""The coil against worked examples, at the precision they print.

Shigley: Budynas and Nisbett, Shigley's Mechanical Engineering Design, 10th ed., ch. 10. Sarkar: B. K.
Sarkar, Strength of Materials. Bhandari: V. B. Bhandari, Design of Machine Elements.
"""

import math

import pytest
from scipy.optimize import brentq

from calc.coil import buckling, coil, rate_n_per_mm, solid_length_mm, stress_factor, stress_mpa, volume_cm3
from calc.materials import MATERIALS
from tests.published.source import BALANCE, source

IN = 25.4
LBF = 4.4482216152605
LBF_IN = LBF / IN
KPSI = 6.894757293168361  # MPa
MPSI = KPSI  # 1 Mpsi in GPa is the same number


@source("Shigley's Mechanical Engineering Design, 10th ed., example 10-1")
def test_shigley_example_10_1():
    wire, across, modulus = 0.037 * IN, 0.400 * IN, 11.85 * MPSI
    assert round(rate_n_per_mm(modulus, wire, across, 10.5) / LBF_IN, 2) == 4.13
    assert round(stress_factor(across / wire), 3) == 1.124
    assert solid_length_mm(wire, 12.5, "closed") / IN == pytest.approx(0.500, abs=0.00051)


@source("Shigley's Mechanical Engineering Design, 10th ed., example 10-2")
def test_shigley_example_10_2():
    wire, across, modulus = 0.080 * IN, 0.8424 * IN, 11.75 * MPSI
    rate = 20 / 2 * LBF_IN
    active = rate_n_per_mm(modulus, wire, across, 1.0) / rate
    assert active == pytest.approx(10.05, abs=0.02)
    assert round(stress_mpa(23 * LBF, wire, across) / KPSI, 1) == 108.7
    solid = solid_length_mm(wire, active + 2, "closed_ground")
    assert solid / IN + 23 / 10 == pytest.approx(3.264, abs=0.002)


@source("Shigley's Mechanical Engineering Design, 10th ed., problem 10-6")
def test_shigley_problem_10_6():
    rate = 50 / 15
    assert round(rate_n_per_mm(77.2, 4.0, 40.0, 1.0) / rate, 1) == 11.6
    assert round(MATERIALS["a229"].strength.strength_mpa(4.0)) == 1431
    assert MATERIALS["a229"].at(4.0).shear_gpa == 77.2


# Shigley, table 10-1: solid length by end style; N_t turns in all.
@source("Shigley's Mechanical Engineering Design, 10th ed., table 10-1")
@pytest.mark.parametrize(
    ("ends", "wires"), [("plain", 11), ("plain_ground", 10), ("closed", 11), ("closed_ground", 10)]
)
def test_solid_lengths_of_shigley_table_10_1(ends, wires):
    assert solid_length_mm(3.0, 10, ends) == wires * 3.0


@source("Shigley's Mechanical Engineering Design, 10th ed., eq. 10-5 and 10-6")
def test_bergstraesser_is_the_same_factor_and_wahl_is_a_little_higher():
    for index in (4, 7.3, 12, 20):
        assert stress_factor(index) == pytest.approx((4 * index + 2) / (4 * index - 3), rel=1e-12)
    # Shigley, sec. 10-1: Wahl's factor differs by about one per cent; 0.7 to 1.4 % over the usual indices.
    for index in (6, 8, 10):
        wahl = (4 * index - 1) / (4 * index - 4) + 0.615 / index
        assert 1.007 < wahl / stress_factor(index) < 1.014


@source("Shigley's Mechanical Engineering Design, 10th ed., eq. 10-13")
def test_steel_buckles_past_shigleys_length():
    # Shigley eq. 10-13: steel springs are stable where L0 < 2.63 D/α.
    for alpha in (0.5, 0.707, 1.0, 2.0):
        limit = 2.63 * 30.0 / alpha
        assert buckling(limit * 0.99, 30.0, 79.3, 206.8, alpha) is None
        deflection = buckling(limit * 1.01, 30.0, 79.3, 206.8, alpha)
        assert 0 < deflection < limit * 1.01


@source("the limit of the equation as roymech.co.uk states it: elementary calculus", BALANCE)
def test_buckling_of_a_very_slender_spring_tends_to_the_thin_column():
    # For λ → ∞ the equation's root tends to 1 − C2/2λ², so the deflection tends to L0·C1·C2/2λ².
    length, across, shear, young = 5000.0, 20.0, 79.3, 206.8
    c1 = young / (2 * (young - shear))
    c2 = 2 * math.pi**2 * (young - shear) / (2 * shear + young)
    expected = length * c1 * c2 / (2 * (length / across) ** 2)
    assert buckling(length, across, shear, young, 1.0) == pytest.approx(expected, rel=1e-3)


@source("B. K. Sarkar, Strength of Materials, problem 8.7")
def test_sarkar_example_8_7():
    # Printed: 720 N/m for both in series, 2500 and 1011.24 N/m for each, the second wire 2.392 mm.
    first = rate_n_per_mm(80.0, 3.0, 30.0, 12)
    assert first * 1000 == pytest.approx(2500)
    second = 1.01124
    assert 1000 / (1 / first + 1 / second) == pytest.approx(720, rel=1e-5)
    wire = brentq(lambda d: rate_n_per_mm(80.0, d, 30.0, 12) - second, 1.0, 4.0)
    assert wire == pytest.approx(2.392, abs=0.0006)


@source("V. B. Bhandari, Design of Machine Elements, example 10.18")
def test_bhandari_example_10_18():
    outer = rate_n_per_mm(81.37, 10.0, 80.0, 8)
    inner = rate_n_per_mm(81.37, 8.0, 64.0, 12)
    assert round(2000 * outer / (outer + inner), 2) == 1304.35
    assert round(2000 * inner / (outer + inner), 2) == 695.65
    assert round(2000 / (outer + inner), 3) == 52.527


@source("Pappus' theorem: elementary geometry", BALANCE)
def test_displaced_volume_is_the_ring_of_its_turns():
    # Pappus: a circle of area πd²/4 carried along π D n.
    assert volume_cm3(4.0, 30.0, 10) == pytest.approx(math.pi * 16 / 4 * math.pi * 30 * 10 / 1000)


@source("Shigley's Mechanical Engineering Design, 10th ed., eq. 10-25", BALANCE)
def test_surge_of_shigley_equation_10_25():
    # Shigley eq. 10-25: f = ½ √(kg/W), here with the rate and the mass written out anew.
    answer = coil(
        {
            "wire_mm": 4.0,
            "mean_diameter_mm": 30.0,
            "active_turns": 10.0,
            "total_turns": 10.0,
            "ends": "plain",
            "material": "en10270_1_sm",
        }
    )
    rate = 81500 * 4.0**4 / (8 * 30.0**3 * 10) * 1000
    mass = 7850 * math.pi**2 * 0.004**2 * 0.030 * 10 / 4
    assert answer["surge_hz"] == pytest.approx(0.5 * math.sqrt(rate / mass), rel=1e-5)
    assert answer["mass_g"] == pytest.approx(mass * 1000, rel=1e-5)


@source("V. B. Bhandari, Design of Machine Elements, examples 10.2 and 10.7, results as in FOSSEE's Scilab companion")
@pytest.mark.parametrize(("wire", "across", "turns", "rate"), [(11.0, 55.0, 5, 179.014000), (5.0, 40.0, 5, 19.865723)])
def test_bhandaris_actual_rates(wire, across, turns, rate):
    assert rate_n_per_mm(81.37, wire, across, turns) == pytest.approx(rate, abs=5e-7)


@source("V. B. Bhandari, Design of Machine Elements, examples 10.3, 10.4 and 10.7, results as in FOSSEE's companion")
@pytest.mark.parametrize(
    ("wire", "across", "rate", "turns"),
    [(21.0, 150.0, 75.0, 7.814775), (4.0, 24.0, 150 / 5, 6.278549), (5.0, 40.0, 20.0, 4.966431)],
)
def test_bhandaris_numbers_of_turns(wire, across, rate, turns):
    assert rate_n_per_mm(81.37, wire, across, 1.0) / rate == pytest.approx(turns, abs=5e-7)


@source("V. B. Bhandari, Design of Machine Elements, examples 10.1, 10.7 and 10.11, results as in FOSSEE's companion")
@pytest.mark.parametrize(
    ("wire", "across", "active", "force", "gap", "free"),
    [(7.0, 42.0, 8, 1250.0, 1.0, 109.337611), (5.0, 40.0, 5, 300.0, 1.0, 56.101389)],
)
def test_bhandaris_free_lengths(wire, across, active, force, gap, free):
    """Solid length of squared and ground ends, a gap between coils at the most load, and the deflection."""
    solid = solid_length_mm(wire, active + 2, "closed_ground")
    assert solid + gap * (active + 1) + force / rate_n_per_mm(81.37, wire, across, active) == pytest.approx(
        free, abs=5e-7
    )
    assert solid_length_mm(4.5, 8, "closed_ground") == 36.0


@source("B. K. Sarkar, Strength of Materials, problem 8.4: 10.188 N of wire, a coil of 8.53 cm")
def test_sarkars_weight_of_wire():
    """1 kN presses a spring of index 10 by 10 cm at 350 MPa, uncorrected; G 80 GPa, wire 78 000 N/m³."""
    wire, across, turns = 8.53, 85.3, 8.53
    assert volume_cm3(wire, across, turns) * 0.078 == pytest.approx(10.188, abs=0.005)
    assert rate_n_per_mm(80.0, wire, across, turns) == pytest.approx(10.0, abs=0.005)
    plain = stress_mpa(1000.0, wire, across) / stress_factor(across / wire)
    assert plain == pytest.approx(350.0, abs=0.2)


@source("B. K. Sarkar, Strength of Materials, problem 8.1: wire of 0.306 cm, a coil of 3.15 cm")
def test_sarkars_close_wound_spring():
    """1 kN/m, 45 N at 126 MPa uncorrected, coils touching at 4.5 cm, G 42 GPa."""
    wire, across = 3.06, 31.5
    assert rate_n_per_mm(42.0, wire, across, 45 / wire) == pytest.approx(1.0, abs=0.005)
    assert stress_mpa(45.0, wire, across) / stress_factor(across / wire) == pytest.approx(126, abs=0.5)
