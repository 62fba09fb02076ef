"""The shape of the table of factors."""

import pytest

from calc.units import EXACT, FACTORS, table, to_metric


def test_the_quantities_and_units_a_person_may_choose():
    assert {quantity: list(units) for quantity, units in table().items()} == {
        "rate": ["N/mm", "kgf/mm", "lbf/in"],
        "length": ["mm", "in"],
        "mass": ["kg", "lb"],
        "force": ["N", "kgf", "lbf"],
        "volume": ["cm³", "fl oz"],
        "pressure": ["kPa", "bar", "psi"],
        "torque": ["N·m", "lbf·ft"],
    }


def test_the_table_cannot_be_changed_by_a_caller():
    table()["rate"]["N/mm"] = 2.0
    assert FACTORS["rate"]["N/mm"] == 1.0
    with pytest.raises(TypeError):
        FACTORS["rate"]["N/mm"] = 2.0


def test_half_a_kilogram_force_per_millimetre_is_a_fork_spring():
    assert to_metric(0.5, "rate", "kgf/mm") == pytest.approx(4.903325)


def test_every_quantity_has_one_metric_unit_of_factor_one():
    for quantity, units in EXACT.items():
        assert next(iter(units.values())) == 1, quantity
        assert all(factor > 0 for factor in units.values())


def test_an_unknown_unit_is_an_error_not_a_guess():
    with pytest.raises(KeyError):
        to_metric(1.0, "rate", "N/m")
