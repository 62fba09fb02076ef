"""How sure a ranking is, and the reading worth taking next: calc's answer from where each of a card's facts comes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from calc.origins import FIELDS, ORIGINS
from calc.refusal import Note, Refusal
from calc.uncertainty import MOST_SPRINGS, uncertainty
from calc.words import mark, say
from setups.measured import AXLE_SCALES, loads_of
from setups.models import JobCard
from setups.sag_corrections import SAGS, model_band

Sources = dict[str, dict[str, str]]

BASIS = mark(
    "“In band” weighs how sure each figure is by where it comes from: measured, stamped, the manual or assumed "
    "(usual uncertainties, common practice, no source).",
)


def sources_of(card: JobCard, end: str, body: Mapping[str, Any]) -> Sources:
    """Return where each input of `end` comes from when a spring of the list is put in.

    The springs are the list's, known by their stamps, and the preload is one that will be measured in.
    """
    return noted_sources(card, "received", end, body) | {
        "spring": {"from": "stamped"},
        "preload_mm": {"from": "measured"},
    }


def noted_sources(card: JobCard, stage: str, end: str, body: Mapping[str, Any]) -> Sources:
    """Return where each input of `end` at `stage` comes from, as calc asks for it; what nobody said is left
    out: assumed.
    """
    bike = card.bike.sources if card.bike is not None else {}
    setting = body.get("sources") or {}
    leg = next((number for number, one in enumerate(body.get("legs", ())) if one.get("spring")), 0)
    prefix = f"legs.{leg}." if end == "front" else ""
    found: Sources = {}
    for field in FIELDS[end]:
        said = setting.get(prefix + field) or bike.get(f"{end}.{field}") or {}
        if said.get("from") in ORIGINS:
            found[field] = {"from": said["from"]}
        elif said.get("from") == "computed":
            found[field] = {"from": "measured"}  # what was worked out is set, and read as it is set
    loads = loads_of(card, "built" if stage == "built" else "received", end)
    if loads is not None and loads.origin == AXLE_SCALES:
        found |= {"load_static_kg": {"from": "measured"}, "load_rider_kg": {"from": "measured"}}
    return found


@dataclass(frozen=True)
class Judgement:
    """How sure a ranking is: the probability of each spring that goes in, by its row's id, and the remarks on it."""

    probability: Mapping[Any, float]
    notes: tuple[Note, ...]


def judged(
    card: JobCard, end: str, asked: Mapping[str, Any], body: Mapping[str, Any], rows: Sequence[Mapping[str, Any]]
) -> Judgement | None:
    """Judge `rows`, the ranking of `asked`, by where each of the card's facts comes from; None where that fails.

    A second spring of the same rates is no rival of the first: it has its probability, and is not named. One that
    does not go in is no rival at all.
    """
    able = [row for row in rows if row["fits"] is not False]
    rivals: dict[str, Mapping[str, Any]] = {}
    for row in able:
        rivals.setdefault(_rates(row), row)
    if not 0 < len(rivals) <= MOST_SPRINGS:
        return None
    springs = [{key: row[key] for key in ("id", "label", "spring")} for row in rivals.values()]
    request = {key: value for key, value in asked.items() if key not in ("springs", "displaced_cm3", "correction")}
    for sag in SAGS:
        key = f"target_{sag}_sag_mm"
        request[key] = model_band(request[key], asked.get("correction"), sag)
    try:
        found = uncertainty({**request, "springs": springs, "sources": sources_of(card, end, body)})
    except Refusal:
        return None  # what is wrong with the card's facts is said at the ranking itself
    probability = {each["id"]: each["probability"] for each in found["springs"]}
    return Judgement({row["id"]: probability[rivals[_rates(row)]["id"]] for row in able}, _notes(found))


def _notes(found: Mapping[str, Any]) -> tuple[Note, ...]:
    said = [Note("probability_basis", "info", say(BASIS))]
    if found["undecided"] is not None:
        said.insert(0, Note("undecided", "info", found["undecided"]))
    if found["next_reading"] is not None:
        text = say("The reading worth taking next: {text}", text=found["next_reading"]["text"])
        said.insert(0, Note("next_reading", "info", text))
    return tuple(said)


def _rates(row: Mapping[str, Any]) -> str:
    return repr({key: value for key, value in sorted(row["spring"].items()) if key != "solid_deflection_mm"})
