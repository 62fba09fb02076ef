"""Shock stroke against wheel travel from the points of the rear linkage, closed exactly.

Side view, x forward, z up, rigid and without play. The points are drawn at any one attitude of the swingarm.
Where full extension is follows from the shock: it is the attitude at which the shock has its extended
length, the one stated, or else the one as drawn, so that points without a stated length are points at full
extension. Angles and lengths follow in closed form from the swingarm's angle: the rocker's rod eye is where
two circles meet, on the side on which it was drawn.

Vectors are complex numbers x + iz from the swingarm pivot: turning one multiplies it by e^{iθ}, and d/dθ by
i. Seen from what carries the rocker, only the other body turns: the swingarm by +θ about its pivot where the
frame carries the rocker, the frame by −θ where the swingarm does.

Sources: four-bar position analysis as in any book on mechanisms, e.g. Shigley and Uicker, Theory of Machines
and Mechanisms, ch. 2 (from memory); the derivatives are those of the closing equation. The tests hold them
against a force balance of every free body.

Numbered: [1] J. J. Uicker, G. R. Pennock and J. E. Shigley, Theory of Machines and Mechanisms, ch. 2, from memory.
[2] The sports machine's points: R. S. Sharp, S. Evangelou and D. J. N. Limebeer, Multibody System Dynamics 12 (2004),
as in Applied Sciences 10(19) 6826.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from calc.bands import Band
from calc.refusal import Problem, Refusal
from calc.words import mark, say

Array = NDArray[np.float64]
Points = NDArray[np.complex128]
Values = Array | float

_POINT = Band(mark("a coordinate of the linkage"), "mm", -2000, 2000)
BANDS: MappingProxyType[str, Band] = MappingProxyType(
    {
        "point_mm": _POINT,
        "shock_extended_mm": Band(mark("the shock's length at full extension"), "mm", 50, 1000),
        "rod_length_mm": Band(mark("the rod's length"), "mm", 1, 1000),
    }
)
"""What is accepted (common practice, no source)."""
POINTS = ("pivot_mm", "axle_mm", "shock_top_mm", "shock_foot_mm")
ROCKER_POINTS = ("pivot_mm", "rod_near_mm", "rod_far_mm")
CARRIERS = ("frame", "swingarm")

LEAST_LENGTH = 1e-3
LEAST_SINE = 1e-3
"""A rod nearer than this to the rocker's dead centre does not turn it."""
LEAST_MOTION = 1e-3
STEEPEST = 1.56
"""The swingarm is followed to this angle from level, rad; an upright one has no vertical travel left."""
LEAST_COSINE = 0.05
"""A swingarm drawn more upright than this is taken for axes that were swapped."""
LOOK = 2001
SECTIONS = 65
ROUNDS = 9


@dataclass(frozen=True)
class Rocker:
    """The rocker as drawn, from the swingarm pivot: where it turns (`pivot`), its two arms from there (`near` to the
    rod, `foot` to the shock), the rod's `far` eye and its length `rod`, all in one unit of length.

    `side` is +1 or −1, a number without a unit: on which side of the line to the far eye the near one lies;
    `on_swingarm` says what carries it. Source: [1].

    >>> Rocker(0j, 1 + 0j, 1j, 2 + 0j, 1.0, 1.0, False).rod
    1.0
    """

    pivot: complex
    near: complex
    foot: complex
    far: complex
    rod: float
    side: float
    on_swingarm: bool


@dataclass(frozen=True)
class Linkage:
    """A rear linkage; all points from the swingarm pivot as drawn, in one unit of length.

    `arm` is the axle; `top` the shock's end on the frame; `foot` its end on the swingarm where there is no
    `rocker`. `extended` is the shock's length at full extension, `drop` the axle's height there above the one
    drawn, `reach` the wheel travel from there up to which the mechanism closes and its shock keeps being
    compressed. Past the reach no position exists, and what the methods return means nothing.

    The fields `extended`, `drop` and `reach` are in the same unit of length as the points. Raises nothing. Source:
    [1].
    """

    arm: complex
    top: complex
    foot: complex
    rocker: Rocker | None
    extended: float = 0.0
    drop: float = 0.0
    reach: float = 0.0

    def stroke(self, travel: Values) -> Array:
        """Return the shock stroke at wheel travel `travel` (any shape, up to `reach`).

        The stroke is in the linkage's own unit. Raises nothing.

        The swingarm of 500 mm rises by 100 mm, its angle by asin 0.2: the foot, half way out, by 50 mm straight and a
        touch forward.

        >>> bare = linkage_from({"pivot_mm": [0, 0], "axle_mm": [-500, 0], "shock_top_mm": [-250, 300],
        ...     "shock_foot_mm": [-250, 0]})
        >>> round(float(bare.stroke(0.1)), 6), round(0.3 - float(np.hypot(0.25 - 0.25 * (1 - 0.04) ** 0.5, 0.25)), 6)
        (0.049949, 0.049949)
        """
        return self.motion(travel)[0]

    def motion(self, travel: Values) -> tuple[Array, Array, Array]:
        """Return the shock stroke s, the motion ratio ds/dz and d²s/dz² at `travel` (any shape, up to `reach`).

        >>> bare = linkage_from({"pivot_mm": [0, 0], "axle_mm": [-500, 0], "shock_top_mm": [-250, 300],
        ...     "shock_foot_mm": [-250, 0]})
        >>> [round(float(part), 3) for part in bare.motion([0.0, 0.1])[1]]
        [0.5, 0.498]
        """
        length, rate, change = self.shock(np.add(travel, self.drop))
        return self.extended - length, -rate, -change

    def _angle(self, rise: Array) -> tuple[Points, Array, Array]:
        """Return e^{iθ} of the swingarm at the axle's `rise` from where it was drawn, dθ/dz and d²θ/dz²."""
        height = self.arm.imag + rise
        across = np.copysign(np.sqrt(np.maximum(abs(self.arm) ** 2 - height**2, 0.0)), self.arm.real)
        return (across + 1j * height) / self.arm, 1 / across, height / across**3

    def shock(self, rise: Values) -> tuple[Array, Array, Array]:
        """Return the shock's length, and its first and second derivative by the axle's `rise` from the one drawn.

        `rise` has any shape; lengths are in the linkage's own unit.

        >>> bare = linkage_from({"pivot_mm": [0, 0], "axle_mm": [-500, 0], "shock_top_mm": [-250, 300],
        ...     "shock_foot_mm": [-250, 0]})
        >>> round(float(bare.shock(0.0)[0]), 9), round(float(bare.shock(0.0)[1]), 9)
        (0.3, -0.5)
        """
        turn, first, second = self._angle(np.asarray(rise, dtype=np.float64))
        rocker = self.rocker
        if rocker is None:
            foot = self.foot * turn
            shock, by_angle, bent = foot - self.top, 1j * foot, -foot
        else:
            if rocker.on_swingarm:
                turn, first, second = turn.conj(), -first, -second
            near, _ = _closed(rocker, rocker.far * turn)
            swing, swing2 = _swing(rocker, near, rocker.far * turn)
            foot = rocker.foot * near / rocker.near
            top = self.top * turn if rocker.on_swingarm else np.asarray(self.top)
            moving = 1.0 if rocker.on_swingarm else 0.0
            shock = rocker.pivot + foot - top
            by_angle = 1j * (foot * swing - top * moving)
            bent = 1j * foot * swing2 - foot * swing**2 + top * moving
        length = np.abs(shock)
        slope = _dot(shock, by_angle) / length
        curved = (np.abs(by_angle) ** 2 + _dot(shock, bent) - slope**2) / length
        return length, slope * first, curved * first**2 + slope * second

    def works(self, rise: Values) -> NDArray[np.bool_]:
        """Return whether the mechanism closes, and compresses its shock, at the axle's `rise` from the one drawn.

        An array of truths of the shape of `rise`, which is in the linkage's own unit.

        >>> bare = linkage_from({"pivot_mm": [0, 0], "axle_mm": [-500, 0], "shock_top_mm": [-250, 300],
        ...     "shock_foot_mm": [-250, 0]})
        >>> bare.works([-0.2, 0.2]).tolist()
        [True, True]
        """
        z = np.asarray(rise, dtype=np.float64)
        closed = np.abs(self.arm.imag + z) < abs(self.arm)
        if self.rocker is not None:
            turn = self._angle(z)[0]
            far = self.rocker.far * (turn.conj() if self.rocker.on_swingarm else turn)
            closed &= _closed(self.rocker, far)[1]
        length, rate, _ = self.shock(z)
        return closed & (length > LEAST_LENGTH * abs(self.arm)) & (-rate > LEAST_MOTION)


def _dot(one: Points, other: Points) -> Array:
    """Return the scalar product of vectors held as complex numbers."""
    return np.asarray((np.conj(one) * other).real)


def _closed(rocker: Rocker, far: Points) -> tuple[Points, NDArray[np.bool_]]:
    """Return the rod eye from the rocker's pivot where the rod's far eye is at `far`, and whether it reaches."""
    apart = far - rocker.pivot
    distance = np.abs(apart)
    arm = abs(rocker.near)
    cosine = (distance**2 + arm**2 - rocker.rod**2) / (2 * distance * arm)
    sine = np.sqrt(np.maximum(1 - cosine**2, 0.0))
    return arm * apart / distance * (cosine + 1j * rocker.side * sine), sine > LEAST_SINE


def _swing(rocker: Rocker, near: Points, far: Points) -> tuple[Array, Array]:
    """Return dα/dψ and d²α/dψ² of the rocker's angle by the far body's, from ½(|E|² − rod²) = 0.

    E is the rod, from its far eye to its near one; both eyes turn about fixed points.
    """
    rod = rocker.pivot + near - far
    by_rocker, by_far = _dot(rod, 1j * near), -_dot(rod, 1j * far)
    swing = -by_far / by_rocker
    twice_rocker = np.abs(near) ** 2 - _dot(rod, near)
    twice_far = np.abs(far) ** 2 + _dot(rod, far)
    mixed = -_dot(near, far)
    return swing, -(twice_rocker * swing**2 + 2 * mixed * swing + twice_far) / by_rocker


def linkage_from(leverage: Mapping[str, Any]) -> Linkage:
    """Return the linkage of a request whose numbers are in their bands, in metres.

    `pivot_mm` (swingarm), `axle_mm`, `shock_top_mm` (on the frame) and `shock_foot_mm`, each [x, z] in mm at
    one attitude; `rocker`, where there is one: `on` "frame" or "swingarm", `pivot_mm`, `rod_near_mm` (the rod's
    eye on the rocker), `rod_far_mm` (its eye on the swingarm, or on the frame where the swingarm carries the
    rocker), optional `rod_length_mm` where another rod is fitted than was drawn. The shock's foot is on
    the rocker, else on the swingarm. Optional `shock_extended_mm`, the shock's length at full extension;
    without it the shock is fully extended as drawn.

    Raises `Refusal`, fields named from here: points that coincide, a rocker at its dead centre, a shock that
    the rising wheel lengthens, a linkage that cannot close, a length that the shock cannot have.

    `leverage` is that mapping. Source: [1]; the example's points and its length of .313521 m are published [2].

    >>> points = {"pivot_mm": [-128.9, -111.6], "axle_mm": [-677.9, -175.4], "shock_top_mm": [-190.9, 16.4],
    ...     "shock_foot_mm": [-233.6, -294.2], "rocker": {"on": "frame", "pivot_mm": [-138.9, -284.6],
    ...     "rod_near_mm": [-183.3, -320.2], "rod_far_mm": [-305.7, -197.6]}}
    >>> round(linkage_from(points).extended, 6)
    0.313521
    """
    origin = _point(leverage["pivot_mm"])
    at = {name: _point(leverage[name]) - origin for name in POINTS[1:]}
    given = leverage.get("rocker")
    rocker = None if given is None else _rocker(given, origin, at["shock_foot_mm"])
    _meeting_points(at, rocker, given or {})
    drawn = Linkage(at["axle_mm"], at["shock_top_mm"], at["shock_foot_mm"], rocker)
    length = abs(at["shock_foot_mm"] - at["shock_top_mm"])
    stated = leverage.get("shock_extended_mm")
    return _extended(drawn, length if stated is None else stated / 1000, given or {}, stated)


def _point(pair: Any) -> complex:
    """Return a point in m."""
    return complex(pair[0], pair[1]) / 1000


def _rocker(given: Mapping[str, Any], origin: complex, foot: complex) -> Rocker:
    pivot, near, far = (_point(given[name]) - origin for name in ROCKER_POINTS)
    drawn = abs(near - far)
    stated = given.get("rod_length_mm")
    rod = drawn if stated is None else stated / 1000
    side = ((far - pivot).conjugate() * (near - pivot)).imag
    return Rocker(pivot, near - pivot, foot - pivot, far, rod, np.sign(side), given["on"] == "swingarm")


def _meeting_points(at: Mapping[str, complex], rocker: Rocker | None, given: Mapping[str, Any]) -> None:
    """Refuse points that coincide, and a rocker drawn at its dead centre."""
    lengths = [
        ("axle_mm", abs(at["axle_mm"]), say("The rear axle lies on the swingarm pivot")),
        ("shock_foot_mm", abs(at["shock_foot_mm"] - at["shock_top_mm"]), say(
            "The shock has no length: its ends meet",
        )),
    ]
    if rocker is None:
        lengths.append(("shock_foot_mm", abs(at["shock_foot_mm"]), say(
            "The shock's foot lies on the swingarm pivot",
        )))
    else:
        drawn = abs(rocker.pivot + rocker.near - rocker.far)
        lengths += [
            (
                "rocker.rod_far_mm",
                min(drawn, rocker.rod),
                say("The rod has no length: both its ends were read at the same point"),
            ),
            ("rocker.rod_near_mm", abs(rocker.near), say("The rod's eye lies on the rocker's pivot")),
            ("shock_foot_mm", abs(rocker.foot), say("The shock's foot lies on the rocker's pivot")),
            ("rocker.rod_far_mm", abs(rocker.far), say("The rod's far eye lies on the swingarm pivot")),
            ("rocker.rod_far_mm", abs(rocker.far - rocker.pivot), say(
                "The rod's far eye lies on the rocker's pivot",
            )),
        ]
    problems = [
        Problem(field, "points_meet", say("{text}; check the points, in mm.", text=text), 1000 * length, "mm")
        for field, length, text in lengths
        if length < LEAST_LENGTH
    ]
    if abs(at["axle_mm"].real) < abs(at["axle_mm"]) * LEAST_COSINE and not problems:
        text = say("The rear axle lies straight above or below the swingarm pivot: x points forward, z up.")
        problems.append(Problem("axle_mm", "swingarm_upright", text))
    if rocker is not None and not problems:
        sine = abs((rocker.near.conjugate() * (rocker.pivot + rocker.near - rocker.far)).imag)
        if sine < LEAST_SINE * abs(rocker.near) * abs(rocker.pivot + rocker.near - rocker.far):
            text = say("As drawn, the rod points straight at the rocker's pivot, so it cannot turn the rocker.")
            problems.append(Problem("rocker.rod_near_mm", "dead_centre", text))
    if problems:
        raise Refusal(*problems)


def _extended(drawn: Linkage, wanted: float, given: Mapping[str, Any], stated: float | None) -> Linkage:
    """Return the linkage with its full extension where the shock is `wanted` long, and its reach from there."""
    with np.errstate(divide="ignore", invalid="ignore"):
        low, high = _range(drawn)
        longest, shortest = (float(drawn.shock(rise)[0]) for rise in (low, high))
        touch = 1e-9 * longest
        if not shortest <= wanted <= longest + touch:
            text = say(
                "At full extension the shock would be {wanted:.4g} mm long, but the linkage only lets it be "
                "{shortest:.4g} to {longest:.4g} mm: measure it from eye to eye, topped out.",
                wanted=1000 * wanted, shortest=1000 * shortest, longest=1000 * longest,
            )
            field = "shock_foot_mm" if stated is None else "shock_extended_mm"
            value = 1000 * wanted if stated is None else stated
            raise Refusal(Problem(field, "out_of_reach", text, value, "mm", 1000 * shortest, 1000 * longest))
        drop = _last(lambda rise: drawn.shock(rise)[0] >= wanted - 1e-15, low, high)
        if stated is None and given.get("rod_length_mm") is None:
            drop = 0.0
        length = float(drawn.shock(drop)[0])
    return replace(drawn, extended=length, drop=drop, reach=high - drop)


def _range(drawn: Linkage) -> tuple[float, float]:
    """Return the axle's lowest and highest rise at which the mechanism works, around the one drawn."""
    if not drawn.works(0.0):
        raise Refusal(_cannot_work(drawn))
    each = abs(drawn.arm) * np.sin(np.linspace(-STEEPEST, STEEPEST, LOOK)) - drawn.arm.imag
    each = np.sort(np.append(each, 0.0))
    broken = each[~drawn.works(each)]
    low = float(np.max(broken, where=broken < 0, initial=each[0]))
    high = float(np.min(broken, where=broken > 0, initial=each[-1]))
    return -_last(lambda rise: drawn.works(-rise), 0.0, -low), _last(drawn.works, 0.0, high)


def _last(holds: Callable[[Array], NDArray[np.bool_]], low: float, high: float) -> float:
    """Return the last point from `low`, where `holds` is true, to `high` at which it still is; one change at most."""
    for _ in range(ROUNDS):
        each = np.linspace(low, high, SECTIONS)
        broken = np.flatnonzero(~holds(each))
        if not broken.size:
            return float(high)
        low, high = float(each[max(broken[0] - 1, 0)]), float(each[broken[0]])
    return low


def _cannot_work(drawn: Linkage) -> Problem:
    """Word why a linkage that is sound in its points does not work."""
    rocker = drawn.rocker
    if rocker is not None:
        apart = abs(rocker.far - rocker.pivot)
        low, high = 1000 * abs(apart - abs(rocker.near)), 1000 * (apart + abs(rocker.near))
        if not low < 1000 * rocker.rod < high:
            text = say(
                "The linkage cannot close with a rod of {rod:g} mm: with the swingarm as drawn it takes one "
                "between {low:.4g} and {high:.4g} mm: was it read from eye to eye?",
                rod=1000 * rocker.rod, low=low, high=high,
            )
            return Problem("rocker.rod_length_mm", "cannot_close", text, 1000 * rocker.rod, "mm", low, high)
    text = say(
        "As drawn the shock gets no shorter as the wheel rises: check that x points forward and z up, and which "
        "end of the shock is which.",
    )
    return Problem("shock_foot_mm", "shock_extends", text)
