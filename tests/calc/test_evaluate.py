"""evaluate against SciPy: brentq for the sags, quad for the energies, PchipInterpolator for the leverage.

The reference below is written from the equations alone, one scalar at a time, and shares nothing with calc.
"""

import functools
import itertools
import math

import pytest
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq

from calc.evaluate import evaluate, evaluate_front, evaluate_rear
from calc.refusal import Refusal
from tests import sample

G = 9.80665


def spring_force(spring, mm):
    if spring is None or mm <= 0:
        return 0.0
    if spring["kind"] == "straight":
        return spring["rate_n_per_mm"] * mm
    if spring["kind"] == "dual":
        soft, hard, change = spring["soft_n_per_mm"], spring["hard_n_per_mm"], spring["change_mm"]
        return soft * mm if mm < change else soft * change + hard * (mm - change)
    start, end, over = spring["start_n_per_mm"], spring["end_n_per_mm"], spring["over_mm"]
    if mm < over:
        return start * mm + (end - start) / over * mm * mm / 2
    return (start + end) / 2 * over + end * (mm - over)


def stops_force(end, mm, stroke):
    force = 0.0
    if end.get("topout"):
        force -= end["topout"]["rate_n_per_mm"] * max(end["topout"]["length_mm"] - mm, 0.0)
    if end.get("bump"):
        force += end["bump"]["rate_n_per_mm"] * max(mm - (stroke - end["bump"]["length_mm"]), 0.0)
    return force


def standard_pressure(metres):
    return 101325 * (1 - 0.0065 * metres / 288.15) ** 5.25588


def leg_air(leg, mm, stroke, altitude, n):
    ambient = standard_pressure(altitude)
    area = math.pi / 4 * leg["seal_diameter_mm"] ** 2
    end = math.pi / 4 * leg["bore_diameter_mm"] ** 2 * leg["air_gap_mm"] - 1000 * leg["solids_cm3"]
    full = end + area * stroke
    pressure = (ambient + 1000 * leg["pressure_kpa"]) * (full / (full - area * mm)) ** n
    return (pressure - ambient) * area * 1e-6


def front_force(front, mm, n=1.0):
    stroke = front["stroke_mm"]
    axial = stops_force(front, mm, stroke)
    for leg in front["legs"]:
        axial += spring_force(leg["spring"], leg["preload_mm"] + mm)
        axial += leg_air(leg, mm, stroke, front["altitude_m"], n)
    return axial / math.cos(math.radians(front["rake_deg"]))


def motion(rear):
    leverage = rear["leverage"]
    if leverage["kind"] == "ratio":
        r = 1 / leverage["wheel_per_shock"]
        return (lambda z: z * r), (lambda z: r)
    return pchip(tuple(leverage["wheel_mm"]), tuple(leverage["shock_mm"]))


@functools.lru_cache(maxsize=4)
def pchip(wheel, shock):
    curve = PchipInterpolator(wheel, shock)
    return curve, curve.derivative()


def shock_force(rear, mm, stroke):
    return spring_force(rear["spring"], rear["preload_mm"] + mm) + rear["gas_force_n"] + stops_force(rear, mm, stroke)


def rear_force(rear, z):
    s, r = motion(rear)
    return rear["shocks"] * shock_force(rear, float(s(z)), float(s(rear["wheel_travel_mm"]))) * float(r(z))


def place(force, load, travel):
    if force(0.0) >= load:
        return 0.0
    if force(travel) <= load:
        return travel
    return brentq(lambda u: force(u) - load, 0.0, travel, xtol=1e-10, rtol=1e-14)


def integral(force, low, high, kinks):
    edges = sorted({low, high, *(k for k in kinks if low < k < high)})
    return sum(quad(force, a, b, epsabs=1e-6, epsrel=1e-10, limit=200)[0] for a, b in itertools.pairwise(edges))


def kinks_of(springs_and_preloads):
    for spring, preload in springs_and_preloads:
        if spring:
            yield -preload
            yield spring.get("change_mm", spring.get("over_mm", 0.0)) - preload


def stop_kinks(end, stroke):
    if end.get("topout"):
        yield end["topout"]["length_mm"]
    if end.get("bump"):
        yield stroke - end["bump"]["length_mm"]


def expected_front(front):
    stroke, cos = front["stroke_mm"], math.cos(math.radians(front["rake_deg"]))
    loads = [(front[f"load_{state}_kg"] - front["unsprung_kg"]) * G for state in ("static", "rider")]
    sags = [place(lambda x: front_force(front, x), load, stroke) for load in loads]
    kinks = [
        *kinks_of((leg["spring"], leg["preload_mm"]) for leg in front["legs"]),
        *stop_kinks(front, stroke),
    ]

    def hard(x):
        return front_force(front, x, 1.4) * cos

    return {
        "static_sag_mm": sags[0],
        "rider_sag_mm": sags[1],
        "breakaway_n": max(front_force(front, 0.0), 0.0),
        "full_stroke_n": front_force(front, stroke, 1.4),
        "energy_to_stop_j": integral(hard, sags[1], stroke, kinks) / 1000,
        "fall_to_stop_mm": integral(hard, 0.0, stroke, kinks) / loads[1] - stroke * cos,
    }, kinks


def expected_rear(rear):
    travel = rear["wheel_travel_mm"]
    s, _ = motion(rear)
    loads = [(rear[f"load_{state}_kg"] - rear["unsprung_kg"]) * G for state in ("static", "rider")]
    sags = [place(lambda z: rear_force(rear, z), load, travel) for load in loads]
    shock_kinks = [
        *kinks_of([(rear["spring"], rear["preload_mm"])]),
        *stop_kinks(rear, float(s(travel))),
    ]
    kinks = [brentq(lambda z, k=k: float(s(z)) - k, 0, travel) for k in shock_kinks if 0 < k < float(s(travel))]
    kinks += list(rear["leverage"].get("wheel_mm", []))
    return {
        "static_sag_mm": sags[0],
        "rider_sag_mm": sags[1],
        "breakaway_n": max(rear_force(rear, 0.0), 0.0),
        "full_stroke_n": rear_force(rear, travel),
        "energy_to_stop_j": integral(lambda z: rear_force(rear, z), sags[1], travel, kinks) / 1000,
        "fall_to_stop_mm": integral(lambda z: rear_force(rear, z), 0.0, travel, kinks) / loads[1] - travel,
    }, kinks


def compare(answer, expected):
    for name, value in expected.items():
        assert answer[name] == pytest.approx(value, rel=2e-5, abs=2e-3), name


def compare_rate(answer, force, kinks, along, mass):
    """The wheel rate against a central difference, away from kinks; `along` is u per vertical travel."""
    u, step = answer["rider_sag_mm"], 1e-3
    travel = answer["curve"]["travel_mm"][-1]
    if not step < u < travel - step or any(abs(u - k) < 0.05 for k in kinks):
        return
    rate = (force(u + step) - force(u - step)) / (2 * step) * along
    assert answer["wheel_rate_n_per_mm"] == pytest.approx(rate, rel=1e-3, abs=1e-4)
    if rate > 1e-3:
        assert answer["frequency_hz"] == pytest.approx(math.sqrt(rate * 1000 / mass) / 2 / math.pi, rel=1e-3)


def springs(low, high, soft_low):
    rate = st.floats(low, high)
    straight = st.fixed_dictionaries({"kind": st.just("straight"), "rate_n_per_mm": rate})
    dual = st.builds(
        lambda a, part, change: {
            "kind": "dual",
            "soft_n_per_mm": max(a * part, soft_low),
            "hard_n_per_mm": a,
            "change_mm": change,
        },
        rate,
        st.floats(0.2, 1),
        st.floats(1, 400),
    )
    progressive = st.builds(
        lambda a, part, over: {
            "kind": "progressive",
            "start_n_per_mm": max(a * part, soft_low),
            "end_n_per_mm": a,
            "over_mm": over,
        },
        rate,
        st.floats(0.2, 1),
        st.floats(1, 400),
    )
    return st.one_of(straight, dual, progressive)


def stop(longest):
    return st.one_of(
        st.none(),
        st.fixed_dictionaries({"rate_n_per_mm": st.floats(0, 200), "length_mm": st.floats(0, longest)}),
    )


LEG = st.fixed_dictionaries(
    {
        "spring": st.one_of(st.none(), springs(2, 25, 0.5)),
        "preload_mm": st.floats(-30, 150),
        "seal_diameter_mm": st.floats(30, 60),
        "bore_diameter_mm": st.floats(28, 56),
        "air_gap_mm": st.floats(60, 250),
        "solids_cm3": st.floats(0, 150),
        "pressure_kpa": st.one_of(st.just(0), st.floats(0, 1000)),
    }
)


def loads(unsprung):
    return {
        "unsprung_kg": unsprung,
        "load_static_kg": st.floats(41, 160),
        "load_rider_kg": st.floats(42, 300),
    }


FRONT = st.fixed_dictionaries(
    {
        "stroke_mm": st.floats(20, 400),
        "rake_deg": st.floats(0, 60),
        "altitude_m": st.floats(-500, 6000),
        "legs": st.lists(LEG, min_size=1, max_size=2),
        "topout": stop(20),
        "bump": stop(20),
        **loads(st.floats(0, 40)),
    }
)


@st.composite
def tables(draw):
    count = draw(st.integers(2, 9))
    wheel, shock = [0.0], [0.0]
    for _ in range(count - 1):
        # A table is read to 600 mm of the wheel.
        width = draw(st.floats(5, min(120, (600 - wheel[-1]) / (count - len(wheel)))))
        wheel.append(wheel[-1] + width)
        shock.append(shock[-1] + width / draw(st.floats(1.2, 5)))
    return {"kind": "table", "wheel_mm": wheel, "shock_mm": shock}


LEVERAGE = st.one_of(st.fixed_dictionaries({"kind": st.just("ratio"), "wheel_per_shock": st.floats(0.9, 6)}), tables())
REAR = st.fixed_dictionaries(
    {
        "wheel_travel_mm": st.floats(20, 500),
        "shocks": st.integers(1, 2),
        "leverage": LEVERAGE,
        "spring": springs(5, 500, 2),
        "preload_mm": st.floats(-30, 150),
        "gas_force_n": st.floats(0, 1000),
        "topout": st.none(),
        "bump": st.none(),
        **loads(st.floats(0, 40)),
    }
)

DESIGN_FRONT = sample.fork(altitude_m=0)
EMPTY_LEG_HIGH_UP = {
    **DESIGN_FRONT,
    "altitude_m": 2400,
    "legs": [
        {
            **sample.LEG,
            "spring": {"kind": "dual", "soft_n_per_mm": 7.5, "hard_n_per_mm": 11, "change_mm": 90},
        },
        {**sample.LEG, "spring": None, "air_gap_mm": 95, "solids_cm3": 30},
    ],
}


def sound_front(front):
    for leg in front["legs"]:
        assume(math.pi / 4 * leg["bore_diameter_mm"] ** 2 * leg["air_gap_mm"] / 1000 > leg["solids_cm3"] + 5)
    assume(any(leg["spring"] or leg["pressure_kpa"] for leg in front["legs"]))
    assume(front["load_rider_kg"] > front["load_static_kg"])


@settings(max_examples=80, deadline=None)
@example(front=DESIGN_FRONT)
@example(front=EMPTY_LEG_HIGH_UP)
@given(front=FRONT)
def test_front_agrees_with_brentq_and_quad(front):
    sound_front(front)
    answer = evaluate_front(front)
    expected, kinks = expected_front(front)
    compare(answer, expected)
    compare_rate(
        answer,
        lambda x: front_force(front, x),
        kinks,
        1 / math.cos(math.radians(front["rake_deg"])),
        front["load_rider_kg"] - front["unsprung_kg"],
    )


@settings(max_examples=80, deadline=None)
@example(rear=sample.REAR)
@example(rear={**sample.REAR, "shocks": 2, "leverage": {"kind": "ratio", "wheel_per_shock": 1.3}})
@example(rear={**sample.REAR, "bump": {"rate_n_per_mm": 90, "length_mm": 15}})
@example(rear={**sample.REAR, "topout": {"rate_n_per_mm": 60, "length_mm": 4}})
@given(rear=REAR)
def test_rear_agrees_with_brentq_quad_and_pchip(rear):
    if rear["leverage"]["kind"] == "table":
        rear = {**rear, "wheel_travel_mm": min(rear["wheel_travel_mm"], rear["leverage"]["wheel_mm"][-1])}
        assume(rear["wheel_travel_mm"] >= 20)
    assume(rear["load_rider_kg"] > rear["load_static_kg"])
    grid = [rear_force(rear, rear["wheel_travel_mm"] * i / 500) for i in range(501)]
    assume(all(b >= a for a, b in itertools.pairwise(grid)))
    answer = evaluate_rear(rear)
    expected, kinks = expected_rear(rear)
    compare(answer, expected)
    compare_rate(answer, lambda z: rear_force(rear, z), kinks, 1.0, rear["load_rider_kg"] - rear["unsprung_kg"])


@settings(max_examples=30, deadline=None)
@given(front=FRONT, n=st.sampled_from([1.0, 1.4]))
def test_front_curve_is_the_force_at_each_travel(front, n):
    sound_front(front)
    curve = evaluate_front(front)["curve"]
    total = curve["total_n" if n == 1 else "total_hard_n"]
    assert curve["travel_mm"][0] == 0
    assert curve["travel_mm"][-1] == pytest.approx(front["stroke_mm"], rel=1e-5)
    for mm, force in zip(curve["travel_mm"], total, strict=True):
        # travel is rounded to six figures: allow for what the force changes over half a unit of the last
        step = 1e-3
        slope = abs(front_force(front, max(mm - step, 0), n) - front_force(front, mm, n)) / step
        assert force == pytest.approx(front_force(front, mm, n), rel=2e-5, abs=1e-3 + slope * 1e-3)
    for parts in zip(curve["spring_n"], curve["air_n"], curve["total_n"], strict=True):
        assert parts[0] + parts[1] == pytest.approx(parts[2], rel=2e-5, abs=0.1)


def test_rear_curve_is_the_force_at_each_travel():
    curve = evaluate_rear(sample.REAR)["curve"]
    for z, force, hard in zip(curve["travel_mm"], curve["total_n"], curve["total_hard_n"], strict=True):
        assert force == hard == pytest.approx(rear_force(sample.REAR, z), rel=1e-5)


def test_straight_spring_at_a_constant_ratio_has_its_closed_form():
    """From F = kδ alone, at leverage i: z = i (N i/k − p), rate k/i², E = k((p+S)² − (p+s)²)/2."""
    rear = {**sample.REAR, "leverage": {"kind": "ratio", "wheel_per_shock": 2.0}, "gas_force_n": 0}
    answer = evaluate_rear(rear)
    sag = ((112 - 22) * G * 2.0 / 52 - 7) * 2
    assert answer["rider_sag_mm"] == pytest.approx(sag, rel=1e-5)
    assert answer["wheel_rate_n_per_mm"] == pytest.approx(52 / 4, rel=1e-5)
    energy = 52 * ((7 + 150) ** 2 - (7 + sag / 2) ** 2) / 2000
    assert answer["energy_to_stop_j"] == pytest.approx(energy, rel=1e-5)


@settings(max_examples=30, deadline=None)
@given(front=FRONT)
def test_order_of_the_legs_is_irrelevant(front):
    sound_front(front)
    turned = evaluate_front({**front, "legs": front["legs"][::-1]})
    answer = evaluate_front(front)
    for name, value in answer.items():
        if isinstance(value, float):
            assert turned[name] == pytest.approx(value, rel=1e-5), name


@settings(max_examples=30, deadline=None)
@given(rear=REAR, more=st.floats(0.1, 40))
def test_more_preload_never_sags_more_nor_breaks_away_sooner(rear, more):
    if rear["leverage"]["kind"] == "table":
        assume(rear["leverage"]["wheel_mm"][-1] >= rear["wheel_travel_mm"])
    assume(rear["load_rider_kg"] > rear["load_static_kg"])
    assume(rear["preload_mm"] + more <= 150)
    before = evaluate_rear(rear)
    after = evaluate_rear({**rear, "preload_mm": rear["preload_mm"] + more})
    for name in ("static_sag_mm", "rider_sag_mm"):
        assert after[name] <= before[name] + 1e-3
    assert after["breakaway_n"] >= before["breakaway_n"] - 1e-3
    assert before["energy_to_stop_j"] >= -1e-6
    assert before["static_sag_mm"] <= before["rider_sag_mm"] + 1e-6


@pytest.mark.parametrize("preload", [0, 5, 20])
def test_preload_never_changes_a_straight_springs_rate(preload):
    rear = {**sample.REAR, "leverage": {"kind": "ratio", "wheel_per_shock": 2.8}, "preload_mm": preload}
    assert evaluate_rear(rear)["wheel_rate_n_per_mm"] == pytest.approx(52 / 2.8**2, rel=1e-5)


def test_a_load_too_small_is_topped_out_and_one_too_great_on_the_stop():
    light = evaluate_rear({**sample.REAR, "preload_mm": 30, "load_static_kg": 30})
    assert light["static_sag_mm"] == 0
    assert [note["code"] for note in light["notes"] if note["severity"] == "warning"] == ["topped_out"]
    heavy = evaluate_rear({**sample.REAR, "load_rider_kg": 400})
    assert heavy["rider_sag_mm"] == 300
    assert heavy["energy_to_stop_j"] == 0
    assert "on_the_stop" in [note["code"] for note in heavy["notes"]]


def test_where_the_force_falls_the_first_resting_place_is_given_and_said():
    wheel = [0, 60, 120, 180, 240, 300]
    falling = {"kind": "table", "wheel_mm": wheel, "shock_mm": [0, 40, 75, 95, 103, 107]}
    rear = {**sample.REAR, "leverage": falling, "preload_mm": 10}
    forces = [rear_force(rear, z / 10) for z in range(3001)]
    load = (112 - 22) * G
    answer = evaluate_rear(rear)
    first = next(z / 10 for z, force in enumerate(forces) if force >= load)
    assert answer["rider_sag_mm"] == pytest.approx(first, abs=0.1)
    assert "force_falls" in [note["code"] for note in answer["notes"]]


def test_clearance_is_the_least_over_known_legs_and_null_where_none_is_known():
    def leg(solid, preload=10.0):
        spring = {"kind": "straight", "rate_n_per_mm": 4.6}
        if solid is not None:
            spring["solid_deflection_mm"] = solid
        return {**sample.LEG, "spring": spring, "preload_mm": preload}

    def clearance(*legs):
        return evaluate_front({**DESIGN_FRONT, "legs": list(legs)})["solid_clearance_mm"]

    assert clearance(leg(None), leg(None)) is None
    assert clearance(leg(330), leg(None)) == pytest.approx(20)
    assert clearance(leg(330), leg(330, 25)) == pytest.approx(5)
    assert clearance({**leg(None), "spring": None}, leg(322)) == pytest.approx(12)
    rear = {**sample.REAR, "spring": {**sample.REAR["spring"], "solid_deflection_mm": 120}}
    assert evaluate_rear(rear)["solid_clearance_mm"] == pytest.approx(120 - 7 - 107)


def test_negative_preload_is_loose_and_warned_of():
    answer = evaluate_front({**DESIGN_FRONT, "legs": [{**sample.LEG, "preload_mm": -12}] * 2})
    assert answer["breakaway_n"] == 0
    assert "loose_spring" in [note["code"] for note in answer["notes"]]
    assert answer["static_sag_mm"] > evaluate_front(DESIGN_FRONT)["static_sag_mm"] + 12


def test_one_end_alone_is_answered_alone_and_none_is_refused():
    assert set(evaluate({"front": DESIGN_FRONT})) == {"front"}
    assert set(evaluate({"front": DESIGN_FRONT, "rear": sample.REAR})) == {"front", "rear"}
    with pytest.raises(Refusal):
        evaluate({})


def test_the_bottoming_reserve_is_the_hard_force_at_the_stop_over_the_load():
    answer = evaluate_front(DESIGN_FRONT)
    note = next(note for note in answer["notes"] if note["code"] == "bottoming_reserve")
    assert note["value"] == pytest.approx(front_force(DESIGN_FRONT, 300, 1.4) / ((88 - 16) * G), rel=1e-4)
