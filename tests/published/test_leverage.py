"""The monotone cubic of a leverage table against published data and the reference implementation."""

import numpy as np
import pytest

from calc.leverage import table

X = [7.99, 8.09, 8.19, 8.7, 9.2, 10, 12, 15, 20]
Y = [0, 2.76429e-5, 0.0437498, 0.169183, 0.469428, 0.943740, 0.998636, 0.999919, 0.999994]


@pytest.mark.parametrize(("at", "value"), [(8.5, 0.116633), (9.6, 0.760248), (11, 0.986043)])
def test_monotone_data(at, value):
    """Data of J. M. Hyman, SIAM J. Sci. Stat. Comput. 4 (1983); values by SciPy's PCHIP."""
    assert float(table(X, Y).stroke(at)) == pytest.approx(value, abs=5e-7)


def test_the_curve_never_overshoots():
    """The property the method is published for (Fritsch and Butland, SIAM J. Sci. Stat. Comput. 5, 1984)."""
    x = np.linspace(X[0], X[-1], 20001)
    stroke, slope, _ = table(X, Y).motion(x)
    assert (np.diff(stroke) >= -1e-15).all()
    assert (slope >= -1e-15).all()
    assert stroke.max() <= Y[-1] + 1e-15
