"""Choosing from 400 fork springs with 2,000 samples each, against a loop of SciPy's brentq on the same equations.

Run it with `python tests/bench/bench_choose.py`; it prints one JSON line. The loop is timed on a part of the
springs and scaled to all; nothing here is asserted by a test, for times are a machine's own.
"""

from __future__ import annotations

import json
import math
import resource
import statistics
import sys
import time
import tracemalloc
from functools import partial
from pathlib import Path

import numpy as np
from scipy.optimize import brentq

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from calc import choose as choosing
from calc.choose import CLOSE_M, FRICTION_M, SCALE_KG, SEED, STAMP
from calc.evaluate import end_from, sprung_load
from calc.gas import STANDARD_GRAVITY, atmosphere
from calc.solve import settle
from calc.springs import batch, spring_from
from tests.sample import FRONT, LEG

SPRINGS, SAMPLES, LOOPED, REPEATS = 400, 2000, 2, 5
REQUEST = {
    "front": FRONT,
    "springs": [
        {"id": index, "label": "", "spring": {"kind": "straight", "rate_n_per_mm": 3 + 4 * index / SPRINGS}}
        for index in range(SPRINGS)
    ],
    "target_static_sag_mm": [25, 40],
    "target_rider_sag_mm": [55, 75],
}


def draw() -> np.ndarray:
    """Return the very samples that `choose` draws."""
    return np.random.default_rng(SEED).uniform(-1.0, 1.0, (5, SAMPLES))


def looped(rate: float, preload: float, drawn: np.ndarray) -> list[tuple[float, float]]:
    """Return both sags (m, friction left out) of every sample of one spring, root by root; SI."""
    stroke, lean = FRONT["stroke_mm"] / 1000, math.cos(math.radians(FRONT["rake_deg"]))
    ambient = float(atmosphere(FRONT["altitude_m"]))
    area = math.pi / 4 * (LEG["seal_diameter_mm"] / 1000) ** 2
    end = math.pi / 4 * (LEG["bore_diameter_mm"] / 1000) ** 2 * LEG["air_gap_mm"] / 1000 - LEG["solids_cm3"] * 1e-6
    full = end + area * stroke
    found = []
    for sample in range(drawn.shape[1]):
        stiff = rate * (1 + STAMP * drawn[0, sample])

        def axial(x: float, load: float, stiff: float = stiff) -> float:
            air = ambient * (full / (end + area * (stroke - x)) - 1) * area
            return 2 * (stiff * max(preload + x, 0.0) + air) - load

        sags = []
        for state, row in (("static", 1), ("rider", 2)):
            load = (sprung_load(FRONT, state) + SCALE_KG * STANDARD_GRAVITY * drawn[row, sample]) * lean
            if axial(0.0, load) >= 0:
                sags.append(0.0)
            elif axial(stroke, load) <= 0:
                sags.append(stroke)
            else:
                sags.append(brentq(axial, 0.0, stroke, args=(load,), xtol=1e-9))
        found.append((sags[0], sags[1]))
    return found


def arrays(rates: list[float], preloads: np.ndarray, drawn: np.ndarray) -> np.ndarray:
    """Return both sags (m) of the same samples as `choose` solves them, shape (2, springs, samples)."""
    springs = batch([spring_from({"kind": "straight", "rate_n_per_mm": rate / 1000}) for rate in rates])
    end, part = end_from(FRONT, "front"), slice(None)
    varied = end.with_springs(springs.columns(part).scaled(1 + STAMP * drawn[0]), preloads[:, None])
    nominal = end.with_springs(springs.columns(part), preloads[:, None])
    sags = []
    for state, row in (("static", 1), ("rider", 2)):
        load = sprung_load(FRONT, state) + SCALE_KG * STANDARD_GRAVITY * drawn[row]
        start = settle(nominal, float(load.mean()), close=CLOSE_M)
        sags.append(settle(varied, load, start=start, close=CLOSE_M))
    return np.array(sags)


def main() -> None:
    """Time both, compare their sags and print one line."""
    choosing.probabilities = partial(choosing.probabilities, samples=SAMPLES)
    ranked = choosing.choose(REQUEST)["ranked"]
    times, works = [], []
    for _ in range(REPEATS):
        begin, busy = time.perf_counter(), time.process_time()
        choosing.choose(REQUEST)
        times.append(time.perf_counter() - begin)
        works.append(time.process_time() - busy)
    tracemalloc.start()
    choosing.choose(REQUEST)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    drawn = draw()
    some = [ranked[index * SPRINGS // LOOPED] for index in range(LOOPED)]
    rates = [row["spring"]["rate_n_per_mm"] * 1000 for row in some]
    preloads = np.array([row["preload_mm"] / 1000 for row in some])
    begin, busy = time.perf_counter(), time.process_time()
    one_by_one = [looped(rate, preload, drawn) for rate, preload in zip(rates, preloads.tolist(), strict=True)]
    loop, loop_work = (
        (now - then) * SPRINGS / LOOPED for now, then in ((time.perf_counter(), begin), (time.process_time(), busy))
    )
    apart = np.abs(arrays(rates, preloads, drawn) - np.moveaxis(np.array(one_by_one), 2, 0)).max()
    chances = [abs(_share(sags, drawn) - row["probability"]) for sags, row in zip(one_by_one, some, strict=True)]
    took, work = statistics.median(times), statistics.median(works)
    print(
        json.dumps(
            {
                "bench": "choose",
                "springs": SPRINGS,
                "samples": SAMPLES,
                "choose_s": round(took, 4),
                "brentq_loop_s": round(loop, 2),
                "brentq_timed_on_springs": LOOPED,
                "times_faster": round(loop / took, 1),
                # On a machine that others use too, the processor's own time is the fairer measure.
                "times_less_processor_time": round(loop_work / work, 1),
                "largest_sag_difference_mm": float(f"{apart * 1000:.3g}"),
                "largest_probability_difference": float(f"{max(chances):.3g}"),
                "peak_traced_mb": round(peak / 1e6, 1),
                "peak_resident_mb": round(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024, 1),
            }
        )
    )


def _share(sags: list[tuple[float, float]], drawn: np.ndarray) -> float:
    """Return the share of samples in which both sags, friction added, lie in band."""
    both = np.array(sags).T + FRICTION_M * drawn[3:5]
    inside = np.ones(both.shape[1], dtype=bool)
    for sag, key in zip(both, ("target_static_sag_mm", "target_rider_sag_mm"), strict=True):
        low, high = REQUEST[key]
        inside &= (sag * 1000 >= low - 1e-4) & (sag * 1000 <= high + 1e-4)
    return float(inside.mean())


if __name__ == "__main__":
    main()
