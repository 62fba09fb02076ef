"""The usual fasteners of suspension work, as blank torque lines: which they are, never how tight.

The value comes from the bike's own manual, typed by the technician with edition and page. The list is common
practice, no source; a line that does not apply is removed, with the reason in the trail.
"""

from __future__ import annotations

from dataclasses import dataclass

from django.utils import translation

from calc.words import mark, say
from shops.language import choices as languages


@dataclass(frozen=True)
class Fastener:
    """A fastener's name, and whether a second person must check it: brakes, axles and clamps."""

    name: str
    second_check: bool = False


FORK = (
    Fastener(mark("Front axle"), second_check=True),
    Fastener(mark("Front axle clamp bolts"), second_check=True),
    Fastener(mark("Fork clamp bolts, upper"), second_check=True),
    Fastener(mark("Fork clamp bolts, lower"), second_check=True),
    Fastener(mark("Handlebar clamp bolts"), second_check=True),
    Fastener(mark("Front brake caliper bolts"), second_check=True),
    Fastener(mark("Fork caps")),
)
SHOCK = (
    Fastener(mark("Rear axle"), second_check=True),
    Fastener(mark("Rear brake caliper bolts"), second_check=True),
    Fastener(mark("Shock bolt, upper")),
    Fastener(mark("Shock bolt, lower")),
    Fastener(mark("Linkage bolts")),
)
LOOSE_FORK = (Fastener(mark("Fork caps")),)


def english(name: str) -> str:
    """Return the name under which a fastener is kept: a usual one's own, whatever language it was read and sent in."""
    for code, _ in languages():
        with translation.override(code):
            for one in FORK + SHOCK:
                if say(one.name) == name:
                    return one.name
    return name


def second_check(name: str) -> bool:
    """Return whether the usual fastener of this name always needs a second person's check."""
    return any(one.second_check for one in FORK + SHOCK if one.name == name)


def usual(loose: str) -> tuple[Fastener, ...]:
    """Return the fasteners of a job: of a whole bike, a loose fork ("fork") or a loose shock ("shock").

    A loose shock has none of its own: what holds it is tightened on the bike.
    """
    if loose == "fork":
        return LOOSE_FORK
    return () if loose == "shock" else FORK + SHOCK
