"""The table of factors against the pint library and against printed tables."""

import pint
import pytest

from calc.units import FACTORS, from_metric, to_metric
from tests.published.source import BALANCE, LIBRARY, source

PINT_NAMES = {
    "N/mm": "newton / millimeter",
    "kgf/mm": "kilogram_force / millimeter",
    "lbf/in": "pound_force / inch",
    "mm": "millimeter",
    "in": "inch",
    "kg": "kilogram",
    "lb": "pound",
    "N": "newton",
    "kgf": "kilogram_force",
    "lbf": "pound_force",
    "cm³": "centimeter ** 3",
    "fl oz": "US_fluid_ounce",
    "kPa": "kilopascal",
    "bar": "bar",
    "psi": "pound_force_per_square_inch",
    "N·m": "newton * meter",
    "lbf·ft": "pound_force * foot",
}
UNITS = pint.UnitRegistry()
PAIRS = [(quantity, unit) for quantity, units in FACTORS.items() for unit in units]


@source("the pint library", LIBRARY)
@pytest.mark.parametrize(("quantity", "unit"), PAIRS)
def test_factor_agrees_with_pint(quantity, unit):
    metric = next(iter(FACTORS[quantity]))
    expected = UNITS.Quantity(1, PINT_NAMES[unit]).to(PINT_NAMES[metric]).magnitude
    assert FACTORS[quantity][unit] == pytest.approx(expected, rel=1e-14)


# NIST Special Publication 811 (2008), appendix B.8, conversion factors as printed; bold ones there are exact.
@source("NIST Special Publication 811 (2008), appendix B.8")
@pytest.mark.parametrize(
    ("quantity", "unit", "printed", "digits"),
    [
        ("rate", "lbf/in", 175.1268e-3, 7),
        ("rate", "kgf/mm", 9.80665, 15),
        ("length", "in", 25.4, 15),
        ("mass", "lb", 0.45359237, 15),
        ("force", "lbf", 4.448222, 7),
        ("force", "kgf", 9.80665, 15),
        ("volume", "fl oz", 29.57353, 7),
        ("pressure", "psi", 6.894757, 7),
        ("pressure", "bar", 100.0, 15),
        ("torque", "lbf·ft", 1.355818, 7),
    ],
)
def test_factor_agrees_with_nist_sp_811(quantity, unit, printed, digits):
    assert float(f"{FACTORS[quantity][unit]:.{digits}g}") == printed


@source("a round trip", BALANCE)
@pytest.mark.parametrize(("quantity", "unit"), PAIRS)
def test_there_and_back(quantity, unit):
    assert from_metric(to_metric(3.7, quantity, unit), quantity, unit) == pytest.approx(3.7, rel=1e-15)
