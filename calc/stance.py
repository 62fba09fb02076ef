"""How a bike stands on its sags, worked out exactly, and its side view to scale.

The frame is rigid: the front axle slides along the fork, the rear axle swings about the swingarm's pivot, and both
wheels stand on the ground. Ground frame: x forward, z up, the origin under the rear axle; millimetres. Elementary
plane geometry; for small changes it is what `calc.chassis.attitude` gives. The loaded radii are taken as unchanged.

Sources: [1] elementary plane geometry, two circles on a line; trail as in V. Cossalter, Motorcycle Dynamics, ch. 1
(from memory). [2] ISO 606, the pitch circle of a chain's sprocket (from memory).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import asin, atan2, cos, degrees, hypot, pi, radians, sin, sqrt
from typing import Any

import numpy as np

from calc.chassis import trail_mm
from calc.drawing import SIZE, WIDTH, coordinate, curve, segment, words_at, wrap
from calc.words import say

Point = tuple[float, float]
HEAD = 3.0
"""How high the steering head is drawn, in front wheel radii: where the lines end is not the bike's."""
MARGIN = 16
LINE = 30
PATTERNS: Mapping[str, str] = {"received": "13 8", "chosen": "", "built": "16 5 3 5"}


@dataclass(frozen=True)
class Stance:
    """A bike on its wheels: angles, lengths, and the points that its side view is drawn from.

    `pitch_deg` (nose up positive) and `rake_deg` in degrees, `trail_mm` and `wheelbase_mm` in mm. Points
    in the ground frame: `rear_axle` (x, z) in mm, `front_axle` (x, z) in mm, `axis_foot` (x, z) in mm, where the
    steering axis passes the front axle at the offset, `head` (x, z) in mm, where its line is ended, and `pivot` (x, z)
    in mm, the swingarm's. `swingarm` is False (without a unit) where the pivot is not known and only stands for the
    frame. Raises nothing. Source: [1].

    >>> Stance(0, 26, 100, 1480, (0, 330), (1480, 340), (1460, 330), (1300, 900), (500, 400), True).wheelbase_mm
    1480
    """

    pitch_deg: float
    rake_deg: float
    trail_mm: float
    wheelbase_mm: float
    rear_axle: Point
    front_axle: Point
    axis_foot: Point
    head: Point
    pivot: Point
    swingarm: bool


def stance(geometry: Mapping[str, Any], front_mm: float, rear_mm: float) -> Stance:
    """Return how the bike stands once its front has gone in by `front_mm` more (along the fork) and its rear by
    `rear_mm` more (vertical, axle against frame) than where `geometry` was measured.

    `geometry`: `wheelbase_mm`, `rake_deg`, `offset_mm`, `wheel_radius_mm` (front, loaded), `rear_radius_mm`, and, if
    known, `pivot_x_mm` and `pivot_z_mm`, the swingarm's pivot ahead of the rear axle and above the ground. Without
    them the rear axle moves straight up. `pitch_deg` counts from there, nose up positive. Raises ValueError where the
    swingarm cannot swing so far. Source: [1].

    >>> bike = {"wheelbase_mm": 1480, "rake_deg": 26, "wheel_radius_mm": 340, "rear_radius_mm": 330, "offset_mm": 22}
    >>> lower = stance(bike, 0, 20)
    >>> round(lower.pitch_deg, 2), round(lower.trail_mm - stance(bike, 0, 0).trail_mm, 1)
    (0.77, 5.6)
    """
    rake = radians(geometry["rake_deg"])
    along, across = (-sin(rake), cos(rake)), (cos(rake), sin(rake))
    front, rear = geometry["wheel_radius_mm"], geometry["rear_radius_mm"]
    start = (geometry["wheelbase_mm"], front)
    axle = (start[0] + front_mm * along[0], start[1] + front_mm * along[1])
    back = _swung(geometry, rear, rear_mm)
    apart = (axle[0] - back[0], axle[1] - back[1])
    turn = asin((front - rear) / hypot(*apart)) - atan2(apart[1], apart[0])

    def grounded(point: Point) -> Point:
        x, z = point[0] - back[0], point[1] - back[1]
        return x * cos(turn) - z * sin(turn), x * sin(turn) + z * cos(turn) + rear

    offset, reach = geometry["offset_mm"], (HEAD - 1) * front / cos(rake)
    foot = (axle[0] - offset * across[0], axle[1] - offset * across[1])
    top = (start[0] - offset * across[0] + reach * along[0], start[1] - offset * across[1] + reach * along[1])
    known = geometry.get("pivot_x_mm") is not None
    pivot = (geometry["pivot_x_mm"], geometry["pivot_z_mm"]) if known else (0.0, rear + front)
    new_rake = degrees(rake + turn)
    return Stance(
        pitch_deg=degrees(turn),
        rake_deg=new_rake,
        trail_mm=trail_mm(rake_deg=new_rake, wheel_radius_mm=front, offset_mm=offset),
        wheelbase_mm=grounded(axle)[0],
        rear_axle=(0.0, rear),
        front_axle=grounded(axle),
        axis_foot=grounded(foot),
        head=grounded(top),
        pivot=grounded(pivot),
        swingarm=known,
    )


def _swung(geometry: Mapping[str, Any], rear: float, rear_mm: float) -> Point:
    """Return the rear axle in the frame as measured, `rear_mm` further up."""
    if geometry.get("pivot_x_mm") is None:
        return 0.0, rear + rear_mm
    x, z = geometry["pivot_x_mm"], geometry["pivot_z_mm"]
    length, rise = hypot(x, z - rear), rear + rear_mm - z
    if abs(rise) >= length:
        text = say("a swingarm of {length:.0f} mm cannot swing by {rear_mm:.0f} mm", length=length, rear_mm=rear_mm)
        raise ValueError(text)
    return x - sqrt(length**2 - rise**2), rear + rear_mm


def pitch_radius_mm(teeth: int, pitch_mm: float) -> float:
    """Return a sprocket's pitch radius in mm: p/(2 sin(π/N)), the chain's pins on a circle (ISO 606).

    `teeth` at least 5, `pitch_mm` the chain's pitch in mm. Raises nothing for what was checked. Source: [2].

    >>> round(pitch_radius_mm(6, 15.875), 3)  # a hexagon's corner is as far out as its side is long
    15.875
    """
    return pitch_mm / (2 * sin(pi / teeth))


def side_view(geometry: Mapping[str, Any], stands: Sequence[tuple[str, str, Stance]]) -> str:
    """Return the side view (SVG) of `stands`, each (role, label, stance), to one scale, told apart by line pattern.

    Roles are received, chosen and built. Wheels, wheelbase, rake, offset and pivot are to scale; where the lines end
    is not the bike's. No pixel means anything beyond that. `geometry` is as `stance` takes it, `stands` may hold one
    to three. Raises KeyError for another role. Source: [1].

    >>> bike = {"wheelbase_mm": 1480, "rake_deg": 26, "wheel_radius_mm": 340, "rear_radius_mm": 330, "offset_mm": 22}
    >>> svg = side_view(bike, [("received", "as received", stance(bike, 0, 0))])
    >>> svg.count("<circle"), "trail 141 mm" in svg
    (2, True)
    """
    front, rear = geometry["wheel_radius_mm"], geometry["rear_radius_mm"]
    longest = max(each.wheelbase_mm for _, _, each in stands) + front + rear
    scale = (WIDTH - 2 * MARGIN) / longest
    tallest = max(max(each.head[1], 2 * front, 2 * rear) for _, _, each in stands)
    top = MARGIN + LINE * len(stands) + 10
    ground = top + tallest * scale

    def at(point: Point) -> list[float]:
        return [MARGIN + (rear + point[0]) * scale, ground - point[1] * scale]

    body = [segment("axis", (MARGIN, ground), (WIDTH - MARGIN, ground), 2)]
    told = []
    for place, (role, label, each) in enumerate(stands):
        dashes = PATTERNS[role]
        for axle, radius in ((each.rear_axle, rear), (each.front_axle, front)):
            body.append(_ring(at(axle), radius * scale, dashes))
        lines = [[each.front_axle, each.axis_foot, each.head, each.pivot]]
        lines += [[each.pivot, each.rear_axle]] if each.swingarm else []
        body += [curve("trace", np.array([at(point) for point in line]), 3, dashes) for line in lines]
        y = MARGIN + LINE * (place + 0.7)
        words = say(
            "{label}: rake {rake_deg:.1f}°, trail {trail_mm:.0f} mm, wheelbase {wheelbase_mm:.0f} mm",
            label=label, rake_deg=each.rake_deg, trail_mm=each.trail_mm, wheelbase_mm=each.wheelbase_mm,
        )
        body.append(segment("sample", (MARGIN, y - 7), (MARGIN + 60, y - 7), 3, dashes))
        body.append(words_at("label", MARGIN + 70, y, words, SIZE * 0.9))
        told.append(say("{words}, pitch {pitch_deg:+.1f}°", words=words, pitch_deg=each.pitch_deg))
    described = say(
        "{told}. Wheels, wheelbase, rake and pivot to scale; where the lines end is not the bike's.",
        told="; ".join(told),
    )
    title = say("The bike from the side")
    return wrap(title, described, "\n".join(body), int(ground) + MARGIN, "both", {"scale": scale})


def _ring(centre: Sequence[float], radius: float, dashes: str) -> str:
    pattern = f' stroke-dasharray="{dashes}"' if dashes else ""
    return (
        f'<circle class="pic-trace" cx="{coordinate(centre[0])}" cy="{coordinate(centre[1])}"'
        f' r="{coordinate(radius)}" fill="none" stroke="#000" stroke-width="2.5"{pattern}/>'
    )
