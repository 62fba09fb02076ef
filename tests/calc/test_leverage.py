"""The leverage curve against SciPy's PchipInterpolator: value, slope and second derivative, ends included."""

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.interpolate import PchipInterpolator

from calc.leverage import hermite_slopes, leverage_from, ratio, table


def rising(widths, ratios):
    wheel = np.concatenate([[0.0], np.cumsum(widths)])
    shock = np.concatenate([[0.0], np.cumsum([w / r for w, r in zip(widths, ratios, strict=True)])])
    return wheel, shock


TABLES = st.integers(1, 12).flatmap(
    lambda count: st.tuples(
        st.lists(st.floats(1, 100), min_size=count, max_size=count),
        st.lists(st.floats(0.3, 30), min_size=count, max_size=count),
    )
)


@settings(deadline=None)
@given(pairs=TABLES, part=st.floats(0, 1))
def test_value_slope_and_second_derivative_are_scipys(pairs, part):
    wheel, shock = rising(*pairs)
    z = part * wheel[-1]
    assume(np.abs(wheel[1:-1] - z).min(initial=np.inf) > 1e-9)
    reference = PchipInterpolator(wheel, shock)
    for order, got in enumerate(table(wheel, shock).motion(z)):
        assert float(got) == pytest.approx(float(reference(z, order)), rel=1e-8, abs=1e-9)
    assert float(table(wheel, shock).stroke(z)) == pytest.approx(float(reference(z)), rel=1e-9, abs=1e-9)


@settings(deadline=None)
@given(pairs=TABLES)
def test_the_curve_passes_through_the_readings_and_never_falls(pairs):
    wheel, shock = rising(*pairs)
    curve = table(wheel, shock)
    assert curve.stroke(wheel) == pytest.approx(shock, rel=1e-9)
    assert (np.diff(curve.stroke(np.linspace(0, wheel[-1], 500))) >= -1e-9).all()


@settings(deadline=None)
@given(values=st.lists(st.integers(-50, 50), min_size=3, max_size=8))
def test_slopes_are_scipys_for_any_data_even_falling(values):
    x = np.arange(len(values), dtype=float)
    y = np.array(values, dtype=float)
    slopes = hermite_slopes(np.diff(x), np.diff(y))
    assert slopes == pytest.approx(PchipInterpolator(x, y).derivative()(x), rel=1e-8, abs=1e-9)


def test_the_first_and_last_knot_use_scipys_three_point_slopes():
    wheel, shock = [0.0, 30.0, 80.0, 100.0], [0.0, 25.0, 30.0, 55.0]
    reference = PchipInterpolator(wheel, shock)
    for z in (0.0, 100.0):
        for order, got in enumerate(table(wheel, shock).motion(z)):
            assert float(got) == pytest.approx(float(reference(z, order)), rel=1e-12)


def test_a_constant_ratio_is_the_inverse_of_the_motion_ratio():
    stroke, motion, change = ratio(2.5).motion(np.array([0.0, 0.1, 0.3]))
    assert stroke == pytest.approx([0, 0.04, 0.12])
    assert motion == pytest.approx([0.4, 0.4, 0.4])
    assert change == pytest.approx([0, 0, 0])


def test_two_readings_make_a_constant_ratio():
    assert float(table([0, 300], [0, 120]).motion(77.0)[1]) == pytest.approx(0.4)


def test_a_request_is_read_in_millimetres():
    read = leverage_from({"kind": "table", "wheel_mm": [0, 100, 200], "shock_mm": [0, 40, 90]})
    assert float(read.stroke(0.1)) == pytest.approx(0.04)
    assert float(leverage_from({"kind": "ratio", "wheel_per_shock": 2}).stroke(0.1)) == pytest.approx(0.05)
