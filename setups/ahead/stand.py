"""How the bike sits, brakes and drives: as received, chosen and built, from its own chassis figures."""

from __future__ import annotations

from collections.abc import Mapping
from math import cos, radians, sin
from types import MappingProxyType
from typing import Any

from calc.chassis import chassis, swingarm_after_sag
from calc.evaluate import rounded
from calc.refusal import Note, Problem, Refusal
from calc.stance import Stance, side_view, stance
from calc.words import capital, mark, say
from setups import measured, sums
from setups.chassis_data import DRIVE, SITS, STOOD, lacking, sprockets
from setups.figures import redrawn
from setups.models import JobCard

ASSUMED: Mapping[str, float] = MappingProxyType({"deceleration_m_per_s2": 6.0, "front_share": 0.8})
"""A firm braking on a dry road (common practice, no source)."""
EMPTY: dict[str, Any] = {"svg": None, "stages": [], "text": None, "braking": [], "squat": [], "over_sag": []}
WHY = mark("with it each choice says how the bike will sit, steer, dive and squat")
LIMITS = mark(
    "A rigid frame on its sags with the rider, standing still: tyres, chain pull, the dive's own swing, damping "
    "and friction are left out. It compares the stages; the ride decides.",
)


def sitting(card: JobCard, given: Mapping[str, Any]) -> dict[str, Any]:
    """Return how the bike sits at each stage that is known, what a braking uses of the fork, and how it drives.

    `given` may hold deceleration_m_per_s2 and front_share over what is assumed.
    """
    data = _chassis(card)
    rake = (measured.end_data(card, "front") or {}).get("rake_deg")
    missing = _missing(card, data, rake)
    start = _measured_at(card, data)
    sags = _sags(card)
    if not missing and start is None:
        missing.append(say(
            "both sags of the bike as it stood when its chassis was measured: {stood}",
            stood=say(STOOD[_stood(data)]),
        ))
    if not missing and "received" not in sags:
        missing.append(say("the rider sag at both ends as received, read or worked out"))
    if missing or start is None or rake is None:
        return {**EMPTY, "assumed": [], "notes": [], "problems": [], "missing": missing}
    geometry = _geometry(data, rake)
    try:
        stands = {stage: stance(geometry, front - start[0], rear - start[1]) for stage, (front, rear) in sags.items()}
    except ValueError as error:
        text = say("{what}: check the pivot.", what=capital(str(error)))
        problem = Problem("bike.chassis", "cannot_swing", text).as_dict()
        return {**EMPTY, "assumed": [], "notes": [], "problems": [problem], "missing": []}
    ridden = {**ASSUMED, **{key: float(given[key]) for key in ASSUMED if given.get(key) is not None}}
    braking, lacks_braking = _braking(card, data, geometry, stands, ridden)
    driving, lacks_drive = _driving(data, geometry, start, sags)
    named = [(stage, say(sums.STAGE_LABELS[stage]), one) for stage, one in stands.items()]
    return {
        "svg": redrawn(side_view(geometry, named)),
        "stages": [_row(stage, one, stands["received"]) for stage, one in stands.items()],
        "text": _sentence(stands),
        "braking": braking,
        **driving,
        "assumed": [key for key in ASSUMED if given.get(key) is None],
        "notes": [Note("rigid_frame", "info", say(LIMITS)).as_dict()],
        "problems": [],
        "missing": [*lacks_braking, *lacks_drive],
    }


def _chassis(card: JobCard) -> Mapping[str, Any]:
    return (card.bike.chassis if card.bike is not None else None) or {}


def _missing(card: JobCard, data: Mapping[str, Any], rake: float | None) -> list[str]:
    if card.bike is None:
        return [say("a bike: a loose part does not sit on wheels")]
    missing = [say("{what}, kept with the bike: {why}", what=what, why=say(WHY)) for what in lacking(data, SITS)]
    if data.get("offset_mm") is None and data.get("trail_mm") is None:
        missing.append(say("the front axle's offset or the trail, kept with the bike"))
    if rake is None:
        missing.append(say("the rake, kept with the fork"))
    return missing


def _geometry(data: Mapping[str, Any], rake: float) -> dict[str, Any]:
    """Return the geometry as calc takes it; an offset that was not given follows from the trail."""
    angle, radius = radians(rake), data["front_radius_mm"]
    offset = data.get("offset_mm")
    if offset is None:
        offset = radius * sin(angle) - data["trail_mm"] * cos(angle)
    return {
        "wheelbase_mm": data["wheelbase_mm"],
        "rake_deg": rake,
        "offset_mm": offset,
        "wheel_radius_mm": radius,
        "rear_radius_mm": data["rear_radius_mm"],
        "pivot_x_mm": data.get("pivot_x_mm"),
        "pivot_z_mm": data.get("pivot_z_mm"),
    }


def _stood(data: Mapping[str, Any]) -> str:
    return data.get("measured_at") or "alone"


def _measured_at(card: JobCard, data: Mapping[str, Any]) -> tuple[float, float] | None:
    """Return both sags (front, rear) at which the chassis was measured; None where they are not known."""
    stood = _stood(data)
    if stood == "extended":
        return 0.0, 0.0
    found = [_sag(card, "received", end, "static" if stood == "alone" else "rider") for end in measured.ENDS]
    return None if found[0] is None or found[1] is None else (found[0], found[1])


def _sags(card: JobCard) -> dict[str, tuple[float, float]]:
    """Return, by stage, how far both ends are in with the rider; an end left alone stays as it came.

    Tubes moved up through the clamps lower the front like sag, a longer ride height lifts the rear.
    """
    found: dict[str, tuple[float, float]] = {}
    came = [_sag(card, "received", end, "rider") for end in measured.ENDS]
    for stage in sums.STAGES:
        own = [_sag(card, stage, end, "rider") for end in measured.ENDS]
        if stage != "received" and own == [None, None]:
            continue
        front, rear = (one if one is not None else was for one, was in zip(own, came, strict=True))
        if front is not None and rear is not None:
            found[stage] = (front + _moved(card, stage, "front"), rear - _moved(card, stage, "rear"))
    return found


def _sag(card: JobCard, stage: str, end: str, which: str) -> float | None:
    """Return a sag in mm: the one that was read, else the one worked out; None where neither is there."""
    if stage in measured.STAGES:
        read, _ = measured.sag_or_problems(card, stage, end)
        if read is not None and read[f"{which}_sag_mm"] is not None:
            return float(read[f"{which}_sag_mm"])
    body = sums.body_of(card, stage, end)
    if body is None:
        return None
    result = sums.worked(card, stage, end, body).result
    return None if result is None else float(result[f"{which}_sag_mm"])


def _moved(card: JobCard, stage: str, end: str) -> float:
    """Return what the tubes in the clamps lower the front by, or the ride height adjuster lifts the rear by, mm."""
    key = "fork_height_mm" if end == "front" else "ride_height_mm"
    was, now = ((sums.body_of(card, one, end) or {}).get(key) for one in ("received", stage))
    if was is None or now is None:
        return 0.0
    by = float(now) - float(was)
    return by if end == "front" else by * _mean_leverage(card)


def _mean_leverage(card: JobCard) -> float:
    leverage = (measured.end_data(card, "rear") or {}).get("leverage") or {}
    if leverage.get("kind") == "table":
        return float(leverage["wheel_mm"][-1] / leverage["shock_mm"][-1])
    return float(leverage.get("wheel_per_shock") or 1.0)


def _row(stage: str, one: Stance, came: Stance) -> dict[str, Any]:
    return {
        "stage": stage,
        "label": say(sums.STAGE_LABELS[stage]),
        "pitch_deg": rounded(one.pitch_deg - came.pitch_deg),
        "rake_deg": rounded(one.rake_deg),
        "trail_mm": rounded(one.trail_mm),
        "wheelbase_mm": rounded(one.wheelbase_mm),
    }


def _sentence(stands: Mapping[str, Stance]) -> str:
    came, last = stands["received"], stands[list(stands)[-1]]
    change = last.pitch_deg - came.pitch_deg
    if abs(change) < 0.05:
        return say(
            "The bike sits as level as it came: rake {rake_deg:.1f}°, trail {trail_mm:.0f} mm.",
            rake_deg=last.rake_deg, trail_mm=last.trail_mm,
        )
    trail = last.trail_mm - came.trail_mm
    feels = say("steadier and heavier") if trail > 0 else say("lighter and less steady")
    return say(
        "The nose comes {word} by {change:.1f}°: trail {trail_mm:.0f} becomes {trail_mm2:.0f} mm, and the "
        "steering {feels} (common practice).",
        word=say("up") if change > 0 else say("down"),
        change=abs(change),
        trail_mm=came.trail_mm,
        trail_mm2=last.trail_mm,
        feels=feels,
    )


def _braking(
    card: JobCard,
    data: Mapping[str, Any],
    geometry: Mapping[str, Any],
    stands: Mapping[str, Stance],
    ridden: Mapping[str, float],
) -> tuple[list[dict[str, Any]], list[str]]:
    """Return what a steady braking uses of the fork at each stage, or what is missing for it."""
    missing = [say("{what}, for the dive under braking", what=what) for what in lacking(data, ("mass_height_mm",))]
    if missing:
        return [], missing
    rows = []
    for stage in stands:
        loads = [measured.loads_of(card, "built" if stage == "built" else "received", end) for end in measured.ENDS]
        body = sums.body_of(card, stage, "front") or sums.body_of(card, "received", "front")
        if body is None or loads[0] is None or loads[1] is None:
            continue
        level = {"front_mm": 0, "rear_mm": 0}
        asked = {
            **{key: geometry[key] for key in ("wheelbase_mm", "rake_deg", "wheel_radius_mm", "offset_mm")},
            "before": level,
            "after": level,
            "mass_kg": loads[0].rider_kg + loads[1].rider_kg,
            "height_mm": data["mass_height_mm"],
            "front": sums.worked(card, stage, "front", body).request,
            "braking": dict(ridden),
        }
        try:
            found = chassis(asked)["braking"]
        except Refusal:
            continue
        rows.append({"stage": stage, "label": say(sums.STAGE_LABELS[stage]), **found})
    return rows, []


def _driving(
    data: Mapping[str, Any],
    geometry: Mapping[str, Any],
    start: tuple[float, float],
    sags: Mapping[str, tuple[float, float]],
) -> tuple[dict[str, Any], list[str]]:
    """Return the squat ratio at each stage and how the rear sag moves it, or what is missing for it."""
    nothing: dict[str, Any] = {"squat": [], "over_sag": []}
    wanted = ("mass_height_mm", *DRIVE) if data.get("front_teeth") or data.get("pivot_x_mm") else DRIVE[:1]
    missing = [say("{what}, for what the drive does to the rear", what=what) for what in lacking(data, wanted)]
    if missing:
        return nothing, missing
    squat = {key: data[key] for key in ("pivot_x_mm", "pivot_z_mm", "front_sprocket_x_mm", "front_sprocket_z_mm")}
    squat |= {"axle_z_mm": data["rear_radius_mm"], **sprockets(data)}
    rows, over = [], []
    for stage, (_, down) in sags.items():
        # From where it was measured to where it sits with the rider, so that what is shown around lies there.
        rear = max(down, 0.0)
        at = {"front_mm": 0, "rear_mm": rear}
        asked = {
            **{key: geometry[key] for key in ("wheelbase_mm", "rake_deg", "wheel_radius_mm", "offset_mm")},
            "before": at,
            "after": at,
            "height_mm": data["mass_height_mm"],
            "squat": swingarm_after_sag(squat, start[1] - rear),
        }
        try:
            found = chassis(asked)["squat"]
        except Refusal as refusal:
            return nothing, [problem.text for problem in refusal.problems]
        rows.append({"stage": stage, "label": say(sums.STAGE_LABELS[stage]), **found["after"]})
        over = found["over_sag"]
    return {"squat": rows, "over_sag": over}, []
