"""Freezes a card into the two plain documents that are sealed: the public and the internal one.

What is personal stays outside: the document holds a salted commitment in its place, and the value goes into
a table
that can be erased. After sealing nothing is read from live rows again.

Words that describe a person, or the talk with one, are personal too (`TEXTS`): complaint, what the rider was told,
the notes, what a photo's caption says, what a load case is called. In the clear stay the words about the machine and
about the workshop's own people: parts, fasteners, instruments, the description of a loose part, the lines of an
estimate, the fixed statements of the sign-offs, and the reasons of overrides and amendments, which the trail keeps
for ever and which therefore may not name the customer (see `setups.naming`). Records of the first format held the
texts in the clear; they verify as they were sealed, and what is laid out from them follows an erasure too.

Axle loads are the rider's mass in other words, and so is every figure that gives them back in one step. The
public `results` hold what `PUBLIC_RESULTS` and `PUBLIC_NOTES` name and nothing else; the rest stands in the
internal `results`, the figures that depend on a load as commitments, the force curve (whose height at a sag
is the load) in the clear. Springs, settings and sags stay public, for they are the job: whoever solves the
whole suspension for the load can estimate it from them, as from the bike itself.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from django.utils.translation import gettext_lazy

from calc import printed
from calc.evaluate import rounded
from calc.linkage import linkage_from
from calc.picture import picture
from calc.words import say
from setups import leverage
from setups.figures import as_read, retold
from setups.record.canonical import Personal, personal
from setups.writing import writing_of
from shops.language import here

FORMAT = "coilbook-record/2"
AMENDMENT_FORMAT = "coilbook-amendment/2"
FIRST_FORMAT = ("coilbook-record/1", "coilbook-amendment/1")
TEXTS = re.compile(
    r"complaint|explanation|next_service\.note|internal_notes|photos\.\d+\.caption"
    r"|load_cases\.added\.\d+\.label|load_cases\.preloads\.\w+\.(text|cases\.\d+\.label)"
)
"""The places, in either part, of words that may describe a person: each stands in the record as a commitment."""
STAGES = ("received", "chosen", "built")
ENDS = ("front", "rear")
LOADS = ("load_static_kg", "load_rider_kg")
PUBLIC_RESULTS = (
    "static_sag_mm",
    "rider_sag_mm",
    "breakaway_n",
    "wheel_rate_n_per_mm",
    "full_stroke_n",
    "energy_to_stop_j",
    "solid_clearance_mm",
)
"""The results that customers and other shops may read. Left out: the natural frequency (with the wheel rate it
gives the sprung mass), the fall to the stop (an energy over the load) and the curve."""
PUBLIC_NOTES = frozenset(
    {
        "topped_out",
        "on_the_stop",
        "no_frequency",
        "damping_left_out",
        "loose_spring",
        "tested_short",
        "vented_elsewhere",
        "outer_chamber_only",
        "air_band",
        "force_falls",
        "leverage_second_derivative",
        "solid_unknown",
        "measured_differs",
        "pour_and_bore_differ",
        "sag_corrected",
    }
)
"""The notes beside those results, by code; one not named here, such as the reserve at the stop (a force over
the load), is internal."""
STAGE_WORDS: Mapping[str, Any] = {
    "received": gettext_lazy("received"),
    "chosen": gettext_lazy("chosen"),
    "built": gettext_lazy("built"),
}
END_WORDS: Mapping[str, Any] = {"front": gettext_lazy("fork"), "rear": gettext_lazy("shock")}
BEFORE_AND_AFTER: Mapping[str, Any] = {
    "front": (
        gettext_lazy("Fork: force over travel, before and after"),
        gettext_lazy("How hard the fork pushes back as it goes in. {sags}."),
    ),
    "rear": (
        gettext_lazy("Shock: force over travel, before and after"),
        gettext_lazy("How hard the shock pushes back as it goes in. {sags}."),
    ),
}
"""What a picture is called, and what it tells whoever cannot see it."""
UNITS = {
    "rate": "N/mm",
    "length": "mm",
    "mass": "kg",
    "volume": "cm³",
    "pressure": "kPa",
    "torque": "N·m",
    "force": "N",
}
"""The units of every value in the document, whatever its readers see."""


def program() -> str:
    """Return the program's name and version, as every sealed document states it."""
    project = tomllib.loads((Path(__file__).resolve().parents[2] / "pyproject.toml").read_text(encoding="utf-8"))
    return f"Coilbook {project['project']['version']}"


@dataclass(frozen=True)
class Heading:
    """What sealing adds to the card: the record's number in the shop's chain, who sealed it and when (RFC
    3339)."""

    number: int
    sealed_at: str
    sealed_by: str


@dataclass(frozen=True)
class Gathered:
    """Everything the record is made of, in the shapes of the API.

    `card` is the whole card, `sides` the three stages' results and verdicts, `inputs` what calc was asked
    per stage and
    end (None where it could not be asked), `shop` and `trail` plain mappings, `no_cure` the pictures that
    show that
    preload is no cure for a soft spring, `load_cases` what each end's look at its load cases says, `attitude` the
    side view of how the bike sits (None where its chassis is not known).
    """

    card: Mapping[str, Any]
    sides: Mapping[str, Any]
    inputs: Mapping[str, Mapping[str, Any]]
    shop: Mapping[str, Any]
    no_cure: Mapping[str, str | None]
    trail: list[int]
    load_cases: Mapping[str, Any] = field(default_factory=dict)
    attitude: str | None = None


@dataclass
class Documents:
    """The frozen public and internal documents and the personal values that they commit to."""

    public: dict[str, Any] = field(default_factory=dict)
    internal: dict[str, Any] = field(default_factory=dict)
    personal: list[Personal] = field(default_factory=list)

    def commit(self, path: str, value: Any, *, shared: bool = False) -> dict[str, str] | None:
        """Return the commitment that stands at `path` for a personal value; None where there is no value."""
        if value is None or value == "":
            return None
        kept = personal(path, value, shared=shared)
        self.personal.append(kept)
        return kept.commitment


def build(gathered: Gathered, heading: Heading) -> Documents:
    """Return the documents of a card about to be sealed. They are plain JSON values and share nothing with
    the card."""
    card, documents = gathered.card, Documents()
    documents.public = {
        "format": FORMAT,
        "program": program(),
        "record": {"number": heading.number, "sealed_at": heading.sealed_at, "sealed_by": heading.sealed_by},
        "language": gathered.shop["language"],
        "shown_in": dict(gathered.shop["units"]),
        "business": gathered.shop["business"],
        "shop": {key: gathered.shop[key] for key in ("name", "code", "address", "phone", "time_zone", "paper")},
        "card": _pick(card, "number", "opened_at", "opened_by_name", "distance_km", "hours", "altitude_m"),
        "bike": _bike(documents, card.get("bike")),
        "loose": _loose(card),
        "complaint": documents.commit("public.complaint", card["complaint"], shared=True),
        "explanation": documents.commit("public.explanation", card["explanation"], shared=True),
        "customer": {"name": documents.commit("public.customer.name", card["customer"]["name"], shared=True)},
        "rider": _rider(documents, card.get("rider")),
        "targets": card["targets"],
        "corrections": card["corrections"],
        "readings": [_reading(one) for one in card["readings"] if one["unit"] != "kg"],
        "sag": {stage: card["sag"].get(stage) for stage in ("received", "built")},
        "settings": {stage: _bodies(card["settings"].get(stage)) for stage in STAGES},
        "inputs": _inputs(documents, gathered.inputs),
        "results": _public_results(gathered.sides),
        "verdicts": _from_sides(gathered.sides, "verdict"),
        "pictures": _pictures(gathered),
        "gap_and_oil": gap_and_oil(card),
        "load_cases": _load_cases(documents, card["cases"], gathered.load_cases),
        "parts": [_pick(part, "direction", "description", "quantity", "batch") for part in card["parts"]],
        "torques": [_torque(line) for line in card["torques"]],
        "cautions": [_pick(one, "key", "step", "word", "text", "read_by_name", "read_at") for one in card["cautions"]],
        "sign_offs": [_pick(one, "part", "part_label", "statement", "by_name", "at") for one in card["sign_offs"]],
        "overrides": [
            _pick(one, "code", "text", "reason", "by_name", "at") for one in card["overrides"] if one["stands"]
        ],
        "photos": [_photo(documents, place, one) for place, one in enumerate(card["photos"])],
        "next_service": {
            "on": card["next_service_on"],
            "note": documents.commit("public.next_service.note", card["next_service_note"], shared=True),
        },
        "units": UNITS,
    }
    documents.internal = {
        "format": FORMAT,
        "record": {"number": heading.number},
        "card": card["id"],
        "internal_notes": documents.commit("internal.internal_notes", card["internal_notes"]),
        "estimate": _estimate(card["estimate"]),
        "readings": [
            _reading(one) | {"value": documents.commit(f"internal.readings.{place}.value", one["value"])}
            for place, one in enumerate(one for one in card["readings"] if one["unit"] == "kg")
        ],
        "loads": _loads(documents, card["loads"]),
        "results": _internal_results(documents, gathered.sides),
        "bike": card["bike"]["id"] if card.get("bike") else None,
        "customer": card["customer"]["id"],
        "rider": card["rider"]["id"] if card.get("rider") else None,
        "trail": gathered.trail,
    }
    return documents


def _pick(row: Mapping[str, Any], *keys: str) -> dict[str, Any]:
    return {key: row[key] for key in keys}


def _photo(documents: Documents, place: int, photo: Mapping[str, Any]) -> dict[str, Any]:
    plain = _pick(photo, "about", "sha256", "width_px", "height_px", "taken_by_name", "taken_at")
    return plain | {"caption": documents.commit(f"public.photos.{place}.caption", photo["caption"], shared=True)}


def _load_cases(
    documents: Documents, cases: Sequence[Mapping[str, Any]], found: Mapping[str, Any]
) -> dict[str, Any]:
    """Return the load cases: what was added is somebody's name and mass and committed to, its preload is the job."""
    added = [
        {"label": documents.commit(f"public.load_cases.added.{place}.label", case["label"], shared=True)}
        | {"rear_share": case["rear_share"]}
        | {"mass_kg": documents.commit(f"public.load_cases.added.{place}.mass_kg", case["mass_kg"])}
        for place, case in enumerate(cases)
    ]
    return {"added": added, "preloads": {end: _preloads(documents, end, found.get(end)) for end in ENDS}}


def _preloads(documents: Documents, end: str, found: Mapping[str, Any] | None) -> dict[str, Any] | None:
    if found is None:
        return None
    path = f"public.load_cases.preloads.{end}"
    rows = [
        {**row, "label": documents.commit(f"{path}.cases.{place}.label", row["label"], shared=True)}
        for place, row in enumerate(found["cases"])
    ]
    return {"cases": rows, "text": documents.commit(f"{path}.text", found["text"], shared=True)}


def _bike(documents: Documents, bike: Mapping[str, Any] | None) -> dict[str, Any] | None:
    """Return the bike; plate and frame number lead to a person through a register, so they are personal."""
    if bike is None:
        return None
    plain = _pick(bike, "make", "model", "year", "kind", "front", "rear", "sources")
    for key in ("plate", "frame_number"):
        plain[key] = documents.commit(f"public.bike.{key}", bike[key], shared=True)
    return plain | {"rear": _with_reach(bike["rear"])}


def _with_reach(rear: Mapping[str, Any] | None) -> Mapping[str, Any] | None:
    """Return the rear end with the wheel travel that its linkage reaches, which a reader cannot tell from its points.

    Readers of the record find it in the linkage's own place; a leverage that is no linkage stays as it is.
    """
    linkage = (rear or {}).get("leverage") or {}
    if rear is None or linkage.get("kind") != "linkage":
        return rear
    reach = linkage_from(leverage.plain(linkage)).reach
    return {**rear, "leverage": {**linkage, "reach_mm": rounded(1000 * reach)}}


def _loose(card: Mapping[str, Any]) -> dict[str, Any] | None:
    if not card["loose"]:
        return None
    return {
        "what": card["loose"],
        "description": card["loose_description"],
        "front": card["loose_front"],
        "rear": _with_reach(card["loose_rear"]),
    }


def _rider(documents: Documents, rider: Mapping[str, Any] | None) -> dict[str, Any] | None:
    if rider is None:
        return None
    return {
        "name": documents.commit("public.rider.name", rider["name"], shared=True),
        "mass_in_kit_kg": documents.commit("public.rider.mass_in_kit_kg", rider["mass_in_kit_kg"]),
    }


def _reading(reading: Mapping[str, Any]) -> dict[str, Any]:
    keys = (
        "stage",
        "end",
        "quantity",
        "label",
        "value",
        "unit",
        "instrument",
        "origin",
        "taken_by_name",
        "taken_at",
    )
    return _pick(reading, *keys, "struck", "counts")


def _bodies(ends: Mapping[str, Any] | None) -> dict[str, Any]:
    return {end: one["body"] if (one := (ends or {}).get(end)) else None for end in ENDS}


def _torque(line: Mapping[str, Any]) -> dict[str, Any]:
    return _pick(
        line,
        "fastener",
        "count",
        "value_nm",
        "source_edition",
        "source_page",
        "wrench_name",
        "calibrated_on",
        "calibration_due",
        "wrench_cycles",
        "needs_second_check",
        "tightened_by_name",
        "tightened_at",
        "checked_by_name",
        "checked_at",
    )


def gap_and_oil(card: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Return for each leg the air gap before and after and what of it the new springs' volume explains."""
    bodies = [_bodies(card["settings"].get(stage))["front"] for stage in ("received", "built")]
    if not all(bodies):
        return []
    found = []
    for place, (old, new) in enumerate(zip(bodies[0]["legs"], bodies[1]["legs"], strict=False)):
        gaps = [old.get("air_gap_mm"), new.get("air_gap_mm")]
        if None not in gaps:
            found.append({"leg": place, "air_gap_before_mm": gaps[0], "air_gap_after_mm": gaps[1]})
    return found


def _inputs(documents: Documents, inputs: Mapping[str, Mapping[str, Any]]) -> dict[str, Any]:
    """Return what calc was asked, the loads committed to: with the kept values every result can be computed
    again."""
    frozen: dict[str, Any] = {}
    for stage in STAGES:
        frozen[stage] = {}
        for end in ENDS:
            asked = inputs.get(stage, {}).get(end)
            frozen[stage][end] = None if asked is None else dict(asked)
            for load in LOADS:
                if asked is not None and load in asked:
                    frozen[stage][end][load] = documents.commit(f"public.inputs.{stage}.{end}.{load}", asked[load])
    return frozen


def _estimate(estimate: Mapping[str, Any] | None) -> dict[str, Any] | None:
    """Return what was estimated and whether the customer agreed; not the address that the answer came from."""
    if estimate is None or not estimate["lines"]:
        return None
    answered = [one for one in estimate["asks"] if one["answer"]]
    answers = [_pick(one, "answer", "answered_at", "total_minor", "currency") for one in answered]
    return _pick(estimate, "needs_approval", "lines", "total_minor", "currency", "state") | {"answers": answers}


def _loads(documents: Documents, loads: Mapping[str, Any]) -> dict[str, Any]:
    frozen: dict[str, Any] = {}
    for stage, ends in loads.items():
        frozen[stage] = {}
        for end, load in (ends or {}).items():
            frozen[stage][end] = None if load is None else {"from": load["from"]}
            for key in ("static_kg", "rider_kg"):
                if load is not None:
                    committed = documents.commit(f"internal.loads.{stage}.{end}.{key}", load.get(key))
                    frozen[stage][end][key] = committed
    return frozen


def _from_sides(sides: Mapping[str, Any], key: str) -> dict[str, Any]:
    return {stage: {end: ((sides.get(stage) or {}).get(end) or {}).get(key) for end in ENDS} for stage in STAGES}


def _public_results(sides: Mapping[str, Any]) -> dict[str, Any]:
    """Return of each stage's and end's result what may be told without telling a load."""
    frozen = _from_sides(sides, "result")
    for ends in frozen.values():
        for end, result in ends.items():
            if result is not None:
                told = [note for note in result["notes"] if note["code"] in PUBLIC_NOTES]
                ends[end] = _pick(result, *PUBLIC_RESULTS) | {"notes": told}
    return frozen


def _internal_results(documents: Documents, sides: Mapping[str, Any]) -> dict[str, Any]:
    """Return the rest of each result: the curve, and, committed to, the figures and notes that tell a load."""
    frozen = _from_sides(sides, "result")
    for stage, ends in frozen.items():
        for end, result in ends.items():
            if result is not None:
                ends[end] = _telling(documents, f"internal.results.{stage}.{end}", result)
    return frozen


def _telling(documents: Documents, path: str, result: Mapping[str, Any]) -> dict[str, Any]:
    figures = {
        key: documents.commit(f"{path}.{key}", value)
        for key, value in result.items()
        if key not in (*PUBLIC_RESULTS, "curve", "notes")
    }
    withheld = [note for note in result["notes"] if note["code"] not in PUBLIC_NOTES]
    notes = [
        _pick(note, "code", "severity", "unit")
        | {key: documents.commit(f"{path}.notes.{place}.{key}", note[key]) for key in ("text", "value")}
        for place, note in enumerate(withheld)
    ]
    return figures | {"curve": result["curve"], "notes": notes}


def _pictures(gathered: Gathered) -> dict[str, Any]:
    """Draw each end before and after. The loads' lines are left out: they are the rider's mass in other
    words."""
    drawn: dict[str, Any] = {"preload_no_cure": dict(gathered.no_cure), "attitude": gathered.attitude}
    for end in ENDS:
        traces = []
        for stage in STAGE_WORDS:
            result = ((gathered.sides.get(stage) or {}).get(end) or {}).get("result")
            if result is None:
                continue
            traces.append(
                {
                    "role": stage,
                    "label": str(STAGE_WORDS[stage]),
                    "curve": result["curve"],
                    "static_sag_mm": result["static_sag_mm"],
                    "rider_sag_mm": result["rider_sag_mm"],
                }
            )
        drawn[end] = _drawing(end, traces, gathered.shop["units"]) if traces else None
    return drawn


def _drawing(end: str, traces: list[dict[str, Any]], units: Mapping[str, str]) -> str:
    sags = "; ".join(
        say(
            "{stage}: static sag {static} mm, rider sag {rider} mm",
            stage=trace["label"],
            static=printed.whole(trace["static_sag_mm"]),
            rider=printed.whole(trace["rider_sag_mm"]),
        )
        for trace in traces
    )
    title, description = BEFORE_AND_AFTER[end]
    with as_read(here(), units):
        told = retold(description.format(sags=sags))
    return picture(
        {
            "end": end,
            "title": str(title),
            "description": told,
            "load_static_n": None,
            "load_rider_n": None,
            "traces": traces,
            **writing_of(units),
        }
    )
