"""Trapped air against SciPy's quad and a central difference."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from calc.gas import TrappedAir, volume_at, work_into

AIR = st.builds(
    lambda area, end, over, ambient: TrappedAir(area, end + area * 0.3, ambient + over, ambient),
    st.floats(2e-4, 5e-3),
    st.floats(2e-5, 1e-3),
    st.floats(0, 2e6),
    st.floats(45_000, 108_000),
)
STROKE = st.floats(0, 0.3)
EXPONENT = st.sampled_from([1.0, 1.1, 1.25, 1.4])


@settings(deadline=None)
@given(air=AIR, x=STROKE, n=EXPONENT)
def test_force_is_pressure_over_atmosphere_times_area(air, x, n):
    pressure = air.pressure * (air.volume / (air.volume - air.area * x)) ** n
    force, _ = air.force_and_rate(x, n)
    assert float(force) == pytest.approx((pressure - air.ambient) * air.area, rel=1e-9, abs=1e-6)


@settings(deadline=None)
@given(air=AIR, x=st.floats(0.001, 0.299), n=EXPONENT)
def test_rate_is_the_slope_of_the_force(air, x, n):
    step = 1e-6
    slope = float(air.force_and_rate(x + step, n)[0] - air.force_and_rate(x - step, n)[0]) / (2 * step)
    assert float(air.force_and_rate(x, n)[1]) == pytest.approx(slope, rel=1e-4, abs=1e-2)


@settings(deadline=None)
@given(air=AIR, x=STROKE, n=EXPONENT)
def test_work_is_the_integral_of_the_force(air, x, n):
    work = quad(lambda s: float(air.force_and_rate(s, n)[0]), 0, x, epsrel=1e-10, limit=200)[0]
    assert float(air.work(x, n)) == pytest.approx(work, rel=1e-7, abs=1e-6)


@settings(deadline=None)
@given(air=AIR, n=EXPONENT)
def test_vented_air_pushes_nothing_at_full_extension(air, n):
    vented = TrappedAir(air.area, air.volume, air.ambient, air.ambient)
    assert float(vented.force_and_rate(0.0, n)[0]) == pytest.approx(0, abs=1e-9)


@settings(deadline=None)
@given(x=st.floats(0.01, 0.3), air=AIR)
def test_a_quicker_stroke_meets_more_force(x, air):
    forces = [float(air.force_and_rate(x, n)[0]) for n in (1.0, 1.2, 1.4)]
    assert forces == sorted(forces)


@settings(deadline=None)
@given(p=st.floats(5e4, 1e6), v=st.floats(1e-4, 1e-2), squeeze=st.floats(1.01, 20), n=EXPONENT)
def test_volume_undoes_the_polytrope(p, v, squeeze, n):
    assert float(volume_at(p, v, p * squeeze**n, n)) == pytest.approx(v / squeeze, rel=1e-9)
    assert float(work_into(p, v, v / squeeze, n)) > 0
