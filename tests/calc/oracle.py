"""A second solver of a whole bike: explicit formulas, SciPy's roots and quadrature.

It shares no code with `calc`, was written without reading it, and is used by tests only. Everything is SI
inside. Gas law and sums over legs are ordinary statics; the atmosphere is ISO 2533's layer from 0 to 11 km;
the monotone cubic is SciPy's PchipInterpolator.
"""

from itertools import pairwise
from math import cos, pi, radians, sqrt

import numpy as np
from scipy.integrate import quad
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq

G = 9.80665


def atmosphere(altitude_m):
    return 101325.0 * (1 - 0.0065 * altitude_m / 288.15) ** 5.255880


def spring_force(spring, deflection_m):
    """Force of one spring in N; kinds as in the API, rates in N/mm, deflections from free length in mm."""
    if spring is None or deflection_m <= 0:
        return 0.0
    d = deflection_m * 1000
    if spring["kind"] == "straight":
        return spring["rate_n_per_mm"] * d
    if spring["kind"] == "dual":
        change = spring["change_mm"]
        return spring["soft_n_per_mm"] * min(d, change) + spring["hard_n_per_mm"] * max(0.0, d - change)
    if spring["kind"] == "wound":
        return wound_force(spring, d)
    start, end, over = spring["start_n_per_mm"], spring["end_n_per_mm"], spring["over_mm"]
    inside = min(d, over)
    return start * inside + (end - start) / over * inside**2 / 2 + end * max(0.0, d - over)


def turns(spring):
    """Compliance (mm/N) and gap (mm) of every turn: one turn of a coil yields 8 D³/(G d⁴)."""
    modulus = spring["shear_modulus_gpa"] * 1000
    yields = [8 * turn["mean_diameter_mm"] ** 3 / (modulus * turn["wire_mm"] ** 4) for turn in spring["turns"]]
    return yields, [turn["gap_mm"] for turn in spring["turns"]]


def wound_force(spring, deflection_mm):
    yields, gaps = turns(spring)

    def deflection(force):
        return sum(min(each * force, gap) for each, gap in zip(yields, gaps, strict=True))

    most = max(gap / each for each, gap in zip(yields, gaps, strict=True))
    return brentq(lambda force: deflection(force) - deflection_mm, 0.0, most, xtol=1e-9, rtol=1e-13)


def solid_mm(spring):
    """The deflection at which a spring goes solid, None where nobody knows: a winding is, with all gaps shut."""
    if spring["kind"] == "wound":
        return sum(turn["gap_mm"] for turn in spring["turns"])
    return spring.get("solid_deflection_mm")


def stop_force(end, x, full):
    """Top-out (against) and bump force at stroke x of `full`, both in m."""
    force = 0.0
    if end.get("topout"):
        length = end["topout"]["length_mm"] / 1000
        force -= end["topout"]["rate_n_per_mm"] * 1000 * max(0.0, length - x)
    if end.get("bump"):
        begins = full - end["bump"]["length_mm"] / 1000
        force += end["bump"]["rate_n_per_mm"] * 1000 * max(0.0, x - begins)
    return force


class FrontEnd:
    """A fork. The coordinate is the stroke x along the fork, in m; forces are vertical at the wheel, N."""

    def __init__(self, front):
        self.front = front
        self.full = front["stroke_mm"] / 1000
        self.slope = cos(radians(front["rake_deg"]))
        self.vertical = self.slope  # vertical travel per coordinate

    def air(self, x, n):
        outside = atmosphere(self.front.get("altitude_m", 0))
        total = 0.0
        for leg in self.front["legs"]:
            seal = pi / 4 * (leg["seal_diameter_mm"] / 1000) ** 2
            bore = pi / 4 * (leg["bore_diameter_mm"] / 1000) ** 2
            end_volume = bore * leg["air_gap_mm"] / 1000 - leg["solids_cm3"] / 1e6
            start = outside + leg.get("pressure_kpa", 0) * 1000
            volume, extended = end_volume + seal * (self.full - x), end_volume + seal * self.full
            total += (start * (extended / volume) ** n - outside) * seal
        return total / self.slope

    def springs(self, x):
        total = stop_force(self.front, x, self.full)
        for leg in self.front["legs"]:
            total += spring_force(leg["spring"], leg.get("preload_mm", 0) / 1000 + x)
        return total / self.slope

    def clearance_mm(self):
        left = [
            solid_mm(leg["spring"]) - leg["preload_mm"] - self.front["stroke_mm"]
            for leg in self.front["legs"]
            if leg["spring"] and solid_mm(leg["spring"]) is not None
        ]
        return min(left) if left else None


class RearEnd:
    """A rear. The coordinate is the vertical wheel travel z, in m; forces are vertical at the wheel, N."""

    vertical = 1.0

    def __init__(self, rear):
        self.rear = rear
        self.full = rear["wheel_travel_mm"] / 1000
        leverage = rear["leverage"]
        if leverage["kind"] == "ratio":
            ratio = leverage["wheel_per_shock"]
            self.stroke, self.motion = lambda z: z / ratio, lambda z: 1 / ratio
        else:
            curve = PchipInterpolator(np.array(leverage["wheel_mm"]) / 1000, np.array(leverage["shock_mm"]) / 1000)
            self.stroke, self.motion = curve, curve.derivative()

    def air(self, z, n):
        return self.rear.get("shocks", 1) * self.rear.get("gas_force_n", 0) * float(self.motion(z))

    def springs(self, z):
        s = float(self.stroke(z))
        each = spring_force(self.rear["spring"], self.rear["preload_mm"] / 1000 + s)
        each += stop_force(self.rear, s, float(self.stroke(self.full)))
        return self.rear.get("shocks", 1) * each * float(self.motion(z))

    def clearance_mm(self):
        solid = solid_mm(self.rear["spring"])
        return None if solid is None else solid - self.rear["preload_mm"] - float(self.stroke(self.full)) * 1000


def settle(force, load, full):
    """The coordinate where a rising force carries the load: 0 topped out, `full` on the stop."""
    if force(0.0) >= load:
        return 0.0
    if force(full) <= load:
        return full
    return brentq(lambda x: force(x) - load, 0.0, full, xtol=1e-12)


def slope(force, x, full):
    """dF/dx by a fourth-order difference, one-sided at the ends."""
    h = 2e-6
    x = min(max(x, 2 * h), full - 2 * h)
    return (force(x - 2 * h) - 8 * force(x - h) + 8 * force(x + h) - force(x + 2 * h)) / (12 * h)


def kinks(end):
    """Coordinates where the force's slope jumps: there the rate is not one number, and quadrature is cut."""
    found = set()
    if isinstance(end, FrontEnd):
        places = [(leg["spring"], leg.get("preload_mm", 0)) for leg in end.front["legs"] if leg["spring"]]
        body, full, place = end.front, end.full, lambda s: s
    else:
        places, body = [(end.rear["spring"], end.rear["preload_mm"])], end.rear
        full = float(end.stroke(end.full))

        def place(s):
            return brentq(lambda z: float(end.stroke(z)) - s, 0, end.full)

        if end.rear["leverage"]["kind"] == "table":
            found |= {z / 1000 for z in end.rear["leverage"]["wheel_mm"]}
    strokes = []
    for spring, preload in places:
        strokes.append(-preload / 1000)
        if spring["kind"] == "wound":
            yields, gaps = turns(spring)
            for shut in {gap / each for each, gap in zip(yields, gaps, strict=True)}:
                at = sum(min(each * shut, gap) for each, gap in zip(yields, gaps, strict=True))
                strokes.append((at - preload) / 1000)
        strokes += [(spring[key] - preload) / 1000 for key in ("change_mm", "over_mm") if key in spring]
    if body.get("topout"):
        strokes.append(body["topout"]["length_mm"] / 1000)
    if body.get("bump"):
        strokes.append(full - body["bump"]["length_mm"] / 1000)
    found |= {place(s) for s in strokes if 0 < s < full}
    return sorted(z for z in found if 0 < z < end.full)


def solve(name, request):
    """Every figure of an end, in the units of the API's field names."""
    end = FrontEnd(request) if name == "front" else RearEnd(request)
    static = (request["load_static_kg"] - request["unsprung_kg"]) * G
    rider = (request["load_rider_kg"] - request["unsprung_kg"]) * G

    def slow(x):
        return end.springs(x) + end.air(x, 1.0)

    def hard(x):
        return end.springs(x) + end.air(x, 1.4)

    ridden = settle(slow, rider, end.full)
    cuts = kinks(end)

    def work(begin):
        inside = [cut for cut in cuts if begin < cut < end.full]
        edges = [begin, *inside, end.full]
        return sum(quad(hard, a, b, limit=200)[0] for a, b in pairwise(edges)) * end.vertical

    rate = slope(slow, ridden, end.full) / end.vertical
    mass = rider / G
    return {
        "static_sag_mm": settle(slow, static, end.full) * 1000,
        "rider_sag_mm": ridden * 1000,
        "breakaway_n": max(0.0, slow(0.0)),  # a load is never negative; below zero it is never topped out
        "wheel_rate_n_per_mm": rate / 1000,
        "frequency_hz": sqrt(rate / mass) / (2 * pi) if rate > 0 else None,
        "full_stroke_n": hard(end.full),
        "energy_to_stop_j": work(ridden),
        "fall_to_stop_mm": (work(0.0) / rider - end.full * end.vertical) * 1000,
        "solid_clearance_mm": end.clearance_mm(),
        "near_a_kink": any(abs(ridden - cut) < 5e-4 for cut in cuts),
        "end": end,
    }
