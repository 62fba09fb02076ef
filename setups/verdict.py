"""The verdict on one end: whether its spring suits this rider, in one sentence of the trade's words.

The rules are the trade's (common practice, no source): rider sag right but static sag too small, the spring
is too soft and lives on preload; too large, it is too stiff; rider sag out but static sag right once it is
set, only the preload is wrong. "Set" is tried at both edges of the rider-sag band: less preload gives more of
both sags.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import chain
from typing import Literal

from calc import printed
from calc.words import say
from setups.measured import Band, Targets

Code = Literal["suits", "too_soft", "too_stiff", "wind_preload", "back_off_preload", "unknown"]
Action = Literal["change_spring", "set_preload", "none", "measure"]

TOUCH_MM = printed.FINE_MM
"""A sag this little outside of its band is on its edge: preload is set no finer."""


@dataclass(frozen=True)
class Verdict:
    """What to say of one end, and what to do."""

    code: Code
    text: str
    action: Action

    def as_dict(self) -> dict[str, str]:
        """Return the verdict as the plain mapping that the API answers."""
        return {"code": self.code, "text": self.text, "action": self.action}


@dataclass(frozen=True)
class Reached:
    """What setting the preload does: its change in mm, and the two sags that come of it."""

    preload_change_mm: float
    static_mm: float
    rider_mm: float


Reach = Callable[[float], Reached | None]
"""From a wanted rider sag (mm) to what comes nearest to it by preload alone; None where that is not known."""


@dataclass(frozen=True)
class Sags:
    """The two sags of one end in mm (None: not known), and whether they were measured or computed."""

    static_mm: float | None
    rider_mm: float | None
    measured: bool


@dataclass(frozen=True)
class Adjuster:
    """The present preload in mm (of one leg or shock) and the range it can be set in."""

    preload_mm: float
    limits_mm: Sequence[float] | None

    def stops_short(self, change_mm: float) -> float | None:
        """Return the end of the range in mm that a change of preload would run into, or None."""
        if self.limits_mm is None:
            return None
        wanted = self.preload_mm + change_mm
        if wanted > self.limits_mm[1] + 0.5:
            return self.limits_mm[1]
        return self.limits_mm[0] if wanted < self.limits_mm[0] - 0.5 else None


def hedged(verdict: Verdict, doubts: Sequence[str]) -> Verdict:
    """Return the verdict with what it cannot be trusted beyond, in the same sentence."""
    said = (say("; but "), say("; and "))
    text = verdict.text.removesuffix(".") + "".join(said[min(i, 1)] + doubt for i, doubt in enumerate(doubts))
    return Verdict(verdict.code, f"{text}.", verdict.action) if doubts else verdict


def judge(end: str, sags: Sags, targets: Targets | None, reach: Reach, adjuster: Adjuster | None = None) -> Verdict:
    """Return the verdict on `end` ("front" or "rear") for its two sags and the bands aimed at."""
    what = say("fork springs") if end == "front" else say("shock spring")
    if sags.rider_mm is None and sags.static_mm is None:
        text = say("No verdict on the {what} yet: read the sags, or give loads and springs.", what=what)
        return Verdict("unknown", text, "measure")
    if targets is None:
        text = say("No verdict on the {what} yet: {had}, but no sag bands are set.", what=what, had=_had(sags))
        return Verdict("unknown", text, "measure")
    if sags.rider_mm is None:
        return Verdict(
            "unknown",
            say("No verdict on the {what} yet: {had}, but the rider sag is not known.", what=what, had=_had(sags)),
            "measure",
        )
    if sags.static_mm is None:
        return _rider_only(what, sags.rider_mm, targets)
    return _both(end, what, sags, targets, reach, adjuster)


def _both(end: str, what: str, sags: Sags, targets: Targets, reach: Reach, adjuster: Adjuster | None) -> Verdict:
    # Judged to a tenth: a sag must not read "under 30 mm" for what no tape tells.
    static, rider = round(sags.static_mm or 0.0, 1), round(sags.rider_mm or 0.0, 1)
    if targets.rider.holds(rider):
        return _rider_right(end, what, static, rider, targets)
    slack, tight = reach(targets.rider.high), reach(targets.rider.low)
    too_much = rider > targets.rider.high
    told = {"mm": _mm(rider, targets.rider), "band": _band(targets.rider)}
    fault = say("rider sag {mm} is over {band}", **told) if too_much else say("rider sag {mm} is under {band}", **told)
    if slack is None or tight is None:
        return _unsure(what, fault, static, targets)
    if tight.rider_mm > targets.rider.high + TOUCH_MM or slack.rider_mm < targets.rider.low - TOUCH_MM:
        code: Code = "too_soft" if too_much else "too_stiff"
        how = (
            say("even with all the preload wound on") if too_much else say("even with the preload backed right off")
        )
        cure = _fit(end, stiffer=too_much)
        text = say(
            "The {what} {are} too {soft}: {fault}, {how}; {cure}.",
            what=what, are=_are(end), soft=_soft(code), fault=fault, how=how, cure=cure,
        )
        return Verdict(code, text, "change_spring")
    if slack.static_mm < targets.static.low - TOUCH_MM:
        return _cannot(end, what, "too_soft", fault, slack, targets)
    if tight.static_mm > targets.static.high + TOUCH_MM:
        return _cannot(end, what, "too_stiff", fault, tight, targets)
    return _set_preload(what, fault, targets, reach, (slack, tight), adjuster)


def _unsure(what: str, fault: str, static: float, targets: Targets) -> Verdict:
    text = say(
        "No verdict on the {what} yet: {fault} and static sag {mm} is read against {band}, but without loads, "
        "springs and leverage nobody can tell whether preload cures it.",
        what=what, fault=fault, mm=_mm(static, targets.static), band=_band(targets.static),
    )
    return Verdict("unknown", text, "measure")


def _rider_right(end: str, what: str, static: float, rider: float, targets: Targets) -> Verdict:
    suit = say("suit") if end == "front" else say("suits")
    right = say("rider sag {mm} is right ({band})", mm=_mm(rider, targets.rider), band=_band(targets.rider))
    if targets.static.holds(static):
        text = say(
            "The {what} {suit} this rider: rider sag {mm} and static sag {mm2} are both in band ({band} and "
            "{band2}).",
            what=what,
            suit=suit,
            mm=_mm(rider, targets.rider),
            mm2=_mm(static, targets.static),
            band=_band(targets.rider),
            band2=_band(targets.static),
        )
        return Verdict("suits", text, "none")
    if static < targets.static.low:
        text = say(
            "The {what} {are} too soft and living on preload: {right}, but static sag {mm} is under {band}; "
            "{fit} with less preload.",
            what=what, are=_are(end), right=right, mm=_mm(static, targets.static), band=_band(targets.static),
            fit=_fit(end, stiffer=True),
        )
        return Verdict("too_soft", text, "change_spring")
    text = say(
        "The {what} {are} too stiff: {right}, but static sag {mm} is over {band}; {fit} with more preload.",
        what=what, are=_are(end), right=right, mm=_mm(static, targets.static), band=_band(targets.static),
        fit=_fit(end, stiffer=False),
    )
    return Verdict("too_stiff", text, "change_spring")


def _cannot(end: str, what: str, code: Code, fault: str, reached: Reached, targets: Targets) -> Verdict:
    mm = _mm(reached.static_mm, targets.static)
    side = say("only {mm}", mm=mm) if code == "too_soft" else say("still {mm}", mm=mm)
    cure = _fit(end, stiffer=code == "too_soft")
    wound = reached.preload_change_mm > 0
    turn = say("wound on") if wound else say("backed off")
    # A soft spring with too little rider sag, or a stiff one with too much, sounds wrong without its cause.
    cause = ""
    if wound != (code == "too_soft"):
        cause = say(" with too little preload") if wound else say(" and held up by preload")
    text = say(
        "The {what} {are} too {soft}{cause}: {fault}, and with preload {turn} to bring it in, static sag would "
        "be {side} ({band} wanted); {cure}.",
        what=what,
        are=_are(end),
        soft=_soft(code),
        cause=cause,
        fault=fault,
        turn=turn,
        side=side,
        band=_band(targets.static),
        cure=cure,
    )
    return Verdict(code, text, "change_spring")


def _set_preload(
    what: str,
    fault: str,
    targets: Targets,
    reach: Reach,
    edges: tuple[Reached, Reached],
    adjuster: Adjuster | None,
) -> Verdict:
    best = _aim(targets, reach, edges)
    change = best.preload_change_mm
    code: Code = "wind_preload" if change > 0 else "back_off_preload"
    act = say("wind on {mm}", mm=_preload(change)) if change > 0 else say("back off {mm}", mm=_preload(-change))
    text = say(
        "The rate of the {what} is right, the preload is not: {fault}; {act} of preload, and static sag comes to "
        "{mm} ({band} wanted)",
        what=what, fault=fault, act=act, mm=_mm(best.static_mm, targets.static), band=_band(targets.static),
    )
    end = adjuster.stops_short(change) if adjuster is not None else None
    if end is not None:
        text += say("; the adjuster ends at {mm:g} mm, so change the spacer or collar", mm=end)
    return Verdict(code, text + ".", "set_preload")


def _aim(targets: Targets, reach: Reach, edges: tuple[Reached, Reached]) -> Reached:
    """Return the setting nearest the middle of the rider-sag band whose static sag is in band too."""
    low, high = targets.rider.low, targets.rider.high
    # Each is worked out only where none before it will do: under a dragging hand this is asked many times a second.
    tried = (reach(low + (high - low) * part) for part in (0.5, 0.375, 0.625, 0.25, 0.75, 0.125, 0.875))
    for found in chain(tried, edges):
        if found is not None and targets.static.holds(round(found.static_mm, 1)):
            return found
    return min(edges, key=lambda edge: abs(edge.static_mm - (targets.static.low + targets.static.high) / 2))


def _rider_only(what: str, rider: float, targets: Targets) -> Verdict:
    told = {"mm": _mm(rider, targets.rider), "band": _band(targets.rider)}
    if targets.rider.holds(rider):
        fault = say("rider sag {mm} is in band ({band})", **told)
    elif rider > targets.rider.high:
        fault = say("rider sag {mm} is over {band}", **told)
    else:
        fault = say("rider sag {mm} is under {band}", **told)
    text = say(
        "No verdict on the {what} yet: {fault}; read the static sag to tell rate from preload.",
        what=what, fault=fault,
    )
    return Verdict("unknown", text, "measure")


def _had(sags: Sags) -> str:
    parts = [
        say("{name} sag reads {mm}", name=say(name), mm=_mm(value))
        if sags.measured
        else say("{name} sag comes to {mm}", name=say(name), mm=_mm(value))
        for name, value in (("static", sags.static_mm), ("rider", sags.rider_mm))
        if value is not None
    ]
    return say(" and ").join(parts)


def _mm(value: float, band: Band | None = None) -> str:
    """Write a sag beside the band that it is told against."""
    return f"{printed.sag(value, None if band is None else (band.low, band.high))} mm"


def _preload(value: float) -> str:
    return f"{printed.preload(value)} mm"


def _band(band: Band) -> str:
    return say("{low:.4g} to {high:.4g} mm", low=band.low, high=band.high)


def _are(end: str) -> str:
    return say("are") if end == "front" else say("is")


def _fit(end: str, *, stiffer: bool) -> str:
    if end == "front":
        return say("fit stiffer springs") if stiffer else say("fit softer springs")
    return say("fit a stiffer spring") if stiffer else say("fit a softer spring")


def _soft(code: Code) -> str:
    return say("soft") if code == "too_soft" else say("stiff")
