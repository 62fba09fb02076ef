"""Smoothing noisy pairs of wheel and shock readings into a leverage table, with an error band.

A polynomial of the wheel travel is fitted by least squares, its degree (1 to 5) one above that of the least
corrected Akaike criterion with the readings' error known [1], among those whose motion ratio stays well above
zero. One above, because a curve smoothed as far as the readings allow is off by about its own band, which
then would not hold the truth: undersmoothing [2]. The first pair is a reading like any other: the curve is
counted from its own value at full extension. A linkage moves its shock as smoothly as that; a kink in the
readings is a misreading, and said so.

Sources: [1] K. P. Burnham and D. R. Anderson, Model Selection and Multimodel Inference, 2nd ed., ch. 2 (AICc,
χ² in place of the likelihood where the error is known), from memory. [2] P. Hall, Annals of Statistics 20
(1992), on bands of smoothed curves, from memory. [3] JCGM 100:2008 (GUM), 5.1.2 and H.3, for the band. That
one reading with a tape is good to 0.5 mm is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.polynomial import legendre
from numpy.typing import NDArray

from calc.bands import BANDS as END_BANDS
from calc.bands import Band, wrong
from calc.checks import LEAST_STEP_MM, Findings
from calc.evaluate import rounded
from calc.refusal import Note
from calc.words import mark, say

Array = NDArray[np.float64]

BANDS: MappingProxyType[str, Band] = MappingProxyType(
    {
        "wheel_mm": Band(mark("a wheel reading"), "mm", 0, 600),
        "shock_mm": Band(mark("a shock reading"), "mm", -20, 600),
        "reading_u_mm": Band(mark("the standard uncertainty of one reading"), "mm", 0.01, 10),
    }
)
"""What is accepted; a shock reading may fall below the first by its error (common practice, no source)."""
FEWEST, MOST = 4, 200
READING_U_MM = 0.5
MOST_DEGREE = 5
POINTS = 25
LOOK = 401
LEAST_SHARE = 0.1
"""Of the mean motion ratio, the least that a curve may fall to."""
WORST_CONDITION = 1e10
"""Readings so bunched that a degree's normal equations are worse than this do not settle that degree."""


@dataclass(frozen=True)
class Curve:
    """A fitted curve: Legendre coefficients over `travel` (mm), their covariance (mm²), χ² and the criterion.

    `travel` is in mm, `misfit` (χ²) and `criterion` are numbers without a unit, the coefficients (mm) of shape
    (degree + 1,). Raises nothing. Source: [1], [3].
    """

    travel: float
    coefficients: Array
    covariance: Array
    misfit: float
    criterion: float

    def _rows(self, z: Array) -> tuple[Array, Array]:
        """Return what coefficients make of the stroke, counted from full extension, and of its slope, at `z`."""
        t = 2 * z / self.travel - 1
        degree = len(self.coefficients) - 1
        value = np.asarray(legendre.legvander(t, degree) - (-1.0) ** np.arange(degree + 1), dtype=np.float64)
        slope = [legendre.legval(t, legendre.legder(row)) for row in np.eye(degree + 1)]
        return value, np.asarray(np.stack(slope, axis=-1) * 2 / self.travel, dtype=np.float64)

    def stroke(self, z: Array) -> tuple[Array, Array]:
        """Return the shock stroke (mm) at wheel travel `z` (mm, one axis), and its standard uncertainty.

        >>> line = Curve(100.0, np.array([20.0, 20.0]), np.diag([0.0, 0.01]), 0.0, 0.0)
        >>> [part.round(6).tolist() for part in line.stroke(np.array([0.0, 50.0]))]
        [[0.0, 20.0], [0.0, 0.1]]
        """
        value, _ = self._rows(z)
        return value @ self.coefficients, self._spread(value)

    def ratio(self, z: Array) -> tuple[Array, Array]:
        """Return the motion ratio ds/dz at wheel travel `z` (mm, one axis), and its standard uncertainty.

        >>> line = Curve(100.0, np.array([20.0, 20.0]), np.diag([0.0, 0.01]), 0.0, 0.0)
        >>> [part.round(6).tolist() for part in line.ratio(np.array([50.0]))]
        [[0.4], [0.002]]
        """
        _, slope = self._rows(z)
        return slope @ self.coefficients, self._spread(slope)

    def _spread(self, rows: Array) -> Array:
        return np.sqrt(np.maximum(np.einsum("ni,ij,nj->n", rows, self.covariance, rows), 0.0))


def smooth(request: Mapping[str, Any]) -> dict[str, Any]:
    """Smooth measured pairs into a rising leverage table with an error band.

    `request`: `wheel_mm` (from 0, rising) and `shock_mm` (from 0), 4 to 200 pairs counted from full
    extension, and `reading_u_mm`, the standard uncertainty of one reading of either (0.5 mm where left out).
    Returns `table`, a leverage as `evaluate` takes it; `curve` with `travel_mm`, `shock_mm`, `leverage_ratio`
    and their standard uncertainties `shock_u_mm` and `leverage_ratio_u`; `degree`; `residual_mm` (rms);
    `notes`. Where readings scatter more than stated, the uncertainties grow with them. Raises `Refusal` for
    numbers outside their band, lists of unequal length, and readings that no rising curve fits.

    Source: [1], [2], [3].

    >>> wheel = [0, 30, 60, 90, 120, 150]
    >>> answer = smooth({"wheel_mm": wheel, "shock_mm": [0, 10.2, 19.8, 30.4, 39.7, 50.1]})
    >>> answer["degree"], round(answer["curve"]["leverage_ratio"][0], 2)
    (2, 3.0)
    """
    wheel, shock, u = _readings(request)
    fits = [_fit(wheel, shock, u, degree) for degree in range(1, min(MOST_DEGREE, len(wheel) - 3) + 1)]
    rising = [fit for fit in fits if fit is not None and _rises(fit)]
    if not rising:
        findings = Findings()
        text = say(
            "The shock readings do not rise with the wheel readings: were the two columns, or their order, "
            "swapped?",
        )
        findings.add("shock_mm", "does_not_rise", text)
        findings.raise_any()
    least = min(range(len(rising)), key=lambda index: rising[index].criterion)
    best = rising[min(least + 1, len(rising) - 1)]
    each = np.linspace(0, best.travel, POINTS)
    stroke, stroke_u = best.stroke(each)
    ratio, ratio_u = best.ratio(each)
    _check_overall(best.travel, float(stroke[-1]))
    columns = {
        "travel_mm": each,
        "shock_mm": stroke,
        "shock_u_mm": stroke_u,
        "leverage_ratio": 1 / ratio,
        "leverage_ratio_u": ratio_u / ratio**2,
    }
    curve = {name: [rounded(value) for value in values] for name, values in columns.items()}
    left = shock - best.stroke(wheel)[0]
    left -= left.mean()  # the curve's own value at full extension, which least squares puts amid the readings
    return {
        "table": {"kind": "table", "wheel_mm": curve["travel_mm"], "shock_mm": curve["shock_mm"]},
        "curve": curve,
        "degree": len(best.coefficients) - 1,
        "residual_mm": rounded(np.sqrt(np.mean(left**2))),
        "notes": [note.as_dict() for note in _notes(best, wheel, left, u)],
    }


def _readings(request: Mapping[str, Any]) -> tuple[Array, Array, float]:
    """Return the checked readings and the standard uncertainty of one, mm."""
    findings = Findings()
    columns = {name: _column(findings, request.get(name), name) for name in ("wheel_mm", "shock_mm")}
    u = findings.number({"reading_u_mm": READING_U_MM, **request}, "reading_u_mm", "", BANDS["reading_u_mm"])
    findings.raise_any()
    wheel, shock = columns["wheel_mm"], columns["shock_mm"]
    if len(wheel) != len(shock):
        text = say(
            "{count} wheel readings but {count2} shock readings were read, and each needs its partner: was one "
            "left out?",
            count=len(wheel), count2=len(shock),
        )
        findings.add("shock_mm", "unpaired", text)
    for name, column in columns.items():
        if column[0] != 0:
            text = say(
                "The first {column_name} reading is {column:g} mm, but readings count from full extension and "
                "begin at 0 mm: take what was read there off all of them.",
                column_name=say(name.removesuffix("_mm")), column=column[0],
            )
            findings.add(f"{name}.0", "table_start", text, column[0], BANDS[name])
    for index in range(1, len(wheel)):
        if wheel[index] - wheel[index - 1] < LEAST_STEP_MM:
            text = say(
                "A wheel reading of {wheel:g} mm follows {wheel2:g} mm, but they must rise from line to line: "
                "was one read twice, or are two swapped?",
                wheel=wheel[index], wheel2=wheel[index - 1],
            )
            findings.add(f"wheel_mm.{index}", "table_falls", text, wheel[index], BANDS["wheel_mm"])
            break
    findings.value(wheel[-1], f"wheel_mm.{len(wheel) - 1}", END_BANDS["rear.wheel_travel_mm"])
    findings.raise_any()
    return np.array(wheel), np.array(shock), READING_U_MM if u is None else u


def _column(findings: Findings, values: Any, name: str) -> list[float]:
    if not isinstance(values, Sequence) or isinstance(values, str) or not FEWEST <= len(values) <= MOST:
        findings.add(name, "table_size", say(
            "Give {fewest} to {most} pairs of wheel and shock readings.",
            fewest=FEWEST, most=MOST,
        ))
        return []
    read = [findings.value(value, f"{name}.{index}", BANDS[name]) for index, value in enumerate(values)]
    return [value for value in read if value is not None]


def _fit(wheel: Array, shock: Array, u: float, degree: int) -> Curve | None:
    """Fit one degree, None where the readings do not settle it.

    The wheel readings' error acts through the mean motion ratio ("effective variance").
    """
    travel = float(wheel[-1])
    basis = legendre.legvander(2 * wheel / travel - 1, degree)
    if np.linalg.cond(basis.T @ basis) > WORST_CONDITION:
        return None
    normal = np.linalg.inv(basis.T @ basis)
    coefficients = np.asarray(normal @ basis.T @ shock, dtype=np.float64)
    variance = u**2 * (1 + (shock[-1] / travel) ** 2)
    misfit = float(np.sum((shock - basis @ coefficients) ** 2)) / variance
    freedom, count = len(wheel) - degree - 1, degree + 1
    criterion = misfit + 2 * count + 2 * count * (count + 1) / (freedom - 1)
    covariance = np.asarray(normal * variance * max(1.0, misfit / freedom), dtype=np.float64)
    return Curve(travel, coefficients, covariance, misfit, criterion)


def _rises(fit: Curve) -> bool:
    each = np.linspace(0, fit.travel, LOOK)
    mean = float(fit.stroke(each[-1:])[0][0]) / fit.travel
    return mean > 0 and float(fit.ratio(each)[0].min()) > LEAST_SHARE * mean


def _check_overall(travel: float, stroke: float) -> None:
    """Refuse a leverage ratio outside its band."""
    findings, band = Findings(), END_BANDS["leverage.wheel_per_shock"]
    if not band.holds(travel / stroke):
        findings.add("shock_mm", "out_of_band", wrong(travel / stroke, band), travel / stroke, band)
    findings.raise_any()


def _notes(fit: Curve, wheel: Array, left: Array, u: float) -> list[Note]:
    """Say how far the readings agree with their stated error, and which lies furthest off."""
    freedom = len(wheel) - len(fit.coefficients)
    notes = []
    if fit.misfit > freedom + 3 * np.sqrt(2 * freedom):
        worst = int(np.argmax(np.abs(left)))
        text = say(
            "The readings scatter {sqrt:.2g} times as much as {u:g} mm a reading would: the one at {wheel:g} mm "
            "of wheel travel lies {left:.2g} mm off. Read it again.",
            sqrt=np.sqrt(fit.misfit / freedom), u=u, wheel=wheel[worst], left=abs(left[worst]),
        )
        notes.append(Note("scatter", "warning", text, rounded(left[worst]), "mm"))
    text = say("The smoothed table stands for the readings; keep them beside it.")
    notes.append(Note("smoothed", "info", text))
    return notes
