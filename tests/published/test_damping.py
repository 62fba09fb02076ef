"""The decay of a swing against Rao's motorcycle, a textbook's swing and SciPy's integrated one."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from calc.contact import contact
from calc.damping import growth, swing
from tests.published.source import LIBRARY, source


@source("S. S. Rao, Mechanical Vibrations, ch. 2, example of a motorcycle's shock absorber (2.3582652 kN/m, 554.4981)")
def test_raos_motorcycle():
    found = swing({"amplitude_ratio": 4, "cycles": 0.5, "period_s": 2}, 200)
    assert round(found.damping_ratio, 4) == 0.4037
    assert round(found.rate_n_per_m, 1) == 2358.3
    assert round(found.damping_n_s_per_m, 1) == 554.5


@source("R. S. Khurmi and J. K. Gupta, Theory of Machines: m 8 kg, s 5.4 N/mm, c 40 N·s/m; c_c 416, decrement 0.6")
def test_khurmis_dashpot():
    critical = 2 * math.sqrt(8 * 5400)
    assert round(critical) == 416
    period = 2 * math.pi / math.sqrt(5400 / 8 * (1 - (40 / critical) ** 2))
    found = swing({"amplitude_ratio": math.exp(0.6), "cycles": 1, "period_s": period}, 8)
    # The decrement is printed to one digit: 0.6 stands for 0.60 ± 0.05.
    assert found.damping_ratio == pytest.approx(0.096, rel=0.06)
    assert found.damping_n_s_per_m == pytest.approx(40, rel=0.06)
    assert found.rate_n_per_m == pytest.approx(5400, rel=0.003)


@source("SciPy's solve_ivp: a mass on spring and damper let go, its peaks read", LIBRARY)
@pytest.mark.parametrize(("mass", "rate", "damping"), [(90, 9000, 300), (160, 18_000, 1200), (60, 12_000, 500)])
def test_an_integrated_swing_gives_its_spring_and_damper_back(mass, rate, damping):
    def falls(_, state):
        return state[1]

    falls.direction = 0
    run = solve_ivp(
        lambda _, state: [state[1], -(rate * state[0] + damping * state[1]) / mass],
        (0, 4),
        [0.1, 0.0],
        events=falls,
        rtol=1e-11,
        atol=1e-14,
    )
    times, peaks = run.t_events[0], np.abs(run.y_events[0][:, 0])
    times, peaks = times[times > 1e-6], peaks[run.t_events[0] > 1e-6]  # half a swing apart
    decay = {"amplitude_ratio": peaks[0] / peaks[2], "cycles": 1, "period_s": times[2] - times[0]}
    found = swing(decay, mass)
    assert found.rate_n_per_m == pytest.approx(rate, rel=1e-5)
    assert found.damping_n_s_per_m == pytest.approx(damping, rel=1e-5)
    assert found.damping_ratio == pytest.approx(damping / (2 * math.sqrt(rate * mass)), rel=1e-5)


@source("S. S. Rao, Mechanical Vibrations: ζ = c/(2√(km)), from memory; SciPy's roots of the two oscillators", LIBRARY)
def test_the_same_damping_ratio_after_a_stiffer_spring():
    mass, before, after, damping = 110.0, 16.0, 20.0, 900.0
    factor = growth(before, after)
    ratios = []
    for rate, c in ((before, damping), (after, damping * factor)):
        root = np.roots([mass, c, rate * 1000])[0]
        ratios.append(-root.real / abs(root))
    assert ratios[1] == pytest.approx(ratios[0], rel=1e-12)
    assert factor == pytest.approx(1.118034, rel=1e-6)  # √1.25


@source("S. S. Rao, Mechanical Vibrations, ch. 2, the same motorcycle through the whole calculation")
def test_a_swing_stands_for_its_damping_ratio():
    bike = {"sprung_kg": 200, "unsprung_kg": 17, "tyre_rate_n_per_mm": 150, "speed_km_per_h": 72, "road_class": "C"}
    decay = {"amplitude_ratio": 4, "cycles": 0.5, "period_s": 2}
    after = {"wheel_rate_n_per_mm": 3}
    swung = contact({**bike, "before": {"wheel_rate_n_per_mm": 2.4, "decay": decay}, "after": after})
    stated = contact({**bike, "before": {"wheel_rate_n_per_mm": 2.4, "damping_ratio": 0.4037}, "after": after})
    assert swung["before"]["tyre_load_n"] == pytest.approx(stated["before"]["tyre_load_n"], rel=1e-3)
    note = next(note for note in swung["notes"] if note["code"] == "swing")
    assert "2.36 N/mm" in note["text"]
