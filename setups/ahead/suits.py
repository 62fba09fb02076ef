"""Whom a spring suits: the springs that go in as a ladder over rider mass, and what an uneven spring does for two
riders.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from calc.each_rider import each_rider
from calc.ladder import ladder
from calc.refusal import Note, Refusal
from calc.suits import suits
from calc.words import mark, say
from calc.writing import Writing
from setups import measured, ranking, sums
from setups.ahead.standing import Standing, share_of, standing
from setups.figures import redrawn, retold
from setups.models import JobCard
from setups.springs import plain, rate_words

LIGHT_KG, HEAVY_KG = 60.0, 100.0
"""Two riders in full kit to compare a spring by (our own choice, no source)."""
IN_THE_BIKE, CHOSEN = mark("in the bike"), mark("chosen")
SIGNS: Mapping[str, str] = {IN_THE_BIKE: "•", CHOSEN: "◆"}
"""How the picture marks a rung; the words stand beside it."""
EMPTY: dict[str, Any] = {
    "svg": None,
    "bands": [],
    "present": None,
    "riders": [],
    "share": None,
    "share_from": None,
    "basis": None,
}


def whom(card: JobCard, end: str, writing: Writing) -> dict[str, Any]:
    """Return the rider masses that each spring suits at `end`: the one in the bike, the one chosen, the shop's.

    Springs that do not go in by their size are left out, and counted. `bands` are rungs: springs of the same
    rate and the same band share one. `riders` compares a spring that is not straight with straight ones.
    """
    now = standing(card, end)
    if not now.ready:
        return now.lacks(**EMPTY)
    share, origin = share_of(card, end)
    listed, left_out = _listed(card, now)
    mass = card.rider.mass_in_kit_kg if card.rider is not None else None
    try:
        found = suits({**now.asked(), "rider_share": share, "springs": listed})
    except Refusal as refusal:
        return now.refused(refusal, **EMPTY)
    rungs = [_read(rung) for rung in _rungs(found["bands"], {one["id"]: one for one in listed})]
    notes = list(found["notes"])
    if left_out:
        text = say(
            "{left_out} of the shop's springs do not go in by their size and are left out.",
            left_out=left_out,
        )
        notes.append(Note("left_out", "info", text, left_out).as_dict())
    present = next((rung["text"] for rung in rungs if IN_THE_BIKE in rung["where"]), None)
    return {
        "svg": redrawn(ladder(end, drawn(rungs), mass, writing)),
        "bands": rungs,
        "present": present,
        "riders": _riders(now, share),
        "share": share,
        "share_from": origin,
        "basis": _basis(now, share, origin),
        "notes": notes,
        **now.why(),
    }


def drawn(rungs: Sequence[Mapping[str, Any]]) -> list[Mapping[str, Any]]:
    """Return the rungs worth drawing: springs that suit somebody, and those of this job whether they do or not."""
    return [rung for rung in rungs if rung["rider_mass_kg"] is not None or rung["where"]]


def _listed(card: JobCard, now: Standing) -> tuple[list[dict[str, Any]], int]:
    """Return the springs to judge, the bike's own first, and how many of the shop's do not go in."""
    listed: list[dict[str, Any]] = []
    for stage, where in (("received", IN_THE_BIKE), ("chosen", CHOSEN)):
        body = sums.body_of(card, stage, now.end) or (now.body if stage == "received" else {})
        for holder in sums.springed(body, now.end)[:1]:
            spring = plain(holder["spring"])
            listed.append({"id": stage, "label": rate_words(spring), "spring": spring, "code": "", "where": where})
    data, left_out = measured.end_data(card, now.end) or {}, 0
    for one in ranking.springs_of(card, now.end):
        if ranking.fits(data, one, 0.0, now.end) is False:
            left_out += 1
            continue
        label = rate_words(one.curve)
        listed.append({"id": one.pk, "label": label, "spring": plain(one.curve), "code": one.code, "where": ""})
    return listed, left_out


def _rungs(bands: Sequence[Mapping[str, Any]], known: Mapping[Any, Mapping[str, Any]]) -> list[dict[str, Any]]:
    """Return the bands with springs of one rate and one band together, in the order of the lightest rider."""
    groups: dict[tuple[str, str], list[Mapping[str, Any]]] = {}
    for band in bands:
        masses = band["rider_mass_kg"]
        key = band["label"], "nobody" if masses is None else f"{masses[0]:.0f} {masses[1]:.0f}"
        groups.setdefault(key, []).append(band)
    rates = [label for label, _ in groups]
    return [_rung(group, known, alone=rates.count(label) == 1) for (label, _), group in groups.items()]


def _rung(group: Sequence[Mapping[str, Any]], known: Mapping[Any, Any], *, alone: bool) -> dict[str, Any]:
    of = [known[band["id"]] for band in group]
    where = [one["where"] for one in of if one["where"]]
    codes = [one["code"] for one in of if one["code"]]
    first = group[0]
    label = first["label"] if alone or not codes else f"{first['label']}, {codes[0]}"
    places = say(" and ").join(say(one) for one in where)
    told = f" ({places})" if where else ""
    return {
        "label": " ".join((label, *(SIGNS[one] for one in where))),
        "where": where,
        "codes": codes,
        "rider_mass_kg": first["rider_mass_kg"],
        "preload_mm": first["preload_mm"],
        "why": first["why"],
        "text": first["text"].replace(first["label"], f"{first['label']}{told}", 1) if told else first["text"],
    }


def _read(rung: Mapping[str, Any]) -> dict[str, Any]:
    """Return a rung as it is read, its spring's name and its sentence in the reader's units."""
    return {**rung, "label": retold(rung["label"]), "text": retold(rung["text"])}


def _riders(now: Standing, share: float) -> list[dict[str, Any]]:
    """Return what a spring in the bike that is not straight does for a light and a heavy rider; else nothing."""
    held = sums.springed(now.body, now.end)
    if not held or all(one["spring"].get("kind") == "straight" for one in held):
        return []
    try:
        return each_rider({**now.asked(), "rider_share": share, "riders_kg": [LIGHT_KG, HEAVY_KG]})
    except Refusal:
        return []


def _basis(now: Standing, share: float, origin: str) -> str:
    """Say in one sentence what the bands rest on."""
    low, high = now.adjuster_mm or (0, 150)
    rests = say("the axle scales and the rider's mass") if origin == "measured" else say("assumed, common practice")
    return retold(say(
        "For this bike, its oil and air as received: both sags in band with {low:g} to {high:g} mm of preload, "
        "{share:.0f} % of the rider's mass on this axle ({rests}).",
        low=low, high=high, share=share * 100, rests=rests,
    ))
