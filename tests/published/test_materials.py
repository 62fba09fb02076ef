"""Spring wire against its standards and Shigley's tables."""

import math

import pytest

from calc.materials import MATERIALS
from tests.published.source import source

MPSI = 6.894757293168361  # GPa


# Shigley, table 10-4: S_ut = A / d^m, d in mm; at d = 1 mm the strength is A itself, at e mm it is A·e^−m.
@source("Shigley's Mechanical Engineering Design, 10th ed., table 10-4")
@pytest.mark.parametrize(
    ("key", "a", "m"),
    [
        ("a228", 2211, 0.145),
        ("a229", 1855, 0.187),
        ("a227", 1783, 0.190),
        ("a232", 2005, 0.168),
        ("a401", 1974, 0.108),
    ],
)
def test_strength_laws_of_shigley_table_10_4(key, a, m):
    law = MATERIALS[key].strength
    for wire in (1.7, math.e, 6.0):
        assert math.log(law.strength_mpa(wire)) == pytest.approx(math.log(a) - m * math.log(wire), rel=1e-12)


# EN 10270-1, grade SM, least tensile strength in MPa.
@source("EN 10270-1, grade SM, least tensile strength")
@pytest.mark.parametrize(
    ("wire", "strength"), [(1, 1980), (2, 1760), (4, 1530), (6, 1400), (8, 1310), (10, 1240), (12, 1180)]
)
def test_strength_of_en_10270_1_sm(wire, strength):
    assert MATERIALS["en10270_1_sm"].strength.strength_mpa(wire) == strength


@source("EN 10270-1, grade SM, 1460 MPa at 5 mm, from memory")
def test_strength_of_en_10270_1_sm_between_the_printed_diameters():
    between = [MATERIALS["en10270_1_sm"].strength.strength_mpa(wire) for wire in (4.0, 4.5, 5.0, 5.5, 6.0)]
    assert between == sorted(between, reverse=True)
    assert 1450 < between[2] < 1480  # EN 10270-1 prints 1460 at 5 mm (from memory)


@source("EN 10270-1 to -3, EN 10088-1 (density from memory); spring makers on titanium, from memory")
def test_moduli_and_densities_of_the_standards():
    assert (MATERIALS["en10270_1_sm"].at(4).shear_gpa, MATERIALS["en10270_1_sm"].at(4).young_gpa) == (
        81.5,
        206,
    )
    assert MATERIALS["en10270_1_sm"].density_kg_per_m3 == 7850
    assert MATERIALS["en10270_2"].at(4).shear_gpa == 79.5
    stainless = MATERIALS["en10270_3_14310"]
    assert (stainless.at(4).shear_gpa, stainless.at(4).young_gpa, stainless.density_kg_per_m3) == (
        73,
        185,
        7900,
    )
    titanium = MATERIALS["titanium"]
    assert titanium.at(4).shear_gpa == pytest.approx(6.1 * MPSI)
    assert titanium.at(4).young_gpa == pytest.approx(16.5 * MPSI)
    assert titanium.density_kg_per_m3 == pytest.approx(0.175 * 0.45359237 / 0.0254**3)
