"""The list of springs as a ladder: each a rung over the rider masses that it suits, as SVG."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from calc.drawing import SIZE, coordinate, faint, nice_step, segment, words_at, wrap
from calc.placing import fit_text, text_width
from calc.words import mark, say
from calc.writing import METRIC, Writing

RUNG = 40
TOP = 34
RIGHT = 690
FOOT = 64
MOST_RUNGS = 40
NARROWEST_KG = 20.0
LABELS = 0.34
"""The part of the width that the springs' names may take."""

_NAMES = {"front": mark("Front"), "rear": mark("Rear")}


def ladder(
    end: str,
    bands: Sequence[Mapping[str, Any]],
    rider_mass_kg: float | None = None,
    writing: Writing = METRIC,
) -> str:
    """Return the SVG of `bands` as `calc.suits` answers them, one rung each, in their order.

    `end` is front or rear. A spring that suits nobody has an empty rung that says so; a rider of
    `rider_mass_kg` is drawn as a line across. More than 40 rungs would not be read: the rest is counted in
    words. The `<svg>` carries the pixel box of the rungs and the masses of its sides (`data-mass-min`,
    `data-mass-max`, kg). Its axis and the rungs' ends are numbered in the unit of mass of `writing`, its words say
    metric ones.

    `bands` is that list of mappings, `rider_mass_kg` in kg or None. Raises nothing. Source: none (drawing).

    >>> svg = ladder("rear", [{"label": "52 N/mm", "rider_mass_kg": [70, 96]}], 82)
    >>> svg.startswith("<svg"), svg.count("pic-rung")
    (True, 1)
    """
    shown = bands[:MOST_RUNGS]
    x0 = 16 + min(LABELS * RIGHT, max((text_width(str(band["label"]), SIZE) for band in shown), default=0.0))
    low, high = _sides(shown, rider_mass_kg, writing.kg)
    bottom = TOP + RUNG * len(shown)

    def x(mass: float) -> float:
        return x0 + (RIGHT - x0) * (mass - low) / (high - low)

    body = [*_grid(x, low, high, bottom, writing), *_rider(x, rider_mass_kg, bottom)]
    for index, band in enumerate(shown):
        body += _rung(x, x0, TOP + RUNG * (index + 0.5), band, writing.kg)
    if len(bands) > MOST_RUNGS:
        body.append(words_at("name", 6, bottom + 54, say("and {count} more", count=len(bands) - MOST_RUNGS)))
    numbers = {"x0": x0, "x1": RIGHT, "y0": TOP, "y1": bottom, "mass-min": low, "mass-max": high}
    title = say("{names} springs over rider mass", names=say(_NAMES[end]))
    return wrap(title, _description(bands), "\n".join(body), bottom + FOOT, end, numbers)


def _sides(bands: Sequence[Mapping[str, Any]], rider: float | None, unit_kg: float) -> tuple[float, float]:
    """Return masses (kg), round ones in their unit, that hold every rung and the rider."""
    masses = [mass for band in bands if band["rider_mass_kg"] for mass in band["rider_mass_kg"]]
    masses += [rider] if rider is not None else []
    low, high = (min(masses), max(masses)) if masses else (60.0, 100.0)
    middle, span = (low + high) / 2 / unit_kg, max(1.2 * (high - low), NARROWEST_KG) / unit_kg
    step = nice_step(span, 6)
    first = step * np.floor((middle - span / 2) / step)
    last = step * np.ceil((middle + span / 2) / step)
    return max(float(first), 0.0) * unit_kg, float(last) * unit_kg


def _grid(x: Any, low: float, high: float, bottom: float, writing: Writing) -> list[str]:
    """Draw the masses' ticks and the axis's name."""
    out = [segment("axis", (x(low), bottom), (x(high), bottom), 2)]
    step = nice_step((high - low) / writing.kg, 6)
    for mass in np.arange(low / writing.kg, high / writing.kg + step / 2, step).tolist():
        at = float(x(mass * writing.kg))
        out.append(segment("grid", (at, TOP), (at, bottom), 0.75, extra=faint("grid")))
        anchor = "end" if at > RIGHT - 20 else "middle"
        out.append(words_at("tick", at, bottom + 26, writing.number(mass), anchor=anchor))
    name = say("Rider in full kit, {unit}", unit=writing.mass)
    return [*out, words_at("name", x(high), bottom + 54, name, anchor="end")]


def _rider(x: Any, mass: float | None, bottom: float) -> list[str]:
    if mass is None:
        return []
    at = float(x(mass))
    anchor = "end" if at > RIGHT - 120 else "start"
    return [
        segment("load", (at, TOP - 6), (at, bottom), 2, "3 4"),
        words_at("label", at + (-6 if anchor == "end" else 6), TOP - 10, say(
            "this rider {mass:.0f} kg",
            mass=mass,
        ), anchor=anchor),
    ]


def _rung(x: Any, x0: float, middle: float, band: Mapping[str, Any], unit_kg: float) -> list[str]:
    """Draw one spring's name and its bar, its two masses at the ends where there is room."""
    out = [words_at("row", 6, middle + 8, fit_text(str(band["label"]), SIZE, x0 - 16))]
    masses = band["rider_mass_kg"]
    if masses is None:
        out.append(words_at("unit", x0 + 8, middle + 8, say("suits nobody")))
        return out
    left, right = (float(x(mass)) for mass in masses)
    out.append(
        f'<rect class="pic-rung pic-solid" x="{coordinate(left)}" y="{coordinate(middle - 6)}"'
        f' width="{coordinate(max(right - left, 2.0))}" height="12" fill="#000"/>'
    )
    for at, mass, side in ((left, masses[0], "end"), (right, masses[1], "start")):
        text = f"{mass / unit_kg:.0f}"
        wide = text_width(text, SIZE, True) + 6
        if (side == "end" and at - wide < x0) or (side == "start" and at + wide > RIGHT + 24):
            continue
        out.append(words_at("sag", at + (-6 if side == "end" else 6), middle + 8, text, anchor=side, bold=True))
    return out


def _description(bands: Sequence[Mapping[str, Any]]) -> str:
    """Return the ladder in words, for whoever cannot see it."""
    told = []
    for band in bands[:MOST_RUNGS]:
        masses = band["rider_mass_kg"]
        told.append(
            say("{label}: suits nobody", label=band["label"])
            if masses is None
            else say(
                "{label}: {masses:.0f} to {masses2:.0f} kg",
                label=band["label"], masses=masses[0], masses2=masses[1],
            )
        )
    return say("Rider masses that each spring suits.") + " " + "; ".join(told) + "."
