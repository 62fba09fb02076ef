"""The monotone cubic of a leverage table against published data and the reference implementation."""

import numpy as np
import pytest
from scipy.interpolate import PchipInterpolator

from calc.leverage import table
from tests.published.source import BALANCE, LIBRARY, source

X = [7.99, 8.09, 8.19, 8.7, 9.2, 10, 12, 15, 20]
Y = [0, 2.76429e-5, 0.0437498, 0.169183, 0.469428, 0.943740, 0.998636, 0.999919, 0.999994]


@source("J. M. Hyman, SIAM J. Sci. Stat. Comput. 4 (1983), data; values by SciPy", LIBRARY)
@pytest.mark.parametrize(("at", "value"), [(8.5, 0.116633), (9.6, 0.760248), (11, 0.986043)])
def test_monotone_data(at, value):
    """Data of J. M. Hyman, SIAM J. Sci. Stat. Comput. 4 (1983); values by SciPy's PCHIP."""
    assert float(table(X, Y).stroke(at)) == pytest.approx(value, abs=5e-7)


@source("F. N. Fritsch and J. Butland, SIAM J. Sci. Stat. Comput. 5 (1984)", BALANCE)
def test_the_curve_never_overshoots():
    """The property the method is published for (Fritsch and Butland, SIAM J. Sci. Stat. Comput. 5, 1984)."""
    x = np.linspace(X[0], X[-1], 20001)
    stroke, slope, _ = table(X, Y).motion(x)
    assert (np.diff(stroke) >= -1e-15).all()
    assert (slope >= -1e-15).all()
    assert stroke.max() <= Y[-1] + 1e-15


@source("NAG Library, example of e01be and e01bf on these data (Fritsch and Butland's slopes), from memory")
@pytest.mark.parametrize(("at", "value"), [(9.191, 0.4640), (10.392, 0.9645), (11.593, 0.9965), (12.794, 0.9992)])
def test_the_nag_librarys_table(at, value):
    assert round(float(table(X, Y).stroke(at)), 4) == value


@source("SciPy's PchipInterpolator, its derivatives and its end slopes", LIBRARY)
def test_any_rising_table_is_scipys():
    random = np.random.default_rng(1984)
    for _ in range(40):
        wheel = np.cumsum(random.uniform(3, 40, random.integers(2, 20)))
        shock = np.cumsum(random.uniform(0.5, 20, len(wheel)))
        ours, scipys = table(wheel, shock), PchipInterpolator(wheel, shock)
        at = random.uniform(wheel[0], wheel[-1], 50)
        for part, order in zip(ours.motion(at), range(3), strict=True):
            assert part == pytest.approx(scipys(at, order), rel=1e-9, abs=1e-12)
