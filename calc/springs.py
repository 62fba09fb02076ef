"""Springs as force against deflection `F(δ)`, δ from the free length: many in one set of arrays.

Every kind of spring is a chain of segments on each of which the force is a quadratic of the deflection.
Straight, dual and progressive springs, turn-by-turn windings and springs put together are cases of that one
form, so the solvers need no loop over springs. SI throughout: m, N, N/m, J.

Sources: [1] Shigley's Mechanical Engineering Design, 10th ed., ch. 10 (rate of one turn). [2] Elementary statics of
springs in series and side by side; elementary calculus for the energy. [3] What the trade means by dual and
progressive, and that deflections count from the free length, preload included: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, reduce
from typing import Any

import numpy as np
from numpy.typing import NDArray

from calc.tester import COLUMNS, tester

Array = NDArray[np.float64]
Values = Array | float

SAME = 1e-12
"""Forces nearer to each other than this share of them are one."""


@dataclass(frozen=True)
class Springs:
    """A batch of springs of shape B, each of S segments; `knots`, `force`, `rate` and `bend` are B + (S,).

    Segment i starts at deflection `knots[..., i]` (the first at 0) with force `force` and rate `rate`; the
    rate changes by `bend` per metre along it. The last segment has no end; unused segments repeat the last
    knot. `solid`, shape B, is the deflection at which the spring goes solid, NaN where unknown. `scale`,
    which broadcasts against B, multiplies every force. Below zero deflection a spring is loose and carries
    nothing.

    A `deflection` is in m. Raises nothing. Source: [2], [3].

    >>> spring = dual(4000.0, 6000.0, 0.05)
    >>> float(spring.scaled(1.5).force_at(0.05)), spring.shape
    (300.0, ())
    """

    knots: Array
    force: Array
    rate: Array
    bend: Array
    solid: Array
    scale: Array | float = 1.0

    @property
    def shape(self) -> tuple[int, ...]:
        """The shape of the batch, samples of `scale` included."""
        return np.broadcast_shapes(self.knots.shape[:-1], np.shape(self.scale))

    def _segments(self, deflection: Array) -> Iterator[tuple[int, Array]]:
        """Yield each segment with how far `deflection` reaches into it."""
        count = self.knots.shape[-1]
        for i in range(count):
            u = np.maximum(deflection - self.knots[..., i] if i else deflection, 0.0)
            if i + 1 < count:
                u = np.minimum(u, self.knots[..., i + 1] - self.knots[..., i])
            yield i, u

    def force_at(self, deflection: Values) -> Array:
        """Return the force in N at `deflection` (m), which broadcasts against the batch.

        >>> float(straight(5000.0).force_at(0.03))
        150.0
        """
        return self.force_and_rate(deflection)[0]

    def force_and_rate(self, deflection: Values) -> tuple[Array, Array]:
        """Return the force (N) and the rate (N/m) at `deflection` (m); at a change-over the rate above it.

        >>> [float(part) for part in dual(4000.0, 6000.0, 0.05).force_and_rate(0.05)]
        [200.0, 6000.0]
        """
        delta = np.asarray(deflection, dtype=np.float64)
        force: Values = 0.0
        rate: Values = 0.0
        for i, u in self._segments(delta):
            here, bend, rise = self.rate[..., i], self.bend[..., i], self._rises[..., i]
            rate = rate + rise * (delta >= self.knots[..., i])
            if bend.any():
                bent = bend * u
                force, rate = force + u * (here + 0.5 * bent), rate + bent
            else:
                force = force + u * here
        if isinstance(self.scale, float) and self.scale == 1:
            return np.asarray(force), np.asarray(rate)
        return np.asarray(force * self.scale), np.asarray(rate * self.scale)

    @cached_property
    def _rises(self) -> Array:
        """By how much the rate jumps up where each segment starts."""
        ends = self.rate[..., :-1] + self.bend[..., :-1] * np.diff(self.knots, axis=-1)
        return np.concatenate([self.rate[..., :1], self.rate[..., 1:] - ends], axis=-1)

    def energy_at(self, deflection: Values) -> Array:
        """Return the energy in J stored at `deflection` (m): the integral of the force from the free length.

        >>> float(straight(5000.0).energy_at(0.02))
        1.0
        """
        total: Values = 0.0
        for i, u in self._segments(np.asarray(deflection, dtype=np.float64)):
            force, rate, bend = self.force[..., i], self.rate[..., i], self.bend[..., i]
            total = total + u * (force + u * (0.5 * rate + u * bend / 6))
        return np.asarray(total * self.scale)

    def deflection_at(self, force: Values) -> Array:
        """Return the deflection in m at `force` (N), broadcast against the batch; 0 where no force.

        >>> round(float(dual(4000.0, 6000.0, 0.05).deflection_at(260.0)), 9)
        0.06
        """
        wanted = np.maximum(force, 0.0) / self.scale
        count = self.knots.shape[-1]
        total: Values = 0.0
        for i in range(count):
            rise = np.maximum(wanted - self.force[..., i], 0.0)
            rate, bend = self.rate[..., i], self.bend[..., i]
            u = 2 * rise / (rate + np.sqrt(rate**2 + 2 * bend * rise))
            if i + 1 < count:
                u = np.minimum(u, self.knots[..., i + 1] - self.knots[..., i])
            total = total + u
        return np.asarray(total)

    def scaled(self, factor: Values) -> Springs:
        """Return the same springs with every force times `factor`, broadcast against the batch.

        The `factor` is a number without a unit.
        """
        return replace(self, scale=self.scale * factor)

    def columns(self, part: slice) -> Springs:
        """Return `part` of a flat batch with a second axis of length one, for samples to lie along.

        `part` is a slice of the batch.

        >>> batch([straight(5e3), straight(6e3)]).columns(slice(0, 1)).shape
        (1, 1)
        """
        fields = self.knots, self.force, self.rate, self.bend, self.solid
        return Springs(*(values[part, None] for values in fields))


def _one(knots: Sequence[float], rates: Sequence[float], bends: Sequence[float], solid: float) -> Springs:
    """Return one spring from its knots, rates and bends, the forces at the knots following from them."""
    at, rate, bend = (np.asarray(values, dtype=np.float64) for values in (knots, rates, bends))
    width = np.diff(at)
    force = np.concatenate([[0.0], np.cumsum(width * (rate[:-1] + 0.5 * bend[:-1] * width))])
    return Springs(at, force, rate, bend, np.asarray(solid, dtype=np.float64))


def straight(rate: float, solid: float = np.nan) -> Springs:
    """Return a straight spring, `F = kδ`, of `rate` N/m; `solid` in m.

    Raises nothing. Source: [3].

    >>> straight(5000.0).force_at(np.array([0.02, 0.04])).tolist()
    [100.0, 200.0]
    """
    return _one([0.0], [rate], [0.0], solid)


def dual(soft: float, hard: float, change: float, solid: float = np.nan) -> Springs:
    """Return a dual spring: rate `soft` (N/m) up to deflection `change` (m) of the stack, then `hard`.

    `solid` is in m. Raises nothing. Source: [3].

    >>> dual(4000.0, 6000.0, 0.05).force_at(np.array([0.05, 0.06])).round(6).tolist()
    [200.0, 260.0]
    """
    return _one([0.0, change], [soft, hard], [0.0, 0.0], solid)


def progressive(start: float, end: float, over: float, solid: float = np.nan) -> Springs:
    """Return a spring whose rate rises evenly from `start` to `end` (N/m) over `over` (m), then stays.

    `solid` is in m. Raises nothing. Source: [3]; the force is the rate's integral, elementary calculus.

    >>> progressive(4000.0, 6000.0, 0.05).force_at(np.array([0.05, 0.06])).round(6).tolist()
    [250.0, 310.0]
    """
    return _one([0.0, over], [start, end], [(end - start) / over, 0.0], solid)


def wound(compliance: Sequence[float] | Array, gaps: Sequence[float] | Array) -> Springs:
    """Return a spring computed turn by turn: each yields `compliance` (m/N) until its gap (m) shuts.

    The deflection is `Σ min(c_i F, g_i)`; the spring is solid when every gap is shut. Turns that shut
    together end a segment together. `c_i = 8 D_i³/(G d_i⁴)` (Shigley, Mechanical Engineering Design, ch. 10,
    for one turn).

    `gaps` and `compliance` have shape (turns,). Raises nothing for values above 0. Source: [1], [2].

    >>> two = wound([1e-4, 1e-4], [0.01, 0.05])
    >>> two.knots.tolist(), [round(rate) for rate in two.rate.tolist()], round(float(two.solid), 9)
    ([0.0, 0.02], [5000, 10000], 0.06)
    """
    c, g = np.asarray(compliance, dtype=np.float64), np.asarray(gaps, dtype=np.float64)
    shuts = g / c
    closings = np.unique(shuts)[:-1]
    forces = np.concatenate([[0.0], closings])
    knots = np.minimum(c * forces[:, None], g).sum(axis=1)
    rates = 1 / np.where(shuts > forces[:, None], c, 0.0).sum(axis=1)
    return Springs(knots, forces, rates, np.zeros_like(rates), np.asarray(g.sum()))


def in_series(first: Springs, second: Springs) -> Springs:
    """Return two springs without bends (not progressive) stacked: one force through both, deflections added.

    A spring that has gone solid yields no more. Of two straight ones, `k = k1 k2/(k1 + k2)` while both work;
    after the one with a known solid deflection `s1` is solid (at stack deflection `s1 (1 + k1/k2)`) the other
    works alone.

    `first` and `second` are single springs. Raises nothing. Source: [2].

    Springs of 2500 and 1011.24 N/m make 720 N/m (B. K. Sarkar, Strength of Materials, problem 8.7).

    >>> [round(rate) for rate in in_series(straight(2500.0), straight(1011.24)).rate.tolist()]
    [720]
    >>> both = in_series(straight(4000.0, solid=0.01), straight(6000.0))  # solid at 0.01·(1 + 4/6)
    >>> both.rate.round(6).tolist(), [round(knot, 6) for knot in both.knots.tolist()]
    ([2400.0, 6000.0], [0.0, 0.016667])
    """
    both = first, second
    shut = [float(each.force_at(each.solid)) if np.isfinite(each.solid) else np.inf for each in both]
    marks = np.unique(np.concatenate([first.force, second.force, shut]))
    marks = marks[marks < max(shut) * (1 - SAME)]
    marks = marks[np.diff(marks, prepend=-1.0) > SAME * marks]
    knots = sum(np.fmin(each.deflection_at(marks), each.solid) for each in both)
    yields = sum(_yield(each, marks, closed) for each, closed in zip(both, shut, strict=True))
    solid = np.asarray(first.solid + second.solid)
    return Springs(np.asarray(knots), marks, 1 / np.asarray(yields), np.zeros_like(marks), solid)


def _yield(spring: Springs, force: Array, shut: float) -> Array:
    """Return the compliance (m/N) of a spring just above `force` (N); none from where it is solid, at `shut`."""
    index = np.searchsorted(spring.force, force * (1 + SAME), side="right") - 1
    return np.where(force < shut * (1 - SAME), 1 / spring.rate[index], 0.0)


def side_by_side(first: Springs, second: Springs) -> Springs:
    """Return two springs of any kind under one deflection: forces and rates add.

    `first` and `second` are single springs. Raises nothing. Source: [2].

    >>> float(side_by_side(straight(3000.0), straight(2000.0)).force_at(0.01))
    50.0
    """
    knots = np.union1d(first.knots, second.knots)
    force = first.force_at(knots) + second.force_at(knots)
    rate = first.force_and_rate(knots)[1] + second.force_and_rate(knots)[1]
    bend = _bend_at(first, knots) + _bend_at(second, knots)
    return Springs(knots, force, rate, bend, np.fmin(first.solid, second.solid))


def _bend_at(spring: Springs, deflection: Array) -> Array:
    index = np.searchsorted(spring.knots, deflection, side="right") - 1
    return np.asarray(spring.bend[index])


def spring_from(spring: Mapping[str, Any]) -> Springs:
    """Return the spring of a checked request (N/mm, mm and GPa turned to N/m, m and Pa).

    Raises KeyError for a kind that was not checked. Source: [1], [3].

    Ten turns of 5 mm wire on 35 mm: 80 000·5⁴/(8·35³·10) N/mm, solid after 10 gaps of 10 mm.

    >>> turn = {"wire_mm": 5, "mean_diameter_mm": 35, "gap_mm": 10}
    >>> ten = spring_from({"kind": "wound", "shear_modulus_gpa": 80, "turns": [turn] * 10})
    >>> round(float(ten.rate[0])), round(float(ten.solid), 9)
    (14577, 0.1)
    """
    solid = np.nan if spring.get("solid_deflection_mm") is None else spring["solid_deflection_mm"] / 1000
    kind = spring["kind"]
    if kind == "tested":
        fitted = tester({key: spring[key] for key in COLUMNS})["spring"]
        return replace(spring_from(fitted), solid=np.asarray(solid))
    if kind == "wound":
        coiled = wound(*turns_from(spring))
        return replace(coiled, solid=np.fmin(coiled.solid, solid))
    if kind in COMBINED:
        whole = reduce(COMBINED[kind], [spring_from(each) for each in spring["springs"]])
        return replace(whole, solid=np.fmin(whole.solid, solid))
    if kind == "straight":
        return straight(spring["rate_n_per_mm"] * 1000, solid)
    if kind == "dual":
        soft, hard = spring["soft_n_per_mm"] * 1000, spring["hard_n_per_mm"] * 1000
        return dual(soft, hard, spring["change_mm"] / 1000, solid)
    start, end = spring["start_n_per_mm"] * 1000, spring["end_n_per_mm"] * 1000
    return progressive(start, end, spring["over_mm"] / 1000, solid)


NEAR_SOLID = 0.9
"""The part of its deflection to solid up to which a spring of many rates is named: past it turns shut one by one."""


def first_and_last(spring: Mapping[str, Any]) -> tuple[float, float]:
    """Return a checked spring's rates in N/mm at its free length and nearly solid (`NEAR_SOLID`), to name it by.

    Where no solid deflection is known, the second is the rate past its last change.

    Raises KeyError for a kind that was not checked. Source: [3].

    >>> first_and_last({"kind": "dual", "soft_n_per_mm": 4, "hard_n_per_mm": 6, "change_mm": 50})
    (4.0, 6.0)
    """
    whole = spring_from(spring)
    solid = float(whole.solid)
    last = NEAR_SOLID * solid if np.isfinite(solid) else float(whole.knots[-1])
    first, near = (float(whole.force_and_rate(at)[1]) / 1000 for at in (0.0, last))
    return round(first, 6), round(near, 6)


COMBINED: Mapping[str, Callable[[Springs, Springs], Springs]] = {"stacked": in_series, "side_by_side": side_by_side}
"""Kind of a combination → how two of its springs act together."""


def turns_from(spring: Mapping[str, Any]) -> tuple[Array, Array]:
    """Return each turn's compliance (m/N) and gap (m) of a checked winding: `c = 8 D³/(G d⁴)` for one turn.

    Shigley, Mechanical Engineering Design, ch. 10, of the rate of a helical spring with one active turn.

    Both have shape (turns,). Raises nothing. Source: [1].

    >>> turn = {"wire_mm": 5, "mean_diameter_mm": 40, "gap_mm": 10}
    >>> compliance, gap = turns_from({"shear_modulus_gpa": 80, "turns": [turn]})
    >>> compliance.round(12).tolist(), gap.tolist()  # 8·0.04³/(80e9·0.005⁴)
    ([1.024e-05], [0.01])
    """
    names = ("wire_mm", "mean_diameter_mm", "gap_mm")
    wire, diameter, gap = np.array([[turn[name] / 1000 for name in names] for turn in spring["turns"]]).T
    return 8 * diameter**3 / (spring["shear_modulus_gpa"] * 1e9 * wire**4), gap


def batch(springs: Sequence[Springs]) -> Springs:
    """Return single springs as one batch of shape (len(springs),), padded to the same number of segments.

    `springs` are single ones. Raises ValueError for an empty list. Source: none (bookkeeping).

    >>> batch([straight(5e3), dual(4e3, 6e3, 0.05)]).force_at(0.06).round(6).tolist()
    [300.0, 260.0]
    """
    count = max(spring.knots.shape[-1] for spring in springs)

    def stack(name: str) -> Array:
        return np.stack(
            [np.pad(getattr(one, name), (0, count - getattr(one, name).shape[-1]), mode="edge") for one in springs]
        )

    solid = np.array([float(one.solid) for one in springs])
    return Springs(stack("knots"), stack("force"), stack("rate"), stack("bend"), solid)


@dataclass(frozen=True)
class Stops:
    """A top-out spring and a bump stop along one stroke, as one force: bump stop less top-out spring. SI.

    The top-out spring pushes `topout_rate·(topout_length − x)` towards extension's end over the first
    `topout_length`; the bump stop `bump_rate·(x − (stroke − bump_length))` over the last `bump_length`.

    `stroke`, `topout_length` and `bump_length` are in m, `topout_rate` and `bump_rate` in N/m. Raises nothing.
    Source: [2]; one rate a stop is common practice, no source.
    """

    stroke: float
    topout_rate: float = 0.0
    topout_length: float = 0.0
    bump_rate: float = 0.0
    bump_length: float = 0.0

    @property
    def idle(self) -> bool:
        """Whether there is neither."""
        return self.topout_rate == 0 and self.bump_rate == 0

    def force_and_rate(self, x: Values) -> tuple[Array, Array]:
        """Return the net force resisting compression (N) and its rate (N/m) at stroke `x` (m).

        >>> [float(part) for part in Stops(0.3, 10000.0, 0.02).force_and_rate(0.005)]
        [-150.0, 10000.0]
        """
        at = np.asarray(x, dtype=np.float64)
        pushed = np.maximum(self.topout_length - at, 0.0)
        squeezed = np.maximum(at - (self.stroke - self.bump_length), 0.0)
        rate = self.topout_rate * (pushed > 0) + self.bump_rate * (at >= self.stroke - self.bump_length)
        return self.bump_rate * squeezed - self.topout_rate * pushed, rate

    def work(self, x: Values) -> Array:
        """Return the work in J done against the stops from full extension to stroke `x` (m).

        >>> round(float(Stops(0.3, bump_rate=10000.0, bump_length=0.02).work(0.3)), 9)  # ½·10 000·0.02²
        2.0
        """
        at = np.asarray(x, dtype=np.float64)
        pushed = np.maximum(self.topout_length - at, 0.0)
        squeezed = np.maximum(at - (self.stroke - self.bump_length), 0.0)
        given = 0.5 * self.topout_rate * (self.topout_length**2 - pushed**2)
        return np.asarray(0.5 * self.bump_rate * squeezed**2 - given)


def stops_from(end: Mapping[str, Any], stroke: float) -> Stops:
    """Return the stops of a checked end; `stroke` (m) is the fork's or the shock's own full stroke.

    `end` is that mapping. Raises nothing. Source: none (bookkeeping).

    >>> stops_from({"bump": {"rate_n_per_mm": 10, "length_mm": 20}}, 0.3).bump_rate
    10000
    """
    topout, bump = end.get("topout") or {}, end.get("bump") or {}
    return Stops(
        stroke,
        topout.get("rate_n_per_mm", 0.0) * 1000,
        topout.get("length_mm", 0.0) / 1000,
        bump.get("rate_n_per_mm", 0.0) * 1000,
        bump.get("length_mm", 0.0) / 1000,
    )
