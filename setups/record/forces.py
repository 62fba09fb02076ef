"""The table behind a sealed picture: force at the wheel over travel, for whoever cannot see the lines.

It is read off the sealed picture itself, so that it tells what the picture tells and nothing more: the curve's own
numbers are in the record's internal part, and no row lies at a sag, where the force would be the rider's load.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calc.drawing import nice_step
from calc.words import say
from setups.figures import number, read_in
from setups.sums import STAGE_LABELS, STAGES

MOST_STEPS = 6
"""So many steps at most from full extension to full travel."""


@dataclass(frozen=True)
class Forces:
    """The table: travels and, by trace, the forces there, written in the reader's units, which it names."""

    length: str
    force: str
    travels: Sequence[str]
    traces: Sequence[tuple[str, Sequence[str]]]

    @property
    def names(self) -> list[str]:
        """Return what each trace is called."""
        return [name for name, _ in self.traces]

    @property
    def rows(self) -> list[tuple[str, ...]]:
        """Return the table travel by travel: the travel, then each trace's force."""
        return list(zip(self.travels, *(forces for _, forces in self.traces), strict=True))


def forces(svg: str | None) -> Forces | None:
    """Return the table behind a picture of `calc.picture`; None where there is no picture."""
    if svg is None:
        return None
    curves = [(say(STAGE_LABELS[stage]), line) for stage in STAGES if (line := _line(svg, stage)) is not None]
    scale = {name: float(value) for name, value in re.findall(r'data-([a-z0-9-]+)="([\d.e+]+)"', svg)}
    length, mm = read_in("mm")
    force, n = read_in("N")
    travels = _travels(scale["travel-max"] / mm)
    x = scale["x0"] + (scale["x1"] - scale["x0"]) * travels * mm / scale["travel-max"]
    lift = scale["force-max"] / (scale["y1"] - scale["y0"]) / n
    traces = [
        (name, [number(float((scale["y1"] - y) * lift)) for y in np.interp(x, line[:, 0], line[:, 1])])
        for name, line in curves
    ]
    return Forces(length, force, [number(float(travel)) for travel in travels], traces)


def _line(svg: str, stage: str) -> NDArray[np.float64] | None:
    """Return a trace as places in the picture, shape (points, 2); None where it is not drawn."""
    found = re.search(rf'class="pic-trace pic-{stage}" (?:points|d)="([^"]+)"', svg)
    # A polyline's points, or path data, in which earlier records hold it: "0,1 2,3" or "M0 1L2 3".
    return None if found is None else np.array(re.findall(r"[-\d.]+", found[1]), float).reshape(-1, 2)


def _travels(furthest: float) -> NDArray[np.float64]:
    """Return round travels, and the whole of it for the last."""
    step = nice_step(furthest, MOST_STEPS)
    return np.append(np.arange(0.0, furthest - step / 3, step), furthest)
