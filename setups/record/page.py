"""The customer's page: a sealed record in plain words, for a phone, as a fragment of HTML."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from django.template.loader import render_to_string

from setups.models import CustomerLink, SealedRecord
from setups.record import layout
from setups.record.pdf import LEVELS, columns, drawing, facts
from setups.record.reading import Sealed, links_of, read

TITLES = {"front": "The fork, in front", "rear": "The shock, at the back"}
RIDERS_STEP = "handed_over"
TERMS = {
    "static_sag": "Static sag: how far the bike sinks under its own weight.",
    "rider_sag": "Rider sag: how far it sinks with the rider on, in full kit. It sets how the bike sits.",
    "spring": "Spring rate: how many newtons it takes to press the spring in by one millimetre. A "
    "higher number is a "
    "stiffer spring. Stiff enough for the rider is right; stiffer is not better.",
    "preload": "Preload: how far the spring is squeezed before any weight is on it. It sets the height "
    "at which you ride. "
    "It does not make the spring stiffer.",
    "air_gap": "Air gap: the room between oil and cap in the fork. Less room makes the last part of the travel harder.",
    "rebound": "Rebound: how fast it comes back out after a bump. Turning the clicker in slows it down.",
    "compression": "Compression: how much it resists being pushed in. Turning the clicker in makes it firmer.",
    "high_speed_compression": "Fast compression: the same for sharp hits, such as stones and landings.",
    "tyre_pressure": "Tyre pressure: read cold. It changes the feel as much as a few clicks do, so check it first.",
}
"""What each term means to a rider (common practice, no source)."""


def page_of(link: CustomerLink) -> dict[str, str]:
    """Return the page that an open link shows: its title and its HTML fragment."""
    links = links_of(link.card)
    sealed = read(links)
    return {"title": title(sealed), "html": html(sealed, mass(links[0]) if link.share_mass else [])}


def title(sealed: Sealed) -> str:
    """Return the page's title: the bike, or the part that was brought in."""
    bike, loose = sealed.record["bike"], sealed.record["loose"]
    if bike:
        return f"{bike['make']} {bike['model']}"
    return f"Loose {loose['what']}" if loose else "Suspension record"


def mass(record: SealedRecord) -> list[tuple[str, str]]:
    """Return the rider's mass and the axle loads that are not erased, for a link that shares them."""
    found = []
    names = {"static_kg": "the bike alone", "rider_kg": "with rider"}
    values = {value.path: value.value for value in record.personal_values.filter(erased_at=None)}
    if (rider := values.get("public.rider.mass_in_kit_kg")) is not None:
        found.append(("Rider in full kit", f"{layout.typed(rider)} kg"))
    loads = json.loads(record.internal)["loads"]["received"]
    for end, axle in (("front", "Front"), ("rear", "Rear")):
        for key, name in names.items():
            value = values.get(f"internal.loads.received.{end}.{key}")
            if value is not None:
                found.append((f"{axle} axle, {name}", f"{layout.typed(value)} kg ({loads[end]['from']})"))
    return found


def html(sealed: Sealed, shared: list[tuple[str, str]]) -> str:
    """Return the page's fragment; `shared` are the rider's mass and the axle loads, empty unless the link
    shares them."""
    record = sealed.record
    zone = record["shop"]["time_zone"]
    ends = [found for end in TITLES if (found := _end(record, end))]
    terms = {row.key: TERMS[row.key] for end in ends for row in end["rows"] if row.key in TERMS}
    return render_to_string(
        "record/page.html",
        {
            "title": title(sealed),
            "record": record,
            "number": sealed.number,
            "head": sealed.head,
            "sealed_on": layout.when(record["record"]["sealed_at"], zone),
            "facts": facts(record, sealed.personal)[2 if record["bike"] else 0 :],
            "amendments": sealed.amendments,
            "ends": ends,
            "no_cure": [drawing(svg) for svg in record["pictures"]["preload_no_cure"].values() if svg][:1],
            "terms": list(terms.values()),
            "yours": [one for one in _cautions(record) if one["step"] == RIDERS_STEP],
            "workshop": [one for one in _cautions(record) if one["step"] != RIDERS_STEP],
            "columns": columns(record),
            "load_cases": layout.load_cases(record),
            "shared": shared,
        },
    )


def _cautions(record: Mapping[str, Any]) -> list[dict[str, str]]:
    return [{**one, "level": LEVELS[one["word"]]} for one in layout.cautions_by_word(record["cautions"])]


def _end(record: Mapping[str, Any], end: str) -> dict[str, Any] | None:
    rows, said = layout.table(record, end), layout.verdicts(record, end)
    if not rows:
        return None
    return {
        "title": TITLES[end],
        "rows": rows,
        "verdicts": said,
        "feel": layout.feel(record, end),
        "picture": drawing(record["pictures"][end]),
    }
