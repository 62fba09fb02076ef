"""An axle's loads three ways: scales, a rider's mass and its share, and the sags themselves.

With known springs, preload and leverage the bike is its own scale: the springs' force at a sag is the load.
Where two ways are given they are held against each other, and what would explain a difference is ranked.

Sources: [1] JCGM 100:2008, eq. 10 and 5.1.2 (from memory). [2] Elementary statics: the force of a spring at a sag is
the load. The usual uncertainties are common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from calc.asking import end_asked, travel_of
from calc.bands import BANDS, Band, after
from calc.checks import Findings, check_front, check_rear
from calc.evaluate import rounded
from calc.gas import STANDARD_GRAVITY
from calc.origins import Input, inputs_of
from calc.refusal import Note, Problem
from calc.uncertainty import check_sources
from calc.varied import varied
from calc.words import capital, mark, say

Array = NDArray[np.float64]

STATES = ("static", "rider")
READING = {"static": mark("the bike alone"), "rider": mark("the rider on")}
SCALE_U_KG = 0.6
RIDER_U_KG = 1.0
SHARE_U = 0.05
SAG_U_MM = 1.0
AGREES = 2.0
CONTRADICTS = 4.0
MOST_LIKELY = 5

LOAD_BANDS: MappingProxyType[str, Band] = MappingProxyType(
    {
        "scales.u_kg": Band(mark("the scale's standard uncertainty"), "kg", 0, 20),
        "rider.alone_kg": Band(mark("the axle load of the bike alone"), "kg", 0, 400, open_low=True),
        "rider.mass_kg": BANDS["person.mass_kg"],
        "rider.share": Band(mark("the share of the rider's mass on this axle"), "", 0, 1),
        "rider.u_kg": Band(mark("the standard uncertainty of the rider's mass"), "kg", 0, 20),
        "rider.share_u": Band(mark("the standard uncertainty of the share"), "", 0, 0.5),
        "sags.static_sag_mm": Band(mark("the static sag read"), "mm", 0, 500, open_low=True),
        "sags.rider_sag_mm": Band(mark("the rider sag read"), "mm", 0, 500, open_low=True),
        "sags.u_mm": Band(mark("the standard uncertainty of a sag"), "mm", 0, 20),
    }
)
WAYS = ("scales", "rider", "sags")
_NAMES = {"scales": mark("the scales"), "rider": mark("the rider's mass and share"), "sags": mark("the sags")}


@dataclass(frozen=True)
class Cause:
    """One thing that may be off: what it `adds` to each state's load (kg, shape (2,)) per standard uncertainty `u`.

    `code` and `words` name it, `unit` is that of `u` and of `value`, which was stated, None where no one number was.
    `u` is in that own unit. Source: [1].

    >>> Cause("scale", "the scale's zero", "kg", 0.5, np.full(2, 0.5)).adds.tolist()
    [0.5, 0.5]
    """

    code: str
    words: str
    unit: str
    u: float
    adds: Array
    value: float | None = None


@dataclass(frozen=True)
class Way:
    """The loads as one way gives them: its `name`, `load` (kg, shape (2,): static and rider, NaN where not told).

    `noise` (kg, the same shape) is the standard uncertainty of each reading on its own, `causes` what moves both
    together. Source: [1].

    >>> zero = Cause("scale", "the scale's zero", "kg", 3.0, np.full(2, 3.0))
    >>> Way("scales", np.array([57.0, 112.0]), np.full(2, 4.0), (zero,)).u.tolist()  # √(3² + 4²)
    [5.0, 5.0]
    """

    name: str
    load: Array
    noise: Array
    causes: tuple[Cause, ...]

    @property
    def u(self) -> Array:
        """The combined standard uncertainty of each load (JCGM 100:2008, equation 10, from memory)."""
        return np.asarray(np.sqrt(self.noise**2 + sum((cause.adds**2 for cause in self.causes), np.zeros(2))))


def loads(request: Mapping[str, Any]) -> dict[str, Any]:
    """Return an axle's loads, kg with the unsprung mass, each way that is given, and how they agree.

    `request` holds one end as in `evaluate`, its own loads left out (springs, preload and leverage are needed
    for the sags only, but always checked), `sources` as in `uncertainty`, and any of
    `scales`: `static_kg`, `rider_kg` (either), `u_kg` (0.6, each reading's own standard uncertainty);
    `rider`: `mass_kg`, `share` of it on this axle (0 to 1), `alone_kg` (else the scales' static load), `u_kg`
    (1), `share_u` (0.05); `sags`: `static_sag_mm`, `rider_sag_mm` (either; along the fork in front, vertical
    behind), `u_mm` (1). A sag's load is `N(sag)/g` plus the unsprung mass.

    Two ways agree within twice the standard uncertainty of their difference and contradict each other beyond
    four times it. `causes` ranks what alone would explain it: the change of each that fits both states best,
    given how sure it was (least squares with the stated uncertainties as weights, JCGM 100:2008, from memory), the most
    likely first. Raises `Refusal`.

    Source: [1], [2].

    The sag read is that of 112 kg: ((112 − 22)·9.80665·2.5 − 52·7)/52·2.5 mm.

    >>> rear = {"wheel_travel_mm": 300, "unsprung_kg": 22, "leverage": {"kind": "ratio", "wheel_per_shock": 2.5},
    ...     "preload_mm": 7, "spring": {"kind": "straight", "rate_n_per_mm": 52}}
    >>> sag = ((112 - 22) * 9.80665 * 2.5 - 52 * 7) / 52 * 2.5
    >>> found = loads({"rear": rear, "sags": {"rider_sag_mm": sag}, "scales": {"rider_kg": 113}})
    >>> found["ways"]["sags"]["rider_kg"], found["compared"][0]["verdict"]
    (112.0, 'agree')
    """
    name = _check(request)
    given = {**request[name], **_placeholder(request[name])}
    ways = list(_ways(request, given, name))
    return {
        "ways": {way.name: _told(way) for way in ways},
        "best": _best(ways),
        "compared": [_compared(*pair) for pair in combinations(ways, 2) if _both(*pair).any()],
        "notes": [note.as_dict() for note in _notes(request, given, name, ways)],
    }


def _placeholder(end: Mapping[str, Any]) -> dict[str, float]:
    """Return loads to stand in for those that are asked for."""
    unsprung = end.get("unsprung_kg")
    bare = float(unsprung) if isinstance(unsprung, int | float) else 0.0
    return {"load_static_kg": bare + 1.0, "load_rider_kg": bare + 2.0}


def _check(request: Mapping[str, Any]) -> str:
    findings = Findings()
    name = end_asked(findings, request)
    end = {**request[name], **_placeholder(request[name])}
    (check_front if name == "front" else check_rear)(findings, end, name)
    check_sources(findings, request.get("sources") or {}, name)
    for key, band in LOAD_BANDS.items():
        way, field = key.split(".")
        if (request.get(way) or {}).get(field) is not None:
            findings.number(request[way], field, way, band)
    _check_scales(findings, request.get("scales"), name)
    _check_rider(findings, request)
    _check_sags(findings, request.get("sags"), travel_of(end, name))
    if all(request.get(way) is None for way in WAYS):
        findings.add("", "missing", say("Give the loads at least one way: scales, the rider's mass, or the sags."))
    findings.raise_any()
    return name


def _check_scales(findings: Findings, scales: Mapping[str, Any] | None, name: str) -> None:
    if scales is None:
        return
    read = [
        None
        if scales.get(f"{state}_kg") is None
        else findings.number(scales, f"{state}_kg", "scales", BANDS[f"{name}.load_{state}_kg"])
        for state in STATES
    ]
    if all(scales.get(f"{state}_kg") is None for state in STATES):
        findings.add(
            "scales.static_kg", "missing", say(
                "No scale reading is given: give the bike alone, the rider on, or both.",
            )
        )
    if read[0] is not None and read[1] is not None and read[1] <= read[0]:
        text = say(
            "The load with the rider, {read:g} kg, is not above that of the bike alone, {read2:g} kg: swapped?",
            read=read[1], read2=read[0],
        )
        findings.problems.append(Problem("scales.rider_kg", "rider_load_below_static", text, read[1], "kg", read[0]))


def _check_rider(findings: Findings, request: Mapping[str, Any]) -> None:
    rider = request.get("rider")
    if rider is None:
        return
    for field in ("mass_kg", "share"):
        if rider.get(field) is None:
            findings.number(rider, field, "rider", LOAD_BANDS[f"rider.{field}"])
    if rider.get("alone_kg") is None and (request.get("scales") or {}).get("static_kg") is None:
        text = say(
            "The rider's part comes on top of the axle load of the bike alone: give it here or on the scales.",
        )
        findings.add("rider.alone_kg", "missing", text)


def _check_sags(findings: Findings, sags: Mapping[str, Any] | None, travel: Any) -> None:
    if sags is None:
        return
    static, rider = (sags.get(f"{state}_sag_mm") for state in STATES)
    if static is None and rider is None:
        findings.add("sags.static_sag_mm", "missing", say(
            "No sag is given: give the static sag, the rider sag, or both.",
        ))
    if isinstance(static, int | float) and isinstance(rider, int | float) and rider <= static:
        text = say(
            "The rider sag, {rider:g} mm, is not above the static sag, {static:g} mm: are the two swapped?",
            rider=rider, static=static,
        )
        findings.problems.append(Problem("sags.rider_sag_mm", "rider_not_above_static", text, rider, "mm", static))
    for state, sag in zip(STATES, (static, rider), strict=True):
        if isinstance(sag, int | float) and isinstance(travel, int | float) and sag >= travel:
            text = say(
                "{sag:g} mm of sag is not inside the travel of {travel:g} mm: on its stop a bike is no scale.",
                sag=sag, travel=travel,
            )
            findings.problems.append(Problem(f"sags.{state}_sag_mm", "past_travel", text, sag, "mm", 0, travel))


def _ways(request: Mapping[str, Any], given: Mapping[str, Any], name: str) -> Iterator[Way]:
    """Yield each way that the request gives."""
    scales, rider, sags = (request.get(way) for way in WAYS)
    if scales is not None:
        yield _by_scales(scales)
    if rider is not None:
        yield _by_rider(rider, scales or {})
    if sags is not None:
        yield _by_sags(sags, given, name, inputs_of(given, name, request.get("sources") or {}))


def _by_scales(scales: Mapping[str, Any]) -> Way:
    u = scales.get("u_kg")
    each = SCALE_U_KG if u is None else u
    read = np.array([np.nan if scales.get(f"{state}_kg") is None else scales[f"{state}_kg"] for state in STATES])
    # Half of the scale's variance is taken as its own zero, common to both readings.
    part = each / math.sqrt(2)
    zero = Cause("scale", say("the scale's zero"), "kg", part, np.full(2, part))
    return Way("scales", read, np.full(2, part), (zero,))


def _by_rider(rider: Mapping[str, Any], scales: Mapping[str, Any]) -> Way:
    mass, share = rider["mass_kg"], rider["share"]
    mass_u = RIDER_U_KG if rider.get("u_kg") is None else rider["u_kg"]
    share_u = SHARE_U if rider.get("share_u") is None else rider["share_u"]
    own = rider.get("alone_kg")
    alone = scales["static_kg"] if own is None else own
    alone_u = SCALE_U_KG if own is not None or scales.get("u_kg") is None else scales["u_kg"]
    causes = (
        Cause("share", say("the share on this axle"), "", share_u, np.array([0.0, mass * share_u]), share),
        Cause("rider_mass", say("the rider's mass"), "kg", mass_u, np.array([0.0, share * mass_u]), mass),
    )
    static = np.nan if own is None else alone
    return Way("rider", np.array([static, alone + share * mass]), np.full(2, alone_u), causes)


def _by_sags(sags: Mapping[str, Any], given: Mapping[str, Any], name: str, inputs: Sequence[Input]) -> Way:
    """Return the loads that the springs carry at the sags, and how each input of the end moves them."""
    used = [each for each in inputs if not each.field.startswith(("load_", "friction_"))]
    count = len(used)
    errors = {}
    for index, each in enumerate(used):
        steps = np.zeros(1 + 2 * count)
        steps[1 + index], steps[1 + count + index] = each.u, -each.u
        errors[each.field] = steps
    end = varied(given, name, errors)
    u_mm = SAG_U_MM if sags.get("u_mm") is None else sags["u_mm"]
    load, noise, adds = np.full(2, np.nan), np.full(2, np.nan), np.zeros((count, 2))
    for index, state in enumerate(STATES):
        sag = sags.get(f"{state}_sag_mm")
        if sag is None:
            continue
        force, slope = (np.broadcast_to(part, (1 + 2 * count,)) for part in end.load_at(sag / 1000))
        kg = force / STANDARD_GRAVITY + given["unsprung_kg"] + errors["unsprung_kg"]
        load[index] = kg[0]
        noise[index] = abs(slope[0]) / STANDARD_GRAVITY * u_mm / 1000
        adds[:, index] = (kg[1 : 1 + count] - kg[1 + count :]) / 2
    causes = [
        Cause(
            each.field, say(each.quantity.what), each.quantity.unit, each.u, adds[index],
            _stated(given, name, each.field),
        )
        for index, each in enumerate(used)
    ]
    # Friction holds both sags off to the same side where both were settled the same way.
    part = noise / math.sqrt(2)
    friction = Cause("friction", say("friction in the sags"), "mm", u_mm / math.sqrt(2), np.nan_to_num(part))
    return Way("sags", load, part, (*causes, friction))


def _stated(given: Mapping[str, Any], name: str, field: str) -> float | None:
    """Return the one number that was stated for a field; None where there are several or none."""
    holders = [given] if name == "rear" else [given, *(leg for leg in given["legs"] if leg.get("spring") is not None)]
    found = {holder[field] for holder in holders if isinstance(holder.get(field), int | float)}
    if field == "spring":
        springs = [holder["spring"] for holder in holders if holder.get("spring")]
        found = {spring["rate_n_per_mm"] for spring in springs if spring["kind"] == "straight"}
        found = found if len(found) == 1 and all(spring["kind"] == "straight" for spring in springs) else set()
    if field == "leverage" and given["leverage"]["kind"] == "ratio":
        found = {given["leverage"]["wheel_per_shock"]}
    return float(found.pop()) if len(found) == 1 else None


def _told(way: Way) -> dict[str, Any]:
    """Return one way's loads and their standard uncertainties, kg."""
    told: dict[str, Any] = {}
    for index, state in enumerate(STATES):
        known = bool(np.isfinite(way.load[index]))
        told[f"{state}_kg"] = rounded(way.load[index]) if known else None
        told[f"{state}_u_kg"] = rounded(way.u[index]) if known else None
    return told


def _best(ways: Sequence[Way]) -> dict[str, Any]:
    """Return the surest load of each state and which way told it."""
    best: dict[str, Any] = {}
    for index, state in enumerate(STATES):
        known = [way for way in ways if np.isfinite(way.load[index])]
        surest = min(known, key=lambda way: float(way.u[index]), default=None)
        best[f"{state}_kg"] = None if surest is None else rounded(surest.load[index])
        best[f"{state}_from"] = None if surest is None else surest.name
    return best


def _both(one: Way, other: Way) -> NDArray[np.bool_]:
    return np.isfinite(one.load) & np.isfinite(other.load)


def _compared(one: Way, other: Way) -> dict[str, Any]:
    """Return how two ways differ, how badly, and what alone would explain it."""
    both = _both(one, other)
    apart = np.where(both, other.load - one.load, 0.0)
    u = np.sqrt(one.u**2 + other.u**2)
    ratio = np.where(both, np.abs(apart) / np.where(u > 0, u, np.inf), 0.0)
    ratio = np.where(both & (u == 0) & (apart != 0), np.inf, ratio)
    worst = int(np.argmax(ratio))
    size = float(ratio[worst])
    verdict = "agree" if size <= AGREES else "differ" if size <= CONTRADICTS else "contradict"
    return {
        "ways": [one.name, other.name],
        "static_apart_kg": rounded(apart[0]) if both[0] else None,
        "rider_apart_kg": rounded(apart[1]) if both[1] else None,
        "times_u": rounded(min(size, 1e6)),
        "verdict": verdict,
        "text": _sentence(one, other, apart, u, worst, verdict),
        "causes": [] if verdict == "agree" else _causes(one, other, np.where(both, apart, np.nan)),
    }


def _sentence(one: Way, other: Way, apart: Array, u: Array, worst: int, verdict: str) -> str:
    state = say(READING[STATES[worst]])
    said = say(
        "With {state}, {names} say {load:.1f} kg and {names2} {load2:.1f} kg",
        state=state, names=say(_NAMES[other.name]), load=other.load[worst],
        names2=say(_NAMES[one.name]), load2=one.load[worst],
    )
    off = abs(apart[worst])
    if verdict == "agree":
        return say("{said}: {off:.1f} kg apart, within what their uncertainties explain.", said=said, off=off)
    if verdict == "differ":
        return say(
            "{said}: {off:.1f} kg apart, more than twice the {u:.1f} kg that is usual. Read again.",
            said=said, off=off, u=u[worst],
        )
    return say(
        "{said}: {off:.1f} kg apart cannot both be right, whatever the uncertainties ({u:.1f} kg). Trust neither "
        "before the cause is found.",
        said=said, off=off, u=u[worst],
    )


def _causes(one: Way, other: Way, apart: Array) -> list[dict[str, Any]]:
    """Return the likeliest single causes: of each, the change that best removes the difference in every state.

    With `d` the differences, `c` what one standard uncertainty of the cause adds and `n` the readings' own
    noise, `t = Σcd/n² / (Σc²/n² + 1)` standard uncertainties fit best; `Σ(d − ct)²/n² + t²` ranks them.
    """
    known = np.isfinite(apart)
    noise = np.maximum(np.sqrt(one.noise**2 + other.noise**2)[known], 1e-3)
    gap = apart[known]
    rows = []
    for sign, way in ((-1.0, one), (1.0, other)):
        for cause in way.causes:
            # What the cause is truly off by moves the stated load the other way round, so that the gap closes.
            adds = sign * cause.adds[known]
            weight = float(np.sum(adds**2 / noise**2)) + 1
            times = -float(np.sum(adds * gap / noise**2)) / weight
            left = gap + adds * times
            misfit = float(np.sum(left**2 / noise**2)) + times**2
            if cause.u > 0 and np.any(adds) and _can_be(cause, times * cause.u):
                rows.append((misfit, cause, times, left))
    rows.sort(key=lambda row: row[0])
    return [_cause(*row[1:], misfit=row[0]) for row in rows[:MOST_LIKELY]]


def _cause(cause: Cause, times: float, left: Array, *, misfit: float) -> dict[str, Any]:
    change = times * cause.u
    remains = float(np.max(np.abs(left)))
    return {
        "code": cause.code,
        "change": rounded(change),
        "unit": cause.unit,
        "times_u": rounded(abs(times)),
        "left_kg": rounded(remains),
        "misfit": rounded(misfit),
        "text": say(
            "{change_words}, {times:.1f} times its uncertainty; {rest}.",
            change_words=_change_words(cause, change), times=abs(times), rest=_rest(remains),
        ),
    }


def _true(cause: Cause, change: float) -> float | None:
    """Return what would be true of a cause if it were off by `change`, in its own unit; None where nobody stated it."""
    if cause.value is None or cause.code == "friction":
        return None
    return cause.value * (1 + change / 100) if cause.unit == "%" else cause.value + change


def _can_be(cause: Cause, change: float) -> bool:
    """Say whether a change leaves a value that can be: only preload may be below zero."""
    true = _true(cause, change)
    return true is None or true >= 0 or cause.code == "preload_mm"


def _change_words(cause: Cause, change: float) -> str:
    name = cause.words[:1].upper() + cause.words[1:]
    true = _true(cause, change)
    if true is None:
        return say("{name} off by {change:+.3g}{unit}", name=name, change=change, unit=after(cause.unit))
    unit = {"spring": " N/mm", "leverage": ""}.get(cause.code, after(cause.unit))
    return say("{name} {true:.4g} instead of {value:.4g}{unit}", name=name, true=true, value=cause.value, unit=unit)


def _rest(remains: float) -> str:
    if remains < 1:
        return say("that explains it")
    return say("{remains:.1f} kg would stay unexplained", remains=remains)


def _notes(request: Mapping[str, Any], given: Mapping[str, Any], name: str, ways: Sequence[Way]) -> list[Note]:
    notes = []
    if request.get("rider") is not None:
        text = say(
            "A share of the rider's mass is common practice, not a reading; it moves with the riding posture.",
        )
        notes.append(Note("share_is_a_guess", "info", text))
    if request.get("sags") is not None:
        text = say(
            "Loads from sags trust the springs' stamp, the preload, the leverage and the air as they are stated.",
        )
        notes.append(Note("bike_as_scale", "info", text))
    unsprung = given["unsprung_kg"]
    for way in ways:
        for index, state in enumerate(STATES):
            if np.isfinite(way.load[index]) and way.load[index] <= unsprung:
                text = say(
                    "{names} give no load on the springs with {reading}: {load:.1f} kg is not above the "
                    "{unsprung:g} kg unsprung.",
                    names=capital(say(_NAMES[way.name])),
                    reading=say(READING[state]),
                    load=way.load[index],
                    unsprung=unsprung,
                )
                notes.append(Note("nothing_sprung", "warning", text, rounded(way.load[index]), "kg"))
    return notes
