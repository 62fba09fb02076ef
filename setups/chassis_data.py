"""What is known of a bike's chassis, checked before it is kept: what pitch, braking and drive are worked out from."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any

from calc.bands import Band
from calc.chassis import BANDS as CHASSIS
from calc.checks import Findings
from calc.stance import pitch_radius_mm
from calc.words import mark, say

STOOD: Mapping[str, str] = MappingProxyType(
    {"alone": mark("the bike alone on its wheels"), "extended": mark(
        "fully extended",
    ), "with_rider": mark("with the rider on")}
)
"""How the bike stood when its chassis was measured; the maker's figures are mostly for the bike alone."""
NUMBERS: Mapping[str, Band] = MappingProxyType(
    {
        "wheelbase_mm": CHASSIS["wheelbase_mm"],
        "front_radius_mm": CHASSIS["wheel_radius_mm"],
        "rear_radius_mm": Band(mark("the rear wheel's loaded radius"), "mm", 150, 420),
        "offset_mm": CHASSIS["offset_mm"],
        "trail_mm": Band(mark("the trail"), "mm", 0, 250),
        "mass_height_mm": CHASSIS["height_mm"],
        "pivot_x_mm": CHASSIS["pivot_x_mm"],
        "pivot_z_mm": CHASSIS["pivot_z_mm"],
        "front_sprocket_x_mm": CHASSIS["front_sprocket_x_mm"],
        "front_sprocket_z_mm": CHASSIS["front_sprocket_z_mm"],
        "front_teeth": Band(mark("the front sprocket's teeth"), "", 8, 30),
        "rear_teeth": Band(mark("the rear sprocket's teeth"), "", 20, 90),
        "chain_pitch_mm": Band(mark("the chain's pitch"), "mm", 6, 26),
    }
)
FIELDS = ("measured_at", *NUMBERS)
SITS = ("wheelbase_mm", "front_radius_mm", "rear_radius_mm")
DRIVE = ("pivot_x_mm", "pivot_z_mm", "front_sprocket_x_mm", "front_sprocket_z_mm", "front_teeth", "rear_teeth")
USUAL_PITCH_MM = 15.875
"""Five eighths of an inch, the pitch of most motorcycle chains (common practice, no source)."""


def check_chassis(data: Any, path: str = "chassis") -> None:
    """Refuse chassis figures that cannot be, or do not fit together; None is accepted: nothing is known yet."""
    if data is None:
        return
    findings = Findings()
    if not isinstance(data, Mapping):
        findings.add(path, "not_an_object", say("Give an object with named fields here."))
        findings.raise_any()
    for name in data:
        if name not in FIELDS:
            findings.add(f"{path}.{name}", "unknown_field", say(
                "There is no {name!r} here; known: {names}.",
                name=name, names=", ".join(FIELDS),
            ))
    if data.get("measured_at") not in (None, *STOOD):
        text = say("Say how the bike stood when it was measured: {names}.", names=", ".join(STOOD))
        findings.add(f"{path}.measured_at", "unknown_choice", text)
    for name, band in NUMBERS.items():
        if data.get(name) is not None:
            findings.value(data[name], f"{path}.{name}", band)
    if not findings.problems:
        _together(findings, data, path)
    findings.raise_any()


def _together(findings: Findings, data: Mapping[str, Any], path: str) -> None:
    if data.get("offset_mm") is not None and data.get("trail_mm") is not None:
        text = say("Give the offset or the trail, not both: with rake and wheel the one follows from the other.")
        findings.add(f"{path}.trail_mm", "given_twice", text, data["trail_mm"])
    for name in ("front_teeth", "rear_teeth"):
        if data.get(name) is not None and data[name] != int(data[name]):
            findings.add(f"{path}.{name}", "not_whole", say("A sprocket has a whole number of teeth."), data[name])
    wheelbase = data.get("wheelbase_mm")
    for name, what in (("pivot_x_mm", say("swingarm pivot")), ("front_sprocket_x_mm", say("front sprocket"))):
        if wheelbase is not None and data.get(name) is not None and data[name] >= wheelbase:
            text = say(
                "The {what} cannot lie {data:g} mm ahead of the rear axle: the wheelbase is {wheelbase:g} mm.",
                what=what, data=data[name], wheelbase=wheelbase,
            )
            findings.add(f"{path}.{name}", "past_the_front", text, data[name])
    one_of_pivot = [data.get(name) is not None for name in ("pivot_x_mm", "pivot_z_mm")]
    if any(one_of_pivot) and not all(one_of_pivot):
        findings.add(f"{path}.pivot_x_mm", "half_a_point", say("The pivot needs both: how far ahead and how high."))


def lacking(data: Mapping[str, Any], names: tuple[str, ...]) -> list[str]:
    """Return what of `names` is not known, in words."""
    return [NUMBERS[name].named for name in names if data.get(name) is None]


def sprockets(data: Mapping[str, Any]) -> dict[str, float]:
    """Return both sprockets' pitch radii in mm, from their teeth and the chain's pitch."""
    pitch = data.get("chain_pitch_mm") or USUAL_PITCH_MM
    return {
        f"{end}_sprocket_radius_mm": pitch_radius_mm(int(data[f"{end}_teeth"]), pitch) for end in ("front", "rear")
    }
