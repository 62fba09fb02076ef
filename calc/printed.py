"""How finely a length is printed: as its instrument can be read, whatever the sums behind it are good for.

A sag, measured or computed, is a tape's, and stands in whole millimetres: its uncertainty is about one. Preload is set
by a collar or a spacer, no finer than half a millimetre. What a person typed is printed as it was typed, and a mean of
many cards to the digit of the uncertainty beside it.

A printed figure must not contradict what was said of the value: where the whole millimetre would stand on another side
of a band than the sag does, a tenth is shown.

Units: mm. Limits: none. Errors: none. Source: [1] JCGM 100:2008, 7.2.6 (an estimate is rounded to be consistent with
its uncertainty), from memory; what a tape and a collar are read to is common practice, no source.
"""

from __future__ import annotations

from math import floor

from calc.words import number

FINE_MM = 0.1
"""As finely as a sag is judged: within it, a sag is on the edge of its band."""


def whole(value_mm: float) -> int:
    """Return the length `value_mm` (mm) to the nearest millimetre, a half upwards, as browsers round too.

    Raises nothing. Source: [1].

    >>> whole(34.5), whole(35.49), whole(-0.2)
    (35, 35, 0)
    """
    return floor(value_mm + 0.5)


def halves(value_mm: float) -> float:
    """Return the preload `value_mm` (mm) to the nearest half millimetre.

    Raises nothing. Source: [1].

    >>> halves(8.3), halves(8.2), halves(-0.1)
    (8.5, 8.0, 0.0)
    """
    return floor(2 * value_mm + 0.5) / 2


def sag(value_mm: float, band_mm: tuple[float, float] | None = None) -> str:
    """Write the sag `value_mm` (mm), without its unit, beside the `band_mm` (low, high, mm) it is told against, if any.

    Raises nothing. Source: [1].

    >>> sag(35.8), sag(35.8, (30.0, 38.0)), sag(29.8, (30.0, 38.0))
    ('36', '36', '29.8')
    """
    near = whole(value_mm)
    if band_mm is not None and _side(near, band_mm) != _side(round(value_mm, 1), band_mm):
        return number(round(value_mm, 1), ".1f")
    return number(near, "d")


def preload(value_mm: float) -> str:
    """Write the preload, or change of one, `value_mm` (mm), without its unit.

    Raises nothing. Source: [1].

    >>> preload(8.3), preload(7.9)
    ('8.5', '8')
    """
    return number(halves(value_mm), "g")


def _side(value_mm: float, band_mm: tuple[float, float]) -> int:
    return (value_mm > band_mm[1]) - (value_mm < band_mm[0])
