"""Where a loaded end comes to rest, for any number of springs and loads in one array operation.

An end is anything that gives the vertical force at the wheel and its slope along its own coordinate `u`
(along the fork in front, vertical behind), 0 at full extension. There is no loop over springs or loads: all
are solved together by Newton's method, those that resist inside a closing bracket, in a bounded number of
steps.

Sources: [1] W. H. Press et al., Numerical Recipes, 3rd ed., 9.4 (Newton's method inside a bracket), from memory. [2]
Elementary statics: at rest the end's force is its load.
"""

from __future__ import annotations

from itertools import pairwise
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Values = Array | float

STEPS = 150
QUICK_STEPS = 8
CLOSE_ENOUGH = 1e-10
SCAN = 400


class End(Protocol):
    """One end of the bike, as the solvers see it. SI; arrays broadcast against the end's springs.

    `u` has any shape that broadcasts against the end's springs; `n` is the exponent of the air's compression. Raises
    nothing. Source: [2].

    >>> from calc.rear import rear_from
    >>> end: End = rear_from({"wheel_travel_mm": 300, "preload_mm": 0, "leverage": {"kind": "ratio",
    ...     "wheel_per_shock": 2.5}, "spring": {"kind": "straight", "rate_n_per_mm": 50}})
    >>> end.travel, end.steepness
    (0.3, 1.0)
    """

    @property
    def travel(self) -> float:
        """Full travel along `u`, m."""

    @property
    def steepness(self) -> float:
        """Vertical wheel travel per `u`."""

    def along(self, u: Array, n: float) -> tuple[Array, Array]:
        """Return the force along `u` (N), unsprung weight left out, and its slope (N/m).

        It is the vertical force at the wheel times `steepness`, so that its integral over `u` is the work.
        """

    def rises(self) -> bool:
        """Return whether the force is sure to rise all along the travel."""

    def work(self, u: Array, n: float) -> Array:
        """Return the work in J done on the end from full extension to `u`."""


def settle(end: End, load: Values, n: float = 1.0, *, start: Array | None = None, close: float = CLOSE_ENOUGH) -> Array:
    """Return where `end` rests under the sprung `load` (N, vertical at the wheel), in m along `u`.

    The result has the shape of springs and loads broadcast together. A load that does not move the end from
    full extension gives 0, one that it never carries gives the full travel. Where the force falls somewhere
    (a falling rate, a steep leverage), the first place that carries the load, coming from full extension, is
    given. `start` is a first guess; `close` the last step's size (m) at which the search ends, the error
    being far smaller still.

    `end` is any `End`, `n` the exponent of the air's compression, 1 to 1.4. Raises nothing. Source: [1], [2].

    Upright, without air, 8 N/mm at 10 mm: 80 N to move, 480 N at 50 mm, on the stop from 2480 N.

    >>> from calc.fork import Fork, Leg
    >>> from calc.gas import TrappedAir
    >>> from calc.springs import Stops, straight
    >>> no_air = TrappedAir(area=0.0, volume=1.0, pressure=101325.0, ambient=101325.0)
    >>> fork = Fork(0.3, 0.0, (Leg(straight(8000.0), 0.01, no_air),), Stops(0.3))
    >>> settle(fork, np.array([50.0, 480.0, 9000.0])).round(9).tolist()
    [0.0, 0.05, 0.3]
    """
    wanted = np.asarray(load, dtype=np.float64) * end.steepness
    if end.rises():
        guess, settled = _newton(end, wanted, n, start, close)
        if settled:
            return guess
    at_rest, _ = end.along(np.zeros(()), n)
    at_stop, _ = end.along(np.full((), end.travel), n)
    wanted = np.broadcast_to(wanted, np.broadcast_shapes(wanted.shape, at_rest.shape))
    topped, stopped = at_rest >= wanted, at_stop <= wanted
    low, high = np.zeros(wanted.shape), np.full(wanted.shape, end.travel)
    if not end.rises():
        low, high, stopped = _first_bracket(end, wanted, n)
    u = _bracketed(end, wanted, n, low, high, close)
    return np.where(topped, 0.0, np.where(stopped, end.travel, u))


def _newton(end: End, wanted: Array, n: float, start: Array | None, close: float) -> tuple[Array, bool]:
    """Return plain Newton's guesses, held inside the travel, and whether all of them have come to rest.

    This is the fast way: springs and air stiffen as they are compressed, so it nearly always ends here.
    """
    u = np.full(wanted.shape, 0.5 * end.travel) if start is None else start
    for _ in range(QUICK_STEPS):
        force, slope = end.along(u, n)
        with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
            new = np.minimum(np.maximum(u + (wanted - force) / slope, 0.0), end.travel)
        step = new - u
        u = new
        if u.size == 0 or (step.max() < close and step.min() > -close):
            return u, True
    return u, False


def _first_bracket(end: End, wanted: Array, n: float) -> tuple[Array, Array, NDArray[np.bool_]]:
    """Return the first grid interval in which the force reaches `wanted`, and where it never does."""
    low, high = np.zeros(wanted.shape), np.full(wanted.shape, end.travel)
    found = np.zeros(wanted.shape, dtype=bool)
    grid = np.linspace(0.0, end.travel, SCAN + 1)
    for before, after in pairwise(grid):
        reached = ~found & (end.along(np.asarray(after), n)[0] >= wanted)
        low, high = np.where(reached, before, low), np.where(reached, after, high)
        found |= reached
    return low, high, ~found


def _bracketed(end: End, wanted: Array, n: float, low: Array, high: Array, close: float) -> Array:
    """Return the roots in [low, high]: Newton steps, a halving where one leaves them and every third time."""
    u = 0.5 * (low + high)
    for number in range(STEPS):
        force, slope = end.along(u, n)
        excess = force - wanted
        over = excess >= 0
        high, low = np.where(over, u, high), np.where(over, low, u)
        middle = 0.5 * (low + high)
        with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
            new = u - excess / slope
        inside = (new >= low) & (new <= high)
        near = inside & (np.abs(new - u) < close)
        new = np.where(near if number % 3 == 2 else inside, new, middle)
        done = near | (high - low < close)
        u = new
        if done.all():
            break
    return np.asarray(u)
