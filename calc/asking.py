"""What the calculations over a list of springs are asked: one end, the sags wanted, the adjuster, the list."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from calc.bands import BANDS
from calc.checks import Findings, check_front, check_range, check_rear, check_spring
from calc.choose import NO_ADJUSTER_MM, Wanted
from calc.refusal import Problem
from calc.springs import Springs, batch, spring_from
from calc.words import say

LONGEST_LIST = 2000
SAGS = ("static_sag_mm", "rider_sag_mm")


def end_asked(findings: Findings, request: Mapping[str, Any]) -> str:
    """Return which end the request gives, front or rear; note what is wrong where it is not exactly one.

    `findings` collects the problems, `request` is the mapping that was sent. Raises `Refusal` where no end is given
    at all. Source: none (bookkeeping).

    >>> end_asked(Findings(), {"rear": {}})
    'rear'
    """
    given = [name for name in ("front", "rear") if request.get(name) is not None]
    if len(given) == 2:
        findings.add("", "one_end", say("One end is worked on at a time: give the front or the rear."))
    if not given:
        findings.add("", "missing", say("Neither a front nor a rear end is given; give one."))
        findings.raise_any()
    return given[0]


def check_end(findings: Findings, end: Mapping[str, Any], name: str, *, springs: bool = True) -> None:
    """Note every problem of one end; a spring that goes solid within the stroke passes: it is to be replaced.

    `springs` false leaves the present springs and preloads out, but a fork must say which leg carries one.

    `findings` collects the problems of `end`, a mapping as in `evaluate`, which is the front or the rear as `name`
    says. Raises nothing. Source: none (bookkeeping).

    >>> found = Findings()
    >>> check_end(found, {}, "rear")
    >>> "rear.wheel_travel_mm" in [problem.field for problem in found.problems]
    True
    """
    if name == "front":
        check_front(findings, end, name, springs=springs, bind=False)
        if all(leg.get("spring") is None for leg in end.get("legs") or []) and springs:
            findings.add("front.legs", "no_spring", say("No fork leg carries a spring, so there is none to judge."))
    else:
        check_rear(findings, end, name, springs=springs, bind=False)


def check_targets(findings: Findings, request: Mapping[str, Any], travel: Any) -> None:
    """Note every problem of the sag bands [low, high] and of the adjuster's range, where they are given.

    `travel` is the end's own travel in mm (the fork's stroke), inside which a band must begin.

    `findings` collects the problems of `request`, the mapping that was sent. Raises nothing. Source: none
    (bookkeeping).

    >>> found = Findings()
    >>> check_targets(found, {"target_rider_sag_mm": [310, 320]}, 300)
    >>> found.problems[0].code
    'target_past_travel'
    """
    for sag in SAGS:
        key, band = f"target_{sag}", BANDS[f"target.{sag}"]
        pair = request.get(key)
        ranged = None if pair is None else check_range(findings, pair, key, band)
        if ranged is not None and isinstance(travel, int | float) and ranged[0] >= travel:
            text = say(
                "{ranged:g} mm for {what} is not inside the travel of {travel:g} mm.",
                ranged=ranged[0], what=band.named, travel=travel,
            )
            findings.problems.append(Problem(key, "target_past_travel", text, ranged[0], "mm", 0, travel))
    if request.get("adjuster_mm") is not None:
        check_range(findings, request["adjuster_mm"], "adjuster_mm", BANDS["adjuster_mm"])


def check_list(findings: Findings, springs: Any, name: str, most: int = LONGEST_LIST) -> None:
    """Note every problem of a list of at most `most` springs for the front or the rear.

    `findings` collects the problems, `springs` is the list, `name` front or rear, `most` a number of springs. Raises
    nothing. Source: none (bookkeeping).

    >>> found = Findings()
    >>> check_list(found, [{"spring": {"kind": "straight", "rate_n_per_mm": 46}}], "front")
    >>> found.problems[0].field
    'springs.0.spring.rate_n_per_mm'
    """
    if not isinstance(springs, Sequence) or isinstance(springs, str) or not 1 <= len(springs) <= most:
        findings.add("springs", "list_size", say("Give 1 to {most} springs.", most=most))
        return
    place = "leg_spring" if name == "front" else "shock_spring"
    for index, each in enumerate(springs):
        check_spring(findings, each.get("spring"), f"springs.{index}.spring", place)


def travel_of(end: Mapping[str, Any], name: str) -> Any:
    """Return an end's travel in mm as it was given: the fork's stroke, the rear wheel's travel.

    `name` is front or rear. Raises nothing. Source: none (bookkeeping).

    >>> travel_of({"stroke_mm": 300}, "front")
    300
    """
    return end.get("stroke_mm" if name == "front" else "wheel_travel_mm")


def wanted_from(request: Mapping[str, Any]) -> Wanted:
    """Return the sag bands and the preload range of a checked request, in m; the aim is the rider band's middle.

    Raises nothing. Source: none (bookkeeping).

    >>> wanted_from({"target_static_sag_mm": [20, 30], "target_rider_sag_mm": [90, 100]}).aim
    0.095
    """
    static, rider = ((request[f"target_{sag}"][0] / 1000, request[f"target_{sag}"][1] / 1000) for sag in SAGS)
    low, high = request.get("adjuster_mm") or NO_ADJUSTER_MM
    return Wanted(static, rider, (rider[0] + rider[1]) / 2, (low / 1000, high / 1000))


def springs_listed(request: Mapping[str, Any]) -> Springs:
    """Return the checked list of a request as one batch.

    Raises nothing. Source: none (bookkeeping).

    >>> springs_listed({"springs": [{"spring": {"kind": "straight", "rate_n_per_mm": 5}}]}).rate.tolist()
    [[5000.0]]
    """
    return batch([spring_from(each["spring"]) for each in request["springs"]])


def label_of(each: Mapping[str, Any]) -> str:
    """Return what to call a listed spring in a sentence: its label, else its id.

    `each` is one entry of the list. Raises nothing. Source: none (wording).

    >>> label_of({"id": 7, "label": ""})
    '7'
    """
    return str(each.get("label") or each.get("id"))
