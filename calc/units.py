"""Units: one table of exact factors, from each unit that a person may choose to the metric one that travels.

A value in a unit times its factor is the value in the quantity's first unit, whose factor is 1. The
definitions are exact: the inch is 25.4 mm and the pound 0.453 592 37 kg (international yard and pound,
1959; NIST SP 811, appendix B), standard gravity is 9.806 65 m/s² (3rd CGPM, 1901), the US gallon is 231
in³, of 128 fluid ounces. What the table holds is the double nearest to each exact quotient.

Source: [1] NIST Special Publication 811 (2008), appendix B; the definitions named above.
"""

from __future__ import annotations

from fractions import Fraction
from types import MappingProxyType

_INCH = Fraction("25.4")
_POUND = Fraction("0.45359237")
_GRAVITY = Fraction("9.80665")
_LBF = _POUND * _GRAVITY
_FLUID_OUNCE = 231 * _INCH**3 / 1000 / 128

EXACT: MappingProxyType[str, MappingProxyType[str, Fraction]] = MappingProxyType(
    {
        "rate": MappingProxyType({"N/mm": Fraction(1), "kgf/mm": _GRAVITY, "lbf/in": _LBF / _INCH}),
        "length": MappingProxyType({"mm": Fraction(1), "in": _INCH}),
        "mass": MappingProxyType({"kg": Fraction(1), "lb": _POUND}),
        "force": MappingProxyType({"N": Fraction(1), "kgf": _GRAVITY, "lbf": _LBF}),
        "volume": MappingProxyType({"cm³": Fraction(1), "fl oz": _FLUID_OUNCE}),
        "pressure": MappingProxyType({"kPa": Fraction(1), "bar": Fraction(100), "psi": _LBF / _INCH**2 * 1000}),
        "torque": MappingProxyType({"N·m": Fraction(1), "lbf·ft": _LBF * _INCH * 12 / 1000}),
    }
)
"""Quantity → unit → exact factor to the quantity's first unit."""

FACTORS: MappingProxyType[str, MappingProxyType[str, float]] = MappingProxyType(
    {
        quantity: MappingProxyType({unit: float(factor) for unit, factor in units.items()})
        for quantity, units in EXACT.items()
    }
)
"""The same as floats, as GET /api/units/ answers them."""


def to_metric(value: float, quantity: str, unit: str) -> float:
    """Return `value`, read in `unit`, in the quantity's metric unit; KeyError where the table has no such
    unit.

    `value` is a number in `unit`; `quantity` and `unit` are keys of the table. Raises KeyError. Source: [1].

    >>> to_metric(1, "rate", "kgf/mm")
    9.80665
    """
    return value * FACTORS[quantity][unit]


def from_metric(value: float, quantity: str, unit: str) -> float:
    """Return `value`, in the quantity's metric unit, in `unit`; KeyError where the table has no such unit.

    `value` is a number in the metric unit; `quantity` and `unit` are keys of the table. Raises KeyError. Source: [1].

    NIST SP 811 prints 175.1268 N/m for one lbf/in:

    >>> round(from_metric(0.1751268, "rate", "lbf/in"), 6)
    1.0
    """
    return value / FACTORS[quantity][unit]


def table() -> dict[str, dict[str, float]]:
    """Return the table as plain data: quantity → unit → factor.

    Raises nothing. Source: [1].

    >>> table()["length"]
    {'mm': 1.0, 'in': 25.4}
    """
    return {quantity: dict(units) for quantity, units in FACTORS.items()}
