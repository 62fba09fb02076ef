"""Springs of every kind against definitions worked out in the test, SciPy's quad and brentq."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.optimize import brentq

from calc.evaluate import evaluate
from calc.refusal import Refusal
from calc.springs import (
    Stops,
    batch,
    dual,
    in_series,
    progressive,
    side_by_side,
    spring_from,
    straight,
    wound,
)

RATE = st.floats(500, 500_000)
DEFLECTION = st.floats(-0.05, 0.6)


@st.composite
def any_spring(draw):
    soft, part, change = draw(RATE), draw(st.floats(1, 4)), draw(st.floats(0.001, 0.4))
    return draw(
        st.sampled_from([straight(soft), dual(soft, soft * part, change), progressive(soft, soft * part, change)])
    )


@settings(deadline=None)
@given(soft=RATE, hard=RATE, change=st.floats(0.001, 0.4), delta=DEFLECTION)
def test_dual_is_two_straight_lines(soft, hard, change, delta):
    spring = dual(soft, hard, change)
    below = soft * max(delta, 0)
    force = below if delta <= change else soft * change + hard * (delta - change)
    assert float(spring.force_at(delta)) == pytest.approx(force, rel=1e-12, abs=1e-9)


@settings(deadline=None)
@given(start=RATE, end=RATE, over=st.floats(0.001, 0.4), delta=DEFLECTION)
def test_progressive_is_the_integral_of_a_rate_that_rises_linearly(start, end, over, delta):
    def rate(d):
        return start + (end - start) * min(d / over, 1)

    force = quad(rate, 0, delta, points=[over] if 0 < over < delta else None)[0] if delta > 0 else 0.0
    got, got_rate = progressive(start, end, over).force_and_rate(delta)
    assert float(got) == pytest.approx(force, rel=1e-9, abs=1e-9)
    assert float(got_rate) == pytest.approx(rate(delta) if delta >= 0 else 0.0, rel=1e-9)


@settings(deadline=None)
@given(spring=any_spring(), delta=DEFLECTION)
def test_energy_is_the_integral_of_the_force(spring, delta):
    knots = [float(k) for k in spring.knots if 0 < k < delta]
    work = quad(lambda d: float(spring.force_at(d)), min(delta, 0), delta, points=knots or None)[0]
    assert float(spring.energy_at(delta)) == pytest.approx(work, rel=1e-9, abs=1e-9)


@settings(deadline=None)
@given(spring=any_spring(), force=st.floats(0, 20_000))
def test_deflection_inverts_the_force(spring, force):
    delta = float(spring.deflection_at(force))
    assert float(spring.force_at(delta)) == pytest.approx(force, rel=1e-9, abs=1e-9)
    assert float(spring.deflection_at(-force - 1)) == 0


@settings(deadline=None)
@given(spring=any_spring(), low=DEFLECTION, high=DEFLECTION)
def test_force_never_falls_and_a_loose_spring_carries_nothing(spring, low, high):
    low, high = sorted((low, high))
    assert float(spring.force_at(low)) <= float(spring.force_at(high))
    assert float(spring.force_at(min(low, 0))) == 0
    assert float(spring.force_and_rate(-1e-6)[1]) == 0


@settings(deadline=None)
@given(springs=st.lists(any_spring(), min_size=1, max_size=6), delta=DEFLECTION, factor=st.floats(0.5, 2))
def test_a_batch_is_its_springs_one_by_one(springs, delta, factor):
    together = batch(springs)
    assert together.shape == (len(springs),)
    for name in ("force_at", "energy_at", "deflection_at"):
        argument = delta if name != "deflection_at" else 3000 * delta
        alone = [float(getattr(one, name)(argument)) for one in springs]
        assert getattr(together, name)(argument) == pytest.approx(alone, rel=1e-12)
    doubled = together.columns(slice(None)).scaled(np.array([1.0, factor]))
    assert doubled.shape == (len(springs), 2)
    plain = together.force_at(delta)
    assert doubled.force_at(delta) == pytest.approx(np.stack([plain, plain * factor], axis=1), rel=1e-12)


@settings(deadline=None)
@given(
    compliance=st.lists(st.floats(1e-6, 1e-4), min_size=1, max_size=8),
    gap=st.floats(0.001, 0.02),
    force=st.floats(0, 30_000),
)
def test_a_winding_is_solved_turn_by_turn(compliance, gap, force):
    gaps = [gap * (1 + i / 3) for i in range(len(compliance))]
    spring = wound(compliance, gaps)
    delta = sum(min(c * force, g) for c, g in zip(compliance, gaps, strict=True))
    assert float(spring.solid) == pytest.approx(sum(gaps))
    if delta < sum(gaps) * (1 - 1e-9):
        assert float(spring.force_at(delta)) == pytest.approx(force, rel=1e-6, abs=1e-6)


@settings(deadline=None)
@given(k1=RATE, k2=RATE, s1=st.floats(0.005, 0.1), force=st.floats(1, 20_000))
def test_stacked_springs_share_the_force_until_the_first_is_solid(k1, k2, s1, force):
    stack = in_series(straight(k1, solid=s1), straight(k2))
    deflection = min(force / k1, s1) + force / k2
    assert float(stack.force_at(deflection)) == pytest.approx(force, rel=1e-9)
    assert float(stack.knots[1]) == pytest.approx(s1 * (1 + k1 / k2), rel=1e-12)


def test_stacked_springs_without_a_solid_length_are_one_straight_spring():
    assert in_series(straight(2000.0), straight(3000.0)).rate.tolist() == pytest.approx([1200.0])
    both = in_series(straight(2000.0, solid=0.03), straight(3000.0, solid=0.02))
    assert both.rate.tolist() == pytest.approx([1200.0])
    assert float(both.solid) == pytest.approx(0.05)
    other = in_series(straight(2000.0, solid=0.09), straight(3000.0, solid=0.02))
    assert other.rate.tolist() == pytest.approx([1200.0, 2000.0])


@settings(deadline=None)
@given(first=any_spring(), second=any_spring(), delta=DEFLECTION)
def test_side_by_side_forces_add(first, second, delta):
    both = side_by_side(first, second)
    assert float(both.force_at(delta)) == pytest.approx(
        float(first.force_at(delta)) + float(second.force_at(delta)), rel=1e-9, abs=1e-9
    )


def test_a_request_is_read_in_workshop_units():
    solid = {"solid_deflection_mm": 250}
    spring = spring_from({"kind": "straight", "rate_n_per_mm": 4.6, **solid})
    assert (float(spring.force_at(0.1)), float(spring.solid)) == (pytest.approx(460), 0.25)
    two = spring_from({"kind": "dual", "soft_n_per_mm": 4, "hard_n_per_mm": 6, "change_mm": 50})
    assert float(two.force_at(0.06)) == pytest.approx(4 * 50 + 6 * 10)
    assert np.isnan(two.solid)
    rising = spring_from({"kind": "progressive", "start_n_per_mm": 4, "end_n_per_mm": 6, "over_mm": 50})
    assert float(rising.force_at(0.05)) == pytest.approx(5 * 50)


@settings(deadline=None)
@given(x=st.floats(0, 0.3), top=st.floats(0, 0.05), bump=st.floats(0, 0.05))
def test_stops_push_over_their_own_lengths_only(x, top, bump):
    stops = Stops(0.3, topout_rate=30_000, topout_length=top, bump_rate=80_000, bump_length=bump)

    def force(s):
        return 80_000 * max(s - (0.3 - bump), 0) - 30_000 * max(top - s, 0)

    assert float(stops.force_and_rate(x)[0]) == pytest.approx(force(x), abs=1e-9)
    kinks = [k for k in (top, 0.3 - bump) if 0 < k < x]
    assert float(stops.work(x)) == pytest.approx(quad(force, 0, x, points=kinks or None)[0], rel=1e-8, abs=1e-8)
    step = 1e-7
    if min(abs(x - top), abs(x - 0.3 + bump), x) > 1e-5:
        slope = (force(x + step) - force(x - step)) / (2 * step)
        assert float(stops.force_and_rate(x)[1]) == pytest.approx(slope, rel=1e-5, abs=1e-2)


def test_the_inverse_agrees_with_brentq():
    spring = progressive(4000.0, 9000.0, 0.12)
    for force in (10.0, 400.0, 780.0, 2500.0):
        root = brentq(lambda d, f=force: float(spring.force_at(d)) - f, 0, 1, xtol=1e-13)
        assert float(spring.deflection_at(force)) == pytest.approx(root, rel=1e-9)


def test_a_winding_of_equal_turns_is_the_straight_coil_of_the_handbook():
    """k = G d⁴/(8 D³ n), Shigley, Mechanical Engineering Design, ch. 10: the straight case."""
    turn = {"wire_mm": 4.5, "mean_diameter_mm": 34, "gap_mm": 9}
    coil = spring_from({"kind": "wound", "shear_modulus_gpa": 78.5, "turns": [turn] * 40})
    rate = 78.5e9 * 0.0045**4 / (8 * 0.034**3 * 40)
    assert coil.rate.tolist() == pytest.approx([rate])
    assert float(coil.solid) == pytest.approx(0.36)


def test_a_winding_with_close_turns_is_the_dual_spring():
    close = {"wire_mm": 4.5, "mean_diameter_mm": 34, "gap_mm": 2}
    wide = {**close, "gap_mm": 12}
    coil = spring_from({"kind": "wound", "shear_modulus_gpa": 80, "turns": [close] * 20 + [wide] * 20})
    one = 80e9 * 0.0045**4 / (8 * 0.034**3)
    plain = dual(one / 40, one / 20, 0.080)
    for delta in (0.01, 0.079, 0.081, 0.2):
        assert float(coil.force_at(delta)) == pytest.approx(float(plain.force_at(delta)), rel=1e-9)


@st.composite
def bendless(draw):
    rate, solid = draw(RATE), draw(st.one_of(st.just(np.nan), st.floats(0.005, 0.2)))
    turn = st.tuples(st.floats(1e-6, 1e-4), st.floats(0.001, 0.02))
    turns = np.array(draw(st.lists(turn, min_size=1, max_size=5)))
    kinds = [
        straight(rate, solid),
        dual(rate, rate * draw(st.floats(1, 4)), draw(st.floats(0.001, 0.1)), solid),
        wound(turns[:, 0], turns[:, 1]),
    ]
    return draw(st.sampled_from(kinds))


@settings(deadline=None)
@given(springs=st.lists(bendless(), min_size=2, max_size=4), part=st.floats(0, 1))
def test_a_stack_yields_what_its_springs_yield_under_one_force_until_they_are_solid(springs, part):
    stack = springs[0]
    for each in springs[1:]:
        stack = in_series(stack, each)
    shut = [float(each.force_at(each.solid)) if np.isfinite(each.solid) else 50_000.0 for each in springs]
    force = part * max(shut)
    expected = 0.0
    for each in springs:
        far = brentq(lambda d, each=each: float(each.force_at(d)) - force, 0, 5000.0, xtol=1e-15)
        expected += far if np.isnan(each.solid) else min(far, float(each.solid))
    assert float(stack.deflection_at(force)) == pytest.approx(expected, rel=1e-8, abs=1e-10)
    assert float(stack.force_at(stack.deflection_at(force))) == pytest.approx(force, rel=1e-8, abs=1e-8)
    whole = sum(float(each.solid) for each in springs)
    assert float(stack.solid) == pytest.approx(whole, nan_ok=True)
    assert (np.diff(stack.force) > 0).all()


def test_combinations_are_read_from_requests():
    short = {"kind": "straight", "rate_n_per_mm": 12, "solid_deflection_mm": 15}
    long = {"kind": "straight", "rate_n_per_mm": 6}
    stack = spring_from({"kind": "stacked", "springs": [short, long], "solid_deflection_mm": 90})
    # 12·6/18 = 4 N/mm until 180 N shuts the short one, at 15 + 30 mm of the stack; then 6 N/mm.
    assert stack.force_at(np.array([0.045, 0.055])) == pytest.approx([180, 240])
    assert float(stack.solid) == pytest.approx(0.09)
    rising = {"kind": "progressive", "start_n_per_mm": 2, "end_n_per_mm": 4, "over_mm": 50}
    beside = spring_from({"kind": "side_by_side", "springs": [short, long, rising]})
    assert float(beside.force_at(0.01)) == pytest.approx(120 + 60 + 20.0 + 2.0)
    assert float(beside.solid) == pytest.approx(0.015)


def end_with(spring):
    leg = {"spring": spring, "preload_mm": 5, "seal_diameter_mm": 43, "bore_diameter_mm": 37, "air_gap_mm": 120}
    loads = {"unsprung_kg": 16, "load_static_kg": 60, "load_rider_kg": 88}
    return {"front": {"stroke_mm": 130, "rake_deg": 25, **loads, "legs": [{**leg, "solids_cm3": 40}] * 2}}


def test_a_fork_on_a_stack_is_a_fork_on_the_dual_spring_that_it_makes():
    short = {"kind": "straight", "rate_n_per_mm": 12, "solid_deflection_mm": 15}
    stack = {"kind": "stacked", "springs": [short, {"kind": "straight", "rate_n_per_mm": 6}]}
    same = {"kind": "dual", "soft_n_per_mm": 4, "hard_n_per_mm": 6, "change_mm": 45}
    one, other = (evaluate(end_with(spring))["front"] for spring in (stack, same))
    for name in ("static_sag_mm", "rider_sag_mm", "full_stroke_n", "energy_to_stop_j"):
        assert one[name] == pytest.approx(other[name], rel=1e-5)


HALF = {"kind": "straight", "rate_n_per_mm": 9}


@pytest.mark.parametrize(
    ("spring", "field", "code", "words"),
    [
        ({"kind": "stacked", "springs": [HALF]}, "springs", "parts", "2 to 4 springs"),
        ({"kind": "stacked", "springs": [HALF] * 5}, "springs", "parts", "2 to 4 springs"),
        ({"kind": "stacked", "springs": [HALF, {"kind": "straight"}]}, "springs.1.rate_n_per_mm", "missing", "rate"),
        (
            {"kind": "side_by_side", "springs": [HALF, {"kind": "stacked", "springs": [HALF, HALF]}]},
            "springs.1.kind",
            "unknown_kind",
            "no kind of spring",
        ),
        ({"kind": "side_by_side", "springs": [HALF] * 3}, "springs", "out_of_band", "make 27 N/mm"),
        ({"kind": "side_by_side", "springs": [HALF, HALF], "solid_deflection_mm": 90}, None, "coil_bind", "45 mm"),
        (
            {
                "kind": "stacked",
                "springs": [HALF, {"kind": "progressive", "start_n_per_mm": 4, "end_n_per_mm": 6, "over_mm": 50}],
            },
            "springs.1.kind",
            "progressive_in_stack",
            "on the tester",
        ),
    ],
)
def test_a_combination_that_cannot_be_is_refused_by_name(spring, field, code, words):
    with pytest.raises(Refusal) as caught:
        evaluate(end_with(spring))
    found = caught.value.problems[0]
    assert found.code == code
    assert words in found.text
    assert field is None or found.field == f"front.legs.0.spring.{field}"
