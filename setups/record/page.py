"""The customer's page: a sealed record in plain words, for a phone, as a fragment of HTML."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from django.template.loader import render_to_string
from django.utils import translation
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from calc.units import FACTORS
from setups.figures import as_read, converts, figure
from setups.models import CustomerLink, SealedRecord
from setups.record import layout
from setups.record.forces import forces
from setups.record.pdf import LEVELS, SIGNAL_WORDS, columns, drawing, facts, is_planned, loose_words
from setups.record.reading import Sealed, links_of, read
from setups.writing import DRAWN

TITLES = {"front": gettext_lazy("The fork, in front"), "rear": gettext_lazy("The shock, at the back")}
RIDERS_STEP = "handed_over"
TERMS = {
    "static_sag": gettext_lazy("Static sag: how far the bike sinks under its own weight."),
    "rider_sag": gettext_lazy("Rider sag: how far it sinks with the rider on, in full kit. It sets how the bike sits."),
    "preload": gettext_lazy(
        "Preload: how far the spring is squeezed before any weight is on it. It sets the height at which you ride. "
        "It does not make the spring stiffer."
    ),
    "air_gap": gettext_lazy(
        "Air gap: the room between oil and cap in the fork. Less room makes the last part of the travel harder."
    ),
    "rebound": gettext_lazy("Rebound: how fast it comes back out after a bump. Turning the clicker in slows it down."),
    "compression": gettext_lazy(
        "Compression: how much it resists being pushed in. Turning the clicker in makes it firmer."
    ),
    "high_speed_compression": gettext_lazy("Fast compression: the same for sharp hits, such as stones and landings."),
    "tyre_pressure": gettext_lazy(
        "Tyre pressure: read cold. It changes the feel as much as a few clicks do, so check it first."
    ),
}
"""What each term means to a rider (common practice, no source)."""
SPRING_RATE = {
    "N/mm": gettext_lazy(
        "Spring rate: how many newtons it takes to press the spring in by one millimetre. A higher number is a "
        "stiffer spring. Stiff enough for the rider is right; stiffer is not better."
    ),
    "kgf/mm": gettext_lazy(
        "Spring rate: how many kilograms of force it takes to press the spring in by one millimetre. A higher number "
        "is a stiffer spring. Stiff enough for the rider is right; stiffer is not better."
    ),
    "lbf/in": gettext_lazy(
        "Spring rate: how many pounds of force it takes to press the spring in by one inch. A higher number is a "
        "stiffer spring. Stiff enough for the rider is right; stiffer is not better."
    ),
}
METRIC = {quantity: next(iter(units)) for quantity, units in FACTORS.items()}
INCHES_AND_POUNDS = {
    "rate": "lbf/in",
    "length": "in",
    "mass": "lb",
    "force": "lbf",
    "volume": "fl oz",
    "pressure": "psi",
    "torque": "lbf·ft",
}
AXLES = {
    ("front", "static_kg"): gettext_lazy("Front axle, the bike alone"),
    ("front", "rider_kg"): gettext_lazy("Front axle, with rider"),
    ("rear", "static_kg"): gettext_lazy("Rear axle, the bike alone"),
    ("rear", "rider_kg"): gettext_lazy("Rear axle, with rider"),
}


def page_of(link: CustomerLink) -> dict[str, Any]:
    """Return the page that an open link shows, in the record's language: its title and its HTML fragment.

    `other` is the same fragment in the other system of units, for a page that switches in place.
    """
    links = links_of(link.card)
    sealed = read(links)
    metric = {**METRIC, **sealed.shown_in} == METRIC
    other = read(links, INCHES_AND_POUNDS if metric else METRIC)
    shared = links[0] if link.share_mass else None
    with translation.override(sealed.language):
        named = title(sealed)
    return {
        "title": named,
        "language": sealed.language,
        "html": html(sealed, shared),
        "other": html(other, shared),
    }


def title(sealed: Sealed) -> str:
    """Return the page's title: the bike, or the part that was brought in."""
    bike, loose = sealed.record["bike"], sealed.record["loose"]
    if bike:
        return f"{bike['make']} {bike['model']}"
    named = loose_words(loose["what"]) if loose else _("Suspension record")
    return named[:1].upper() + named[1:]


def mass(record: SealedRecord) -> list[tuple[str, str]]:
    """Return the rider's mass and the axle loads that are not erased, for a link that shares them."""
    found = []
    values = {value.path: value.value for value in record.personal_values.filter(erased_at=None)}
    if (rider := values.get("public.rider.mass_in_kit_kg")) is not None:
        found.append((_("Rider in full kit"), figure(rider, "kg")))
    loads = json.loads(record.internal)["loads"]["received"]
    for (end, key), name in AXLES.items():
        value = values.get(f"internal.loads.received.{end}.{key}")
        if value is not None:
            source = layout.origin({"from": loads[end]["from"]})
            found.append((str(name), f"{figure(value, 'kg')} ({source})"))
    return found


def html(sealed: Sealed, shared: SealedRecord | None = None) -> str:
    """Return the page's fragment; `shared` is the record whose rider's mass and axle loads the link shares."""
    with as_read(sealed.language, sealed.shown_in):
        return _html(sealed, mass(shared) if shared is not None else [])


def _html(sealed: Sealed, shared: list[tuple[str, str]]) -> str:
    record = sealed.record
    zone = record["shop"]["time_zone"]
    ends = [found for end in TITLES if (found := _end(record, end))]
    words = {**TERMS, "spring": SPRING_RATE[sealed.shown_in.get("rate", "N/mm")]}
    terms = {row.key: words[row.key] for end in ends for row in end["rows"] if row.key in words}
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
            "attitude": drawing(record["pictures"].get("attitude")),
            "terms": list(terms.values()),
            "yours": [one for one in _cautions(record) if one["step"] == RIDERS_STEP],
            "workshop": [one for one in _cautions(record) if one["step"] != RIDERS_STEP],
            "columns": columns(record, for_customer=True),
            "load_cases": layout.load_cases(record),
            "shared": shared,
            "converted": converts(),
            "drawn_in": _drawn_in(sealed),
        },
    )


def _drawn_in(sealed: Sealed) -> str:
    """Return the units of the sealed pictures, where they are not the page's."""
    own = {**METRIC, **sealed.record.get("shown_in", {})}
    differ = any(own[quantity] != {**METRIC, **sealed.shown_in}[quantity] for quantity in DRAWN)
    return ", ".join(own[quantity] for quantity in DRAWN) if differ else ""


def _cautions(record: Mapping[str, Any]) -> list[dict[str, Any]]:
    return [
        {**one, "level": LEVELS[one["word"]], "said": SIGNAL_WORDS[one["word"]]}
        for one in layout.cautions_by_word(record["cautions"])
    ]


def _end(record: Mapping[str, Any], end: str) -> dict[str, Any] | None:
    rows, said = layout.table(record, end), layout.verdicts(record, end)
    if not rows:
        return None
    return {
        "title": str(TITLES[end]),
        "rows": rows,
        "verdicts": said,
        "feel": layout.feel(record, end),
        "picture": drawing(record["pictures"][end]),
        "forces": forces(record["pictures"][end]),
        "planned": is_planned(record["pictures"][end]),
    }
