"""What measured sags say of the computed ones, over many jobs on one model of bike: bias, spread, how sure it is.

Statistics of a sample as in JCGM 100:2008, 4.2 (mean, experimental standard deviation, standard uncertainty of
the mean) and G.3 (Student's factor for few degrees of freedom).

Numbered: [1] JCGM 100:2008, 4.2 and G.3, table G.2. [2] R. T. Birge, Phys. Rev. 40, 207 (1932), from memory. [3] M.
Abramowitz and I. A. Stegun, Handbook of Mathematical Functions, 26.7.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

FEWEST = 3
"""With fewer jobs than this nothing is offered: two can agree by chance (common practice, no source)."""
COVERAGE = 0.95
_NORMAL = 1.959963984540054
"""The normal distribution's two-sided 95 % point: Student's for infinitely many degrees of freedom."""
_FEW = 30
_HALVINGS = 60


@dataclass(frozen=True)
class Bias:
    """How far measured lies from computed over `cards` jobs, all in mm; positive: it sags more than computed.

    `spread_mm` is the sample standard deviation, `u_mm` the standard uncertainty of the mean, `expanded_mm` the
    half-width of its 95 % interval; None where one job cannot tell.

    The number of `cards`, `mean_mm` in mm. Source: [1].

    >>> Bias(3, 3.0, 1.0, 0.58, 2.5).sure
    True
    """

    cards: int
    mean_mm: float
    spread_mm: float | None
    u_mm: float | None
    expanded_mm: float | None

    @property
    def enough(self) -> bool:
        """Return whether there are jobs enough to offer the mean as a correction."""
        return self.cards >= FEWEST

    @property
    def sure(self) -> bool:
        """Return whether the mean differs from zero by more than its 95 % interval: no mere chance."""
        return self.expanded_mm is not None and abs(self.mean_mm) > self.expanded_mm


def bias(differences_mm: Sequence[float], u_mm: Sequence[float] = ()) -> Bias:
    """Return the bias of measured less computed sags, one difference a job, at least one.

    `u_mm` are the readings' own standard uncertainties. Few readings may agree better than they can be read; the
    mean's uncertainty is therefore the larger of what the spread gives, s/√n, and what the readings give,
    √Σu²/n (R. T. Birge, Phys. Rev. 40, 207, 1932, from memory: external and internal consistency).

    `differences_mm` has shape (jobs,). Raises ZeroDivisionError for none. Source: [1], [2].

    >>> found = bias([2.0, 3.0, 4.0])
    >>> found.mean_mm, found.spread_mm, round(found.u_mm, 4), round(found.expanded_mm, 3)
    (3.0, 1.0, 0.5774, 2.484)
    """
    count = len(differences_mm)
    mean = math.fsum(differences_mm) / count
    if count < 2:
        return Bias(count, mean, None, None, None)
    spread = math.sqrt(math.fsum((one - mean) ** 2 for one in differences_mm) / (count - 1))
    return of_moments(count, mean, spread, math.fsum(one**2 for one in u_mm))


def of_moments(cards: int, mean_mm: float, spread_mm: float | None, sum_u2_mm2: float = 0.0) -> Bias:
    """Return the bias where a database has already worked out mean and sample standard deviation (None for one
    job); `sum_u2_mm2` is the sum of the readings' squared standard uncertainties.

    `cards` is the number of jobs, `mean_mm` and `spread_mm` are in mm, `sum_u2_mm2` in mm². Raises nothing. Source:
    [1], [2].

    >>> of_moments(3, 3.0, 1.0) == bias([2.0, 3.0, 4.0])
    True
    """
    if cards < 2 or spread_mm is None:
        return Bias(cards, mean_mm, None, None, None)
    external, internal = spread_mm / math.sqrt(cards), math.sqrt(sum_u2_mm2) / cards
    expanded = max(student(cards - 1) * external, _NORMAL * internal)
    return Bias(cards, mean_mm, spread_mm, max(external, internal), expanded)


@lru_cache(maxsize=256)
def student(degrees: int) -> float:
    """Return Student's two-sided 95 % factor for whole `degrees` of freedom, 1 or more.

    Up to 30 it is found from the exact sum for the probability (Abramowitz and Stegun, 26.7.3 and 26.7.4), beyond
    from the expansion about the normal point (26.7.5), there good to 1e-6.

    Raises ZeroDivisionError for 0. Source: [3].

    >>> [round(student(degrees), 2) for degrees in (1, 2, 3, 10, 100)]
    [12.71, 4.3, 3.18, 2.23, 1.98]
    """
    if degrees > _FEW:
        return _expanded_student(degrees)
    low, high = _NORMAL, 13.0
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        low, high = (middle, high) if _within(middle, degrees) < COVERAGE else (low, middle)
    return (low + high) / 2


def _within(t: float, degrees: int) -> float:
    """Return the probability that Student's variable lies within ± t (Abramowitz and Stegun, 26.7.3, 26.7.4)."""
    angle = math.atan(t / math.sqrt(degrees))
    odd = degrees % 2 == 1
    square = math.cos(angle) ** 2
    term = math.cos(angle) if odd else 1.0
    total = 0.0 if degrees == 1 else term
    for step in range(3 if odd else 2, degrees - 1, 2):
        term *= square * ((step - 1) / step)
        total += term
    if odd:
        return 2 / math.pi * (angle + math.sin(angle) * total)
    return math.sin(angle) * total


def _expanded_student(degrees: int) -> float:
    x, n = _NORMAL, float(degrees)
    return (
        x
        + (x**3 + x) / (4 * n)
        + (5 * x**5 + 16 * x**3 + 3 * x) / (96 * n**2)
        + (3 * x**7 + 19 * x**5 + 17 * x**3 - 15 * x) / (384 * n**3)
        + (79 * x**9 + 776 * x**7 + 1482 * x**5 - 1920 * x**3 - 945 * x) / (92160 * n**4)
    )
