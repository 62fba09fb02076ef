"""Student's factor against the GUM's own table and SciPy."""

import pytest
from scipy.stats import t

from calc.learned import student
from tests.published.source import LIBRARY, source


@source("JCGM 100:2008, table G.2, p = 95 %")
@pytest.mark.parametrize(
    ("degrees", "factor"),
    [(1, 12.71), (2, 4.30), (3, 3.18), (4, 2.78), (5, 2.57), (10, 2.23), (20, 2.09), (30, 2.04), (50, 2.01)],
)
def test_students_factor_of_the_gum(degrees, factor):
    assert round(student(degrees), 2) == factor


@source("SciPy's Student distribution", LIBRARY)
@pytest.mark.parametrize("degrees", [1, 2, 3, 7, 29, 30, 31, 60, 400])
def test_students_factor_of_scipy(degrees):
    assert student(degrees) == pytest.approx(t.ppf(0.975, degrees), rel=1e-6)
