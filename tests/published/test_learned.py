"""Student's factors and a worked example, against what is printed."""

from __future__ import annotations

import pytest

from calc.learned import bias, student

# JCGM 100:2008 (GUM), table G.2, column p = 95 %, from memory; the same figures stand in every handbook.
TABLE_G2 = {
    1: 12.71, 2: 4.30, 3: 3.18, 4: 2.78, 5: 2.57, 6: 2.45, 7: 2.36, 8: 2.31, 9: 2.26, 10: 2.23,
    11: 2.20, 12: 2.18, 13: 2.16, 14: 2.14, 15: 2.13, 16: 2.12, 17: 2.11, 18: 2.10, 19: 2.09, 20: 2.09,
    25: 2.06, 30: 2.04, 35: 2.03, 40: 2.02, 45: 2.01, 50: 2.01, 100: 1.984,
}  # fmt: skip


@pytest.mark.parametrize(("degrees", "printed"), TABLE_G2.items())
def test_students_factor_is_that_of_the_guide(degrees, printed):
    digits = 3 if degrees == 100 else 2
    assert round(student(degrees), digits) == printed


# Student's own data (W. S. Gosset, "The probable error of a mean", Biometrika 6, 1908; from memory): the extra hours
# of sleep that ten patients gained by the second drug over the first; mean 1.58 h, deviation 1.23 h, t 4.06.
SLEEP_HOURS = [1.2, 2.4, 1.3, 1.3, 0.0, 1.0, 1.8, 0.8, 4.6, 1.4]


def test_students_sleep_data_give_his_mean_deviation_and_t():
    found = bias(SLEEP_HOURS)
    assert found.mean_mm == pytest.approx(1.58)
    assert round(found.spread_mm, 2) == 1.23
    assert round(found.mean_mm / found.u_mm, 2) == 4.06
    assert found.sure
