"""What a spring tester's readings say: the kind of spring, its rate with a standard uncertainty, and the stamp's error.

Three curves are fitted by least squares, all through the free length: straight F = kδ; progressive F = aδ
+ bδ², the rate rising evenly over the range that was tested; dual, a soft rate up to a change-over and a
hard one beyond. The kind is chosen by the corrected Akaike information criterion; among kinds that it
hardly tells apart (less than 4 between them, "considerably less support" beginning there [1, p. 70]) the
simplest is taken.

Sources: [1] K. P. Burnham and D. R. Anderson, Model Selection and Multimodel Inference, 2nd ed., eq. 2.5
(AICc for least squares), from memory. [2] JCGM 100:2008 (GUM), H.3, for the standard uncertainty of
fitted coefficients. The usual tolerance of ±5 % on a stamped rate is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import log, sqrt
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from calc.bands import Band, wrong
from calc.refusal import Note, Problem, Refusal
from calc.words import mark, say

BANDS: MappingProxyType[str, Band] = MappingProxyType(
    {
        "deflection_mm": Band(mark("a deflection read on the tester"), "mm", 0, 600),
        "force_n": Band(mark("a force read on the tester"), "N", 0, 200_000),
        "force_resolution_n": Band(mark("the smallest step the tester shows"), "N", 0.001, 1000),
        "stamped_n_per_mm": Band(mark("the stamped rate"), "N/mm", 0.5, 500),
    }
)
"""What is accepted (common practice, no source)."""
COLUMNS = ("deflection_mm", "force_n")
FEWEST, MOST = 3, 200
LEAST_STEP_MM = 0.01
"""Readings closer together than this are one reading."""
STAMP_TOLERANCE_PERCENT = 5.0
_HARDLY_APART = 4.0
_CHANGE_OVERS_TRIED = 400


@dataclass(frozen=True)
class Fit:
    """One fitted curve: its `spring` in calc's own form, its coefficients' standard `uncertainties` (N/mm),
    `residual_n` in N (rms) and the `criterion`, a number without a unit: how well it fits.

    Source: [1], [2].

    >>> Fit({"kind": "straight", "rate_n_per_mm": 4.6}, {"rate_n_per_mm": 0.01}, 0.7, 3.2).residual_n
    0.7
    """

    spring: dict[str, Any]
    uncertainties: dict[str, float]
    residual_n: float
    criterion: float


def tester(request: Mapping[str, Any]) -> dict[str, Any]:
    """Fit tester readings and choose the kind of spring.

    `request`: `deflection_mm` and `force_n`, equally long lists of three or more rising readings from the
    free length; optional `force_resolution_n` (the tester's step, default 1 N) and `stamped_n_per_mm`.
    Returns `kind`, `spring` (as calc takes it), `rate_n_per_mm` and `rate_u_n_per_mm` (the straight fit's
    rate and standard uncertainty), `uncertainties` (of the chosen kind's coefficients), `residual_n`
    (rms), `criteria` (AICc by kind, None where there are too few readings for a kind), `notes`, and, with a
    stamp, `stamp_difference_percent` and `stamp_within_usual` (else both None).

    Raises Refusal for fewer than three readings or more than 200, lists of unequal length, a number outside
    its band, or readings that do not rise.

    Source: [1], [2].

    The least-squares rate through the free length is Σxy/Σx² = 25 300/5 500.

    >>> answer = tester({"deflection_mm": [10, 20, 30, 40, 50], "force_n": [46, 91, 139, 184, 230]})
    >>> answer["kind"], round(answer["rate_n_per_mm"], 5), round((460 + 1820 + 4170 + 7360 + 11500) / 5500, 5)
    ('straight', 4.60182, 4.60182)
    """
    deflection, force = _readings(request)
    resolution = float(request.get("force_resolution_n", 1.0))
    straight = _straight(deflection, force, resolution)
    # Written from the simplest to the richest, so that the first that is good enough is the simplest.
    fits: dict[str, Fit | None] = {
        "straight": straight,
        "progressive": _progressive(deflection, force, resolution),
        "dual": _dual(deflection, force, resolution),
    }
    found = {name: fit for name, fit in fits.items() if fit is not None}
    least = min(fit.criterion for fit in found.values())
    kind, chosen = next((name, fit) for name, fit in found.items() if fit.criterion <= least + _HARDLY_APART)
    answer: dict[str, Any] = {
        "kind": kind,
        "spring": chosen.spring,
        "rate_n_per_mm": straight.spring["rate_n_per_mm"],
        "rate_u_n_per_mm": straight.uncertainties["rate_n_per_mm"],
        "uncertainties": chosen.uncertainties,
        "residual_n": chosen.residual_n,
        "criteria": {name: fit.criterion if fit else None for name, fit in fits.items()},
    }
    stamped = request.get("stamped_n_per_mm")
    difference = None if stamped is None else 100 * (answer["rate_n_per_mm"] / stamped - 1)
    within = None if difference is None else abs(difference) <= STAMP_TOLERANCE_PERCENT
    answer["stamp_difference_percent"], answer["stamp_within_usual"] = difference, within
    answer["notes"] = [note.as_dict() for note in _notes(answer, stamped, float(deflection[-1]))]
    return answer


def _notes(answer: Mapping[str, Any], stamped: float | None, deepest_mm: float) -> list[Note]:
    """Word what the fit says of the stamp, and how far it holds."""
    notes = []
    difference = answer["stamp_difference_percent"]
    if stamped is not None and not answer["stamp_within_usual"]:
        text = say(
            "The tester reads {rate_n_per_mm:.4g} N/mm, {difference:.2g} % {word} the stamp of {stamped:g} N/mm: "
            "more than the usual {stamp_tolerance_percent:g} % (common practice). Use the tested rate.",
            rate_n_per_mm=answer["rate_n_per_mm"],
            difference=abs(difference),
            word=say("above") if difference > 0 else say("below"),
            stamped=stamped,
            stamp_tolerance_percent=STAMP_TOLERANCE_PERCENT,
        )
        notes.append(Note("stamp_off", "warning", text, difference, "%"))
    if stamped is not None and answer["kind"] != "straight":
        text = say(
            "The spring is {kind}, so one stamped rate cannot describe it; use the fitted curve.",
            kind=say(answer["kind"]),
        )
        notes.append(Note("stamp_of_one_rate", "info", text))
    text = say(
        "Tested to {deepest_mm:g} mm; beyond, the fitted curve is carried on at its last rate.",
        deepest_mm=deepest_mm,
    )
    notes.append(Note("tested_to", "info", text, deepest_mm, "mm"))
    return notes


def _readings(request: Mapping[str, Any]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the readings as arrays, refusing what no spring can give."""
    _in_band(request)
    deflection = np.asarray(request["deflection_mm"], dtype=float)
    force = np.asarray(request["force_n"], dtype=float)
    if deflection.size != force.size:
        raise Refusal(
            Problem(
                "force_n",
                "unequal_length",
                say(
                    "Read {size} deflections and {size2} forces; each deflection needs its force.",
                    size=deflection.size, size2=force.size,
                ),
            )
        )
    if deflection.size > MOST:
        text = say("Read {size} readings; give {most} at most.", size=deflection.size, most=MOST)
        raise Refusal(Problem("deflection_mm", "too_many_readings", text, deflection.size))
    if deflection.size < FEWEST:
        raise Refusal(
            Problem(
                "deflection_mm",
                "too_few_readings",
                say(
                    "Read {size} readings; three or more are needed to tell a rate from an accident.",
                    size=deflection.size,
                ),
                deflection.size,
            )
        )
    for field, values, least, unit in (
        ("deflection_mm", deflection, LEAST_STEP_MM, "mm"),
        ("force_n", force, 0.0, "N"),
    ):
        steps = np.diff(np.concatenate([[0.0], values]))
        falls = np.flatnonzero((steps <= 0) | (steps < least * (1 - 1e-9)))
        if falls.size:
            at = int(falls[0])
            raise Refusal(
                Problem(
                    f"{field}.{at}",
                    "does_not_rise",
                    say(
                        "Reading {at} is {values:g} {unit}, not above the one before it: a spring's force rises "
                        "with its deflection, counted from the free length. Were two readings swapped, or did "
                        "the spring buckle?",
                        at=at + 1, values=values[at], unit=unit,
                    ),
                    float(values[at]),
                    unit,
                )
            )
    return deflection, force


def _in_band(request: Mapping[str, Any]) -> None:
    """Refuse every number outside its band, all at once."""
    problems = []
    for field, band in BANDS.items():
        given = request.get(field)
        numbers = given if isinstance(given, list | tuple) else [] if given is None else [given]
        for index, value in enumerate(numbers):
            if not band.holds(value):
                where = f"{field}.{index}" if numbers is given else field
                text = wrong(float(value), band)
                problems.append(Problem(where, "out_of_band", text, value, band.unit, band.low, band.high))
    if problems:
        raise Refusal(*problems)


def _criterion(squares: float, readings: int, coefficients: int, resolution: float) -> float:
    """Return AICc [1, eq. 2.5]; the tester's step bounds the scatter from below: exact readings stay finite."""
    variance = squares / readings + resolution**2 / 12
    parameters = coefficients + 1  # the scatter is one too
    return readings * log(variance) + 2 * parameters * readings / (readings - parameters - 1)


def _least_squares(
    columns: NDArray[np.float64], force: NDArray[np.float64], resolution: float, nonlinear: int = 0
) -> tuple[NDArray[np.float64], NDArray[np.float64], float] | None:
    """Return coefficients, their covariance and the residual sum of squares; None where readings are too few."""
    readings, linear = columns.shape
    if readings - (linear + nonlinear) - 2 <= 0:
        return None
    normal = columns.T @ columns
    coefficients = np.asarray(np.linalg.solve(normal, columns.T @ force), dtype=np.float64)
    squares = float(np.sum((columns @ coefficients - force) ** 2))
    freedom = readings - linear - nonlinear
    covariance = np.asarray(np.linalg.inv(normal) * (squares / freedom + resolution**2 / 12), dtype=np.float64)
    return coefficients, covariance, squares


def _straight(x: NDArray[np.float64], force: NDArray[np.float64], resolution: float) -> Fit:
    """Fit F = kδ; three readings always carry it, and nothing else competes there."""
    rate = float(x @ force / (x @ x))
    squares = float(np.sum((rate * x - force) ** 2))
    scatter = squares / (x.size - 1) + resolution**2 / 12
    criterion = _criterion(squares, x.size, 1, resolution) if x.size > 3 else 0.0
    return Fit(
        {"kind": "straight", "rate_n_per_mm": rate},
        {"rate_n_per_mm": sqrt(scatter / float(x @ x))},
        sqrt(squares / x.size),
        criterion,
    )


def _progressive(x: NDArray[np.float64], force: NDArray[np.float64], resolution: float) -> Fit | None:
    found = _least_squares(np.stack([x, x**2 / (2 * x[-1])], axis=1), force, resolution)
    if found is None:
        return None
    (start, growth), covariance, squares = found
    if growth <= 0 or start <= 0:
        return None  # a falling rate is no progressive spring
    return Fit(
        {
            "kind": "progressive",
            "start_n_per_mm": float(start),
            "end_n_per_mm": float(start + growth),
            "over_mm": float(x[-1]),
        },
        {
            "start_n_per_mm": sqrt(covariance[0, 0]),
            "end_n_per_mm": sqrt(covariance[0, 0] + covariance[1, 1] + 2 * covariance[0, 1]),
        },
        sqrt(squares / x.size),
        _criterion(squares, x.size, 2, resolution),
    )


def _dual(x: NDArray[np.float64], force: NDArray[np.float64], resolution: float) -> Fit | None:
    if x.size < 6:
        return None
    # Two readings at least on either side, or a rate would hang on one of them.
    change_overs = np.linspace(x[1], x[-2], _CHANGE_OVERS_TRIED)
    columns = np.stack([np.minimum(x, change_overs[:, None]), np.maximum(x - change_overs[:, None], 0)], axis=-1)
    normal = np.einsum("cni,cnj->cij", columns, columns)
    rates = np.linalg.solve(normal, np.einsum("cni,n->ci", columns, force)[..., None])[..., 0]
    squares = np.sum((np.einsum("cni,ci->cn", columns, rates) - force) ** 2, axis=1)
    squares[(rates[:, 1] <= rates[:, 0]) | (rates[:, 0] <= 0)] = np.inf
    best = int(np.argmin(squares))
    if not np.isfinite(squares[best]):
        return None
    found = _least_squares(columns[best], force, resolution, nonlinear=1)
    if found is None:
        return None
    (soft, hard), covariance, residual = found
    return Fit(
        {
            "kind": "dual",
            "soft_n_per_mm": float(soft),
            "hard_n_per_mm": float(hard),
            "change_mm": float(change_overs[best]),
        },
        {"soft_n_per_mm": sqrt(covariance[0, 0]), "hard_n_per_mm": sqrt(covariance[1, 1])},
        sqrt(residual / x.size),
        _criterion(residual, x.size, 3, resolution),
    )
