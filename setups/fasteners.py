"""The usual fasteners of suspension work, as blank torque lines: which they are, never how tight.

The value comes from the bike's own manual, typed by the technician with edition and page. The list is common
practice, no source; a line that does not apply is removed, with the reason in the trail.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Fastener:
    """A fastener's name, and whether a second person must check it: brakes, axles and clamps."""

    name: str
    second_check: bool = False


FORK = (
    Fastener("Front axle", second_check=True),
    Fastener("Front axle clamp bolts", second_check=True),
    Fastener("Fork clamp bolts, upper", second_check=True),
    Fastener("Fork clamp bolts, lower", second_check=True),
    Fastener("Handlebar clamp bolts", second_check=True),
    Fastener("Front brake caliper bolts", second_check=True),
    Fastener("Fork caps"),
)
SHOCK = (
    Fastener("Rear axle", second_check=True),
    Fastener("Rear brake caliper bolts", second_check=True),
    Fastener("Shock bolt, upper"),
    Fastener("Shock bolt, lower"),
    Fastener("Linkage bolts"),
)
LOOSE_FORK = (Fastener("Fork caps"),)


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
