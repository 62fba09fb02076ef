"""What the springs do to the bike's attitude, and what braking and driving do to the springs.

Ground frame at the rear: the origin under the rear axle, x forward, z up, millimetres.

Sources: [1] V. Cossalter, Motorcycle Dynamics, 2nd ed., ch. 1 (trail), ch. 6 (load transfer angle, squat
ratio), from memory. The equations are elementary statics; the tests hold them against a force balance
written anew.
"""

from __future__ import annotations

from collections.abc import Mapping
from math import atan2, cos, degrees, hypot, radians, sin
from types import MappingProxyType
from typing import Any

import numpy as np

from calc.bands import BANDS as END_BANDS
from calc.bands import Band
from calc.checks import Findings, check_front
from calc.evaluate import rounded, sprung_load
from calc.fork import fork_from
from calc.gas import HARD, SLOW, STANDARD_GRAVITY
from calc.refusal import Note
from calc.solve import settle
from calc.words import mark, say

BANDS: MappingProxyType[str, Band] = MappingProxyType(
    {
        "wheelbase_mm": Band(mark("the wheelbase"), "mm", 900, 2200),
        "rake_deg": END_BANDS["front.rake_deg"],
        "wheel_radius_mm": Band(mark("the front wheel's loaded radius"), "mm", 150, 420),
        "offset_mm": Band(mark("the front axle's offset from the steering axis"), "mm", -50, 150),
        "front_mm": Band(mark("the front sag, along the fork"), "mm", 0, 400),
        "rear_mm": Band(mark("the rear sag, vertical"), "mm", 0, 500),
        "mass_kg": Band(mark("the mass of bike with rider"), "kg", 40, 700),
        "height_mm": Band(mark("the height of the centre of mass of bike with rider"), "mm", 200, 1200),
        "deceleration_m_per_s2": Band(mark("the deceleration"), "m/s²", 0, 15),
        "front_share": Band(mark("the front tyre's share of the braking"), "", 0, 1),
        "front_load_kg": END_BANDS["front.load_rider_kg"],
        "front_unsprung_kg": END_BANDS["front.unsprung_kg"],
        "pivot_x_mm": Band(mark("how far the swingarm pivot lies ahead of the rear axle"), "mm", 200, 1000),
        "pivot_z_mm": Band(mark("the height of the swingarm pivot"), "mm", 100, 900),
        "axle_z_mm": Band(mark("the height of the rear axle"), "mm", 100, 450),
        "front_sprocket_x_mm": Band(mark(
            "how far the front sprocket lies ahead of the rear axle",
        ), "mm", 200, 1200),
        "front_sprocket_z_mm": Band(mark("the height of the front sprocket's centre"), "mm", 100, 900),
        "front_sprocket_radius_mm": Band(mark("the front sprocket's pitch radius"), "mm", 15, 90),
        "rear_sprocket_radius_mm": Band(mark("the rear sprocket's pitch radius"), "mm", 30, 200),
    }
)
"""What is accepted (common practice, no source)."""

GEOMETRY = ("wheelbase_mm", "rake_deg", "wheel_radius_mm", "offset_mm")
SAGS = ("front_mm", "rear_mm")
DRIVE = tuple(name for name in BANDS if name.startswith(("pivot", "axle", "front_sprocket", "rear_sprocket")))
AROUND_MM = (-20.0, -10.0, 0.0, 10.0, 20.0)
LEVEL = 1e-9
"""A squat line flatter than this counts as level: the squat ratio has no value there."""


def chassis(request: Mapping[str, Any]) -> dict[str, Any]:
    """Answer what a change of sag does to the bike, and what braking and driving do to its springs.

    `request` holds what `attitude` takes, and optionally:

    - `braking`: `deceleration_m_per_s2`, `front_share` (1 where left out), with `mass_kg` and `height_mm` of
      bike with rider at the top level, and either `front`, an end as `evaluate` takes it, or
      `front_load_kg` (axle scale, with the rider) and `front_unsprung_kg`. With `front` the stroke used is
      solved from its springs and air, and its own rake holds; else only the force along the fork is told.
    - `squat`: what `squat` takes, at the `before` sag; its `height_mm` and `wheelbase_mm` at the top level.

    Returns `attitude`; `braking` (None where not asked) with `load_transfer_n`, `fork_force_n` and, with
    `front`, `rider_sag_mm`, `stroke_mm` with the air settled (n = 1), `stroke_hard_mm` with it squeezed at
    once (n = 1.4) and `left_mm`, what remains to the stop at n = 1; `squat` with `before`, `after` and
    `over_sag`, the same figures at rear sags around the one before; `notes`. Lengths in mm, six significant
    figures. Raises `Refusal` with every problem found: numbers outside their band, a rake or brake force that
    cannot be, sprockets that overlap.

    Source: [1] for trail and squat, elementary statics for the rest.

    The rear comes up by 20 mm on a wheelbase of 1480 mm, which turns the rake by −0.774° and the trail with it.

    >>> answer = chassis({"wheelbase_mm": 1480, "rake_deg": 26, "wheel_radius_mm": 340, "offset_mm": 22,
    ...     "before": {"front_mm": 80, "rear_mm": 120}, "after": {"front_mm": 80, "rear_mm": 100},
    ...     "mass_kg": 240, "height_mm": 650, "braking": {"deceleration_m_per_s2": 6, "front_share": 0.8,
    ...     "front_load_kg": 118, "front_unsprung_kg": 16}})
    >>> round(answer["attitude"]["rake_change_deg"], 4), round(degrees(-20 / 1480), 4)
    (-0.7743, -0.7743)
    >>> answer["braking"]["load_transfer_n"], round(240 * 6 * 650 / 1480, 3)
    (632.432, 632.432)
    """
    _check(request)
    turned = attitude(request)
    notes = [_attitude_note(turned)]
    braked = None if request.get("braking") is None else _braking(request, notes)
    driven = None if request.get("squat") is None else _driving(request, notes)
    return {
        "attitude": {name: rounded(value) for name, value in turned.items()},
        "braking": braked,
        "squat": driven,
        "notes": [note.as_dict() for note in notes],
    }


def _check(request: Mapping[str, Any]) -> None:
    findings = Findings()
    for name in GEOMETRY:
        findings.number(request, name, "", BANDS[name])
    for state in ("before", "after"):
        for name in SAGS:
            findings.number(request[state], name, state, BANDS[name])
    asked = [name for name in ("braking", "squat") if request.get(name) is not None]
    for name in ("mass_kg", "height_mm") if "braking" in asked else ("height_mm",) if asked else ():
        findings.number(request, name, "", BANDS[name])
    if request.get("front") is not None:
        check_front(findings, request["front"])
    if "braking" in asked:
        _check_braking(findings, request)
    if "squat" in asked:
        _check_drive(findings, request["squat"])
    findings.raise_any()
    rake = attitude(request)["rake_deg"]
    if not BANDS["rake_deg"].holds(rake):
        text = say(
            "These sags would turn the rake to {rake:.3g}°: check both sags and the wheelbase, in mm.",
            rake=rake,
        )
        findings.add("after", "rake_out_of_band", text, rake, BANDS["rake_deg"])
    if "braking" in asked:
        _check_transfer(findings, request)
    findings.raise_any()


def _check_braking(findings: Findings, request: Mapping[str, Any]) -> None:
    braking, with_end = request["braking"], request.get("front") is not None
    findings.number(braking, "deceleration_m_per_s2", "braking", BANDS["deceleration_m_per_s2"])
    findings.number({"front_share": 1.0, **braking}, "front_share", "braking", BANDS["front_share"])
    for name in ("front_load_kg", "front_unsprung_kg"):
        if not with_end:
            findings.number(braking, name, "braking", BANDS[name])
        elif braking.get(name) is not None:
            text = say("The front end given has its own loads; leave {name} out, or the front end.", name=name)
            findings.add(f"braking.{name}", "given_twice", text, braking[name], BANDS[name])
    if not with_end and not findings.problems and braking["front_load_kg"] <= braking["front_unsprung_kg"]:
        text = say("The front axle load is not above the unsprung mass: the axle scale reads both together.")
        findings.add("braking.front_load_kg", "load_below_unsprung", text, braking["front_load_kg"])


def _check_drive(findings: Findings, drive: Mapping[str, Any]) -> None:
    read = {name: findings.number(drive, name, "squat", BANDS[name]) for name in DRIVE}
    ahead, small, large = (
        read[name] for name in ("front_sprocket_x_mm", "front_sprocket_radius_mm", "rear_sprocket_radius_mm")
    )
    if ahead is not None and small is not None and large is not None and ahead <= small + large:
        text = say(
            "The sprockets' centres lie {ahead:g} mm apart, but their radii make {small:g} mm together: were "
            "diameters given for radii?",
            ahead=ahead, small=small + large,
        )
        findings.add("squat.front_sprocket_x_mm", "sprockets_overlap", text, ahead)


def _front_load(request: Mapping[str, Any]) -> tuple[float, float]:
    """Return the front axle's load with the rider and its unsprung mass, kg."""
    front, braking = request.get("front"), request["braking"]
    if front is not None:
        return front["load_rider_kg"], front["unsprung_kg"]
    return braking["front_load_kg"], braking["front_unsprung_kg"]


def _check_transfer(findings: Findings, request: Mapping[str, Any]) -> None:
    """Note a mass that the front axle's load contradicts, and braking that lifts the rear wheel."""
    load, mass = _front_load(request)[0], request["mass_kg"]
    if load >= mass:
        text = say(
            "The front axle carries {load:g} kg, no less than the {mass:g} kg of bike and rider together.",
            load=load, mass=mass,
        )
        findings.add("mass_kg", "mass_below_load", text, mass, BANDS["mass_kg"])
        return
    most = (mass - load) * STANDARD_GRAVITY * request["wheelbase_mm"] / (mass * request["height_mm"])
    asked = request["braking"]["deceleration_m_per_s2"]
    if asked > most:
        text = say(
            "At {asked:g} m/s² the rear wheel would leave the ground; it does from {most:.3g} m/s² on.",
            asked=asked, most=most,
        )
        findings.add("braking.deceleration_m_per_s2", "rear_lifts", text, asked, Band("", "m/s²", 0, most))


def _attitude_note(turned: Mapping[str, float]) -> Note:
    change, trail = turned["trail_change_mm"], turned["trail_mm"]
    if abs(change) < 0.05:
        text = say("The attitude stays as it was: trail {trail:.4g} mm.", trail=trail)
        return Note("attitude_kept", "info", text, 0.0, "mm")
    text = say(
        "The nose comes {word} by {pitch_deg:.2g}°, so the trail {word2} by {change:.2g} mm to {trail:.4g} mm: "
        "steering gets {word3} (common practice).",
        word=say("up") if change > 0 else say("down"),
        pitch_deg=abs(turned["pitch_deg"]),
        word2=say("grows") if change > 0 else say("shrinks"),
        change=abs(change),
        trail=trail,
        word3=say("steadier and heavier") if change > 0 else say("lighter and less steady"),
    )
    return Note("attitude", "info", text, rounded(change), "mm")


def _braking(request: Mapping[str, Any], notes: list[Note]) -> dict[str, float | None]:
    """Return what a steady braking asks of the fork, adding what is to be said of it to `notes`."""
    braking, front = request["braking"], request.get("front")
    load, unsprung = _front_load(request)
    rake = request["rake_deg"] if front is None else front["rake_deg"]
    deceleration = braking["deceleration_m_per_s2"]
    force = braking_fork_force_n(
        deceleration_m_per_s2=deceleration,
        mass_kg=request["mass_kg"],
        height_mm=request["height_mm"],
        wheelbase_mm=request["wheelbase_mm"],
        front_sprung_load_n=(load - unsprung) * STANDARD_GRAVITY,
        front_share=braking.get("front_share", 1.0),
        front_unsprung_kg=unsprung,
        rake_deg=rake,
    )
    transfer = request["mass_kg"] * deceleration * request["height_mm"] / request["wheelbase_mm"]
    answer: dict[str, float | None] = {"load_transfer_n": rounded(transfer), "fork_force_n": rounded(force)}
    if front is None:
        return {**answer, **dict.fromkeys(("rider_sag_mm", "stroke_mm", "stroke_hard_mm", "left_mm"))}
    fork = fork_from(front)
    # The solver takes loads vertical at the wheel; the axial force is given as the one that makes it.
    slow, hard = (float(settle(fork, force / fork.steepness, n)) for n in (SLOW, HARD))
    sag = float(settle(fork, sprung_load(front, "rider")))
    if slow >= fork.stroke:
        text = say("Braking at {deceleration:g} m/s² puts the fork on its stop.", deceleration=deceleration)
        notes.append(Note("on_the_stop", "stop", text, rounded(fork.stroke * 1000), "mm"))
    else:
        text = say(
            "Braking at {deceleration:g} m/s² takes the fork to {hard:.0f} to {slow:.0f} mm of {stroke_mm:g} mm, "
            "as its air has less or more time to settle.",
            deceleration=deceleration, hard=hard * 1000, slow=slow * 1000, stroke_mm=front["stroke_mm"],
        )
        notes.append(Note("stroke_used", "info", text, rounded(slow * 1000), "mm"))
    text = say("Steady braking: the dive's own swing, damping, friction and the steeper rake are left out.")
    notes.append(Note("steady_braking", "info", text))
    return {
        **answer,
        "rider_sag_mm": rounded(sag * 1000),
        "stroke_mm": rounded(slow * 1000),
        "stroke_hard_mm": rounded(hard * 1000),
        "left_mm": rounded((fork.stroke - slow) * 1000),
    }


def _driving(request: Mapping[str, Any], notes: list[Note]) -> dict[str, Any]:
    """Return the squat figures at and around the sags, adding what is to be said of them to `notes`."""
    geometry = {**request["squat"], "height_mm": request["height_mm"], "wheelbase_mm": request["wheelbase_mm"]}
    sag, after = request["before"]["rear_mm"], request["after"]["rear_mm"]

    def at(rear_mm: float) -> dict[str, Any]:
        found = squat(swingarm_after_sag(geometry, sag - rear_mm))
        return {name: None if value is None else rounded(value) for name, value in found.items()}

    states = {"before": at(sag), "after": at(after)}
    was, now = (states[state]["anti_squat"] for state in ("before", "after"))
    text = say(
        "Under throttle the rear {word}: chain and swingarm bear {now:.3g} of the load transfer, {was:.3g} "
        "before.",
        word=say("rises") if now > 1 else say("squats"), now=now, was=was,
    )
    notes.append(Note("under_throttle", "info", text, now))
    around = [{"rear_mm": rear, **at(rear)} for rear in (np.array(AROUND_MM) + sag).tolist() if rear >= 0]
    return {**states, "over_sag": around}


def trail_mm(*, rake_deg: float, wheel_radius_mm: float, offset_mm: float) -> float:
    """Return the ground trail in mm, (R sin ε − offset)/cos ε [1].

    `rake_deg` from the vertical (0 to 60), `wheel_radius_mm` the loaded radius, `offset_mm` the axle's
    distance from the steering axis.

    Raises nothing.

    Source: [1].

    >>> round(trail_mm(rake_deg=45, wheel_radius_mm=300, offset_mm=0), 9)  # at 45° the radius itself
    300.0
    """
    rake = radians(rake_deg)
    return (wheel_radius_mm * sin(rake) - offset_mm) / cos(rake)


def attitude(request: Mapping[str, Any]) -> dict[str, float]:
    """Compare how the bike sits before and after: pitch, rake, trail and the front axle's shift.

    `request`: `wheelbase_mm`, `rake_deg`, `wheel_radius_mm` (front), `offset_mm` — all as measured at the
    `before` sags — and `before`, `after`, each {`front_mm` along the fork, `rear_mm` vertical}. Returns
    `pitch_deg` (positive: the rear sits lower than before, nose up), `rake_deg`, `rake_change_deg`,
    `trail_mm`, `trail_change_mm` and `wheelbase_change_mm` (the front axle's shift along the fork; the rear
    axle's arc is left out).

    Small angles: pitch = (rear − front vertical change)/wheelbase.

    The pitch moves the wheelbase in second order only. Raises nothing. Source: elementary geometry; trail [1].

    >>> answer = attitude({"wheelbase_mm": 1480, "rake_deg": 26, "wheel_radius_mm": 340, "offset_mm": 22,
    ...                    "before": {"front_mm": 80, "rear_mm": 120}, "after": {"front_mm": 80, "rear_mm": 100}})
    >>> round(answer["pitch_deg"], 4), round(degrees(-20 / 1480), 4)
    (-0.7743, -0.7743)
    """
    rake = radians(request["rake_deg"])
    front = request["after"]["front_mm"] - request["before"]["front_mm"]
    rear = request["after"]["rear_mm"] - request["before"]["rear_mm"]
    pitch = (rear - front * cos(rake)) / request["wheelbase_mm"]
    geometry = {"wheel_radius_mm": request["wheel_radius_mm"], "offset_mm": request["offset_mm"]}
    new_rake_deg = degrees(rake + pitch)
    old_trail = trail_mm(rake_deg=request["rake_deg"], **geometry)
    new_trail = trail_mm(rake_deg=new_rake_deg, **geometry)
    return {
        "pitch_deg": degrees(pitch),
        "rake_deg": new_rake_deg,
        "rake_change_deg": degrees(pitch),
        "trail_mm": new_trail,
        "trail_change_mm": new_trail - old_trail,
        "wheelbase_change_mm": -front * sin(rake),
    }


def braking_fork_force_n(
    *,
    deceleration_m_per_s2: float,
    mass_kg: float,
    height_mm: float,
    wheelbase_mm: float,
    front_sprung_load_n: float,
    front_share: float,
    front_unsprung_kg: float,
    rake_deg: float,
) -> float:
    """Return the force along the fork, in N, that holds a steady deceleration.

    ΔN = m a h/w is the load transfer; the fork carries (N_f,sprung + ΔN) cos ε + (B − m_uf a) sin ε, where
    B = `front_share`·m·a is the front tyre's brake force and m_uf a what the front unsprung mass takes of
    it. Mass and height are of bike with rider.

    All other arguments are plain numbers in the units of their names: `deceleration_m_per_s2`, `mass_kg`,
    `height_mm`, `wheelbase_mm`, `front_sprung_load_n` (vertical, with the rider), `front_unsprung_kg`, `rake_deg`
    from the vertical; `front_share` is 0 to 1. Raises nothing. Source: elementary statics of the sprung mass.

    With an upright fork only the load transfer adds: 1000 + 240·6·650/1450.

    >>> round(braking_fork_force_n(deceleration_m_per_s2=6, mass_kg=240, height_mm=650, wheelbase_mm=1450,
    ...       front_sprung_load_n=1000, front_share=0.8, front_unsprung_kg=16, rake_deg=0), 3)
    1645.517
    """
    rake = radians(rake_deg)
    transfer = mass_kg * deceleration_m_per_s2 * height_mm / wheelbase_mm
    brake = front_share * mass_kg * deceleration_m_per_s2
    return (front_sprung_load_n + transfer) * cos(rake) + (brake - front_unsprung_kg * deceleration_m_per_s2) * sin(
        rake
    )


def squat(request: Mapping[str, Any]) -> dict[str, float | None]:
    """Return the squat ratio tan τ/tan σ, its inverse, and its angles [1].

    `request`, all mm at the attitude in question: `pivot_x_mm`, `pivot_z_mm` (swingarm pivot),
    `axle_z_mm` (rear axle's height, the loaded radius), `front_sprocket_x_mm`, `front_sprocket_z_mm`,
    `front_sprocket_radius_mm`, `rear_sprocket_radius_mm`, `height_mm` and `wheelbase_mm` (h and w of bike
    with rider). Returns `squat_ratio` (None where the squat line is level), `anti_squat`, its inverse: the
    share of the load transfer that chain and swingarm bear instead of the spring, `load_transfer_deg` (τ) and
    `squat_deg` (σ). Above an anti-squat of 1 the rear rises under throttle; below, and below zero, where
    the ratio is negative, it squats. A chain parallel to the swingarm has its squat line parallel to both.

    Raises nothing: sprockets are checked before.

    Between equal sprockets on the swingarm's own line the chain runs parallel to it: tan σ is (400 − 320)/560.

    >>> answer = squat({"pivot_x_mm": 560, "pivot_z_mm": 400, "axle_z_mm": 320, "front_sprocket_x_mm": 560,
    ...     "front_sprocket_z_mm": 400, "front_sprocket_radius_mm": 60, "rear_sprocket_radius_mm": 60,
    ...     "height_mm": 650, "wheelbase_mm": 1450})
    >>> round(answer["anti_squat"] * 650 / 1450, 6), round(80 / 560, 6)
    (0.142857, 0.142857)
    """
    direction, point = _upper_run(request)
    arm = (request["pivot_x_mm"], request["pivot_z_mm"] - request["axle_z_mm"])
    slope = _squat_slope(request["axle_z_mm"], arm, point, direction)
    transfer = request["height_mm"] / request["wheelbase_mm"]
    return {
        "squat_ratio": None if abs(slope) < LEVEL else transfer / slope,
        "anti_squat": slope / transfer,
        "load_transfer_deg": degrees(atan2(request["height_mm"], request["wheelbase_mm"])),
        "squat_deg": degrees(atan2(slope, 1.0)),
    }


def _upper_run(request: Mapping[str, Any]) -> tuple[tuple[float, float], tuple[float, float]]:
    """Return the unit direction of the chain's upper run, rear to front, and its point on the rear sprocket."""
    dx = request["front_sprocket_x_mm"]
    dz = request["front_sprocket_z_mm"] - request["axle_z_mm"]
    # The upper outer tangent turns down towards the smaller sprocket by asin of the radii's difference over their
    # distance.
    lean = (request["rear_sprocket_radius_mm"] - request["front_sprocket_radius_mm"]) / hypot(dx, dz)
    angle = atan2(dz, dx) - atan2(lean, (1 - lean * lean) ** 0.5)
    direction = (cos(angle), sin(angle))
    radius = request["rear_sprocket_radius_mm"]
    return direction, (-radius * direction[1], request["axle_z_mm"] + radius * direction[0])


def _squat_slope(
    axle_z: float, arm: tuple[float, float], point: tuple[float, float], direction: tuple[float, float]
) -> float:
    """Return tan σ: the slope from the contact point to where the chain's line meets the swingarm's."""
    cross = arm[0] * direction[1] - arm[1] * direction[0]
    # Meeting at (0, axle_z) + s·arm: take the cross product of both sides of the chain's equation with its direction.
    reach = point[0] * direction[1] - (point[1] - axle_z) * direction[0]
    # Written with the common factor 1/cross multiplied through, so that parallel lines need no special case.
    return (axle_z * cross + reach * arm[1]) / (reach * arm[0])


def swingarm_after_sag(request: Mapping[str, Any], rise_mm: float) -> dict[str, Any]:
    """Return `request` with the rear of the frame `rise_mm` higher (negative: lower) above its axle.

    The frame's points move up by `rise_mm` and the axle stays: good for the few centimetres that sag is
    changed by; the pitch of the frame is left out.

    `request` holds the mapping that `squat` takes. Raises nothing. Source: elementary geometry.

    >>> swingarm_after_sag({"pivot_z_mm": 400, "front_sprocket_z_mm": 400}, 10)["pivot_z_mm"]
    410
    """
    return {
        **request,
        "pivot_z_mm": request["pivot_z_mm"] + rise_mm,
        "front_sprocket_z_mm": request["front_sprocket_z_mm"] + rise_mm,
    }
