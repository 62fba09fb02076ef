"""What a new business takes as usual for each kind of bike, until a manager changes it.

Sag bands are in percent of travel (front: of the stroke along the fork; rear: of the wheel's travel), with
the unsprung mass of the end. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from calc.words import mark, say

COMMON_PRACTICE = mark("common practice, no source")
"""Kept in English, said when it is read; whatever else stands in its place was typed."""


@dataclass(frozen=True)
class Usual:
    """The usual values of one kind of bike at one end: sag bands in percent of travel, unsprung mass
    in kg.
    """

    static_low_percent: float
    static_high_percent: float
    rider_low_percent: float
    rider_high_percent: float
    unsprung_kg: float


USUAL: Mapping[tuple[str, str], Usual] = {
    ("motocross", "front"): Usual(8, 15, 21, 28, 14),
    ("motocross", "rear"): Usual(9, 14, 31, 35, 20),
    ("enduro", "front"): Usual(8, 16, 22, 30, 15),
    ("enduro", "rear"): Usual(8, 14, 30, 35, 21),
    ("adventure", "front"): Usual(10, 20, 25, 33, 18),
    ("adventure", "rear"): Usual(6, 14, 27, 34, 26),
    ("street", "front"): Usual(14, 23, 25, 33, 17),
    ("street", "rear"): Usual(6, 15, 25, 33, 22),
    ("track", "front"): Usual(14, 22, 24, 30, 16),
    ("track", "rear"): Usual(4, 10, 20, 28, 20),
}


def source_words(source: str) -> str:
    """Return a kept source as its reader's language says it; a typed one as it was typed."""
    return say(COMMON_PRACTICE) if source == COMMON_PRACTICE else source


def kept_source(typed: str) -> str:
    """Return what is kept of a typed source: what was only read and sent back stays what it was."""
    return COMMON_PRACTICE if typed == say(COMMON_PRACTICE) else typed
