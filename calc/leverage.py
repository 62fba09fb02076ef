"""Shock stroke against wheel travel: a constant ratio, a monotone cubic through measured pairs, or a linkage.

Lengths are in one unit throughout (metres in calc; the table's own at the boundary): the curve has no scale
of its own. The motion ratio is `r = ds/dz`, the inverse of the trade's leverage ratio.

Sources: [1] F. N. Fritsch and J. Butland, SIAM J. Sci. Stat. Comput. 5 (1984). [2] C. Moler, Numerical Computing with
MATLAB, ch. 3, for the end slopes. [3] The trade's leverage ratio, wheel travel over shock stroke: common practice, no
source.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from calc.linkage import linkage_from

Array = NDArray[np.float64]
Values = Array | float


class Leverage(Protocol):
    """Anything that gives the shock's stroke and motion ratio over wheel travel, arrays of any shape.

    Lengths are in one unit; `travel` has any shape. Raises nothing. Source: [3].

    >>> lever: Leverage = ratio(2.5)
    >>> float(lever.stroke(100.0))
    40.0
    """

    def stroke(self, travel: Values) -> Array:
        """Return the shock stroke at wheel travel `travel`.

        In the same unit.
        """

    def motion(self, travel: Values) -> tuple[Array, Array, Array]:
        """Return the shock stroke s, the motion ratio ds/dz and d²s/dz² at `travel`."""


@dataclass(frozen=True)
class Cubic:
    """Cubic pieces of `s(z)`: stroke0[i] + slope[i] u + half[i] u² + sixth[i] u³ with u = z − knots[i].

    Outside the knots the end pieces are carried on.

    `knots` and `stroke0` are in one unit of length, `slope`, `half` and `sixth` in its powers; `travel` has any
    shape. All fields have shape (pieces,). Raises nothing. Source: [1], [2].
    """

    knots: Array
    stroke0: Array
    slope: Array
    half: Array
    sixth: Array

    def _piece(self, travel: Values) -> tuple[Array, NDArray[np.intp]]:
        z = np.asarray(travel, dtype=np.float64)
        index = np.clip(np.searchsorted(self.knots, z, side="right") - 1, 0, len(self.stroke0) - 1)
        return z - self.knots[index], index

    def stroke(self, travel: Values) -> Array:
        """Return the shock stroke at wheel travel `travel` (any shape).

        >>> float(ratio(2.5).stroke(100.0))
        40.0
        """
        u, i = self._piece(travel)
        return self.stroke0[i] + u * (self.slope[i] + u * (self.half[i] + u * self.sixth[i]))

    def motion(self, travel: Values) -> tuple[Array, Array, Array]:
        """Return the shock stroke s, the motion ratio ds/dz and d²s/dz² at `travel` (any shape).

        At a table's inner knots, where the second derivative jumps, it is the one of the piece above.

        >>> s, r, change = table([0, 50, 100], [0, 20, 42]).motion(50.0)
        >>> round(float(s), 6), round(float(r), 6)
        (20.0, 0.419048)
        """
        u, i = self._piece(travel)
        half, sixth = self.half[i], self.sixth[i]
        stroke = self.stroke0[i] + u * (self.slope[i] + u * (half + u * sixth))
        return stroke, self.slope[i] + u * (2 * half + 3 * u * sixth), 2 * half + 6 * u * sixth


def ratio(wheel_per_shock: float) -> Cubic:
    """Return the leverage of a constant ratio, wheel travel per shock stroke (the trade's leverage ratio).

    `wheel_per_shock` is a number without a unit, not 0. Raises ZeroDivisionError at 0. Source: [3].

    >>> float(ratio(2.5).motion(0.1)[1])
    0.4
    """
    zero = np.zeros(1)
    return Cubic(zero, zero, np.array([1 / wheel_per_shock]), zero, zero)


def table(wheel: Sequence[float], shock: Sequence[float]) -> Cubic:
    """Return the leverage of measured pairs: the cubic through them that keeps their rise.

    `wheel` and `shock` must rise strictly and have two readings or more. Slopes at inner points are the
    weighted harmonic means of Fritsch and Butland (SIAM J. Sci. Stat. Comput. 5, 1984), at the ends the
    shape-preserving three-point formula (Moler, Numerical Computing with MATLAB, ch. 3): the same choices as
    SciPy's PchipInterpolator.

    Both in one unit of length. Raises nothing for what was checked. Source: [1], [2].

    Slopes 0.419048 at 50 mm and 0.38 at 0, so at 25 mm (0 + 20)/2 + 50/8·(0.39 − 0.419048)…: by hand, 10 less
    50·(0.419048 − 0.38)/8.

    >>> lever = table([0, 50, 100], [0, 20, 42])
    >>> round(float(lever.stroke(25)), 6), round(10 - 50 * (0.4190476 - 0.38) / 8, 6)
    (9.755952, 9.755952)
    """
    z, s = np.asarray(wheel, dtype=np.float64), np.asarray(shock, dtype=np.float64)
    width = np.diff(z)
    secant = np.diff(s) / width
    slope = hermite_slopes(width, secant)
    half = (3 * secant - 2 * slope[:-1] - slope[1:]) / width
    sixth = (slope[:-1] + slope[1:] - 2 * secant) / width**2
    return Cubic(z[:-1], s[:-1], slope[:-1], half, sixth)


def hermite_slopes(width: Array, secant: Array) -> Array:
    """Return the slopes at the points of a monotone cubic, from the widths and secants between them.

    A slope is zero where the secants on its two sides differ in sign or one is zero.

    `width` in one unit of length and `secant` without a unit have shape (pieces,), the slopes shape (pieces + 1,),
    without a unit. Raises nothing. Source: [1], [2].

    Equal widths: inside, the harmonic mean of 0.4 and 0.44; at the ends (3·secant − next)/2.

    >>> hermite_slopes(np.array([50.0, 50.0]), np.array([0.4, 0.44])).round(6).tolist()
    [0.38, 0.419048, 0.46]
    """
    if len(width) == 1:
        return np.array([secant[0], secant[0]])
    slope = np.zeros(len(width) + 1)
    left, right = secant[:-1], secant[1:]
    same = left * right > 0
    by_left, by_right = 2 * width[1:] + width[:-1], width[1:] + 2 * width[:-1]
    mean = (by_left / np.where(same, left, 1) + by_right / np.where(same, right, 1)) / (by_left + by_right)
    slope[1:-1] = np.where(same, 1 / mean, 0.0)
    slope[0] = _end_slope(width[0], width[1], secant[0], secant[1])
    slope[-1] = _end_slope(width[-1], width[-2], secant[-1], secant[-2])
    return slope


def _end_slope(near: float, next_: float, secant: float, following: float) -> float:
    """Return the one-sided three-point slope at an end, held back so that the curve keeps its shape."""
    slope = ((2 * near + next_) * secant - near * following) / (near + next_)
    if slope * secant <= 0:
        return 0.0
    if secant * following < 0 and abs(slope) > 3 * abs(secant):
        return 3 * secant
    return float(slope)


def leverage_from(leverage: Mapping[str, Any]) -> Leverage:
    """Return the leverage of a checked request, lengths turned to metres.

    `leverage` is that mapping. Raises `Refusal` for a linkage that cannot be. Source: [1], [3]; a linkage
    `calc.linkage`.

    >>> round(float(leverage_from({"kind": "table", "wheel_mm": [0, 100], "shock_mm": [0, 40]}).stroke(0.05)), 9)
    0.02
    """
    if leverage["kind"] == "ratio":
        return ratio(leverage["wheel_per_shock"])
    if leverage["kind"] == "linkage":
        return linkage_from(leverage)
    return table([value / 1000 for value in leverage["wheel_mm"]], [value / 1000 for value in leverage["shock_mm"]])
