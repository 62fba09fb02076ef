"""What can be done to a business's kinds of bike."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from django.db import transaction

from calc.bands import BANDS
from calc.checks import Findings
from calc.refusal import Problem
from calc.words import say
from setups.kinds import COMMON_PRACTICE, USUAL, kept_source
from setups.limits import PERCENT
from setups.models import KindOfBike
from setups.verbs.guard import change, check_bands
from shops.models import Business
from shops.trail import Actor

NUMBERS = (
    "static_low_percent",
    "static_high_percent",
    "rider_low_percent",
    "rider_high_percent",
    "unsprung_kg",
)


def start_kinds(business: Business) -> None:
    """Give a new business the usual kinds; those it has already stay as they are."""
    held = set(business.kinds.values_list("kind", "end"))
    KindOfBike.objects.bulk_create(
        KindOfBike(business=business, kind=kind, end=end, source=COMMON_PRACTICE, **asdict(usual))
        for (kind, end), usual in USUAL.items()
        if (kind, end) not in held
    )


@transaction.atomic
def change_kind(actor: Actor, row: KindOfBike, version: int, values: Mapping[str, Any]) -> KindOfBike:
    """Change the sag bands or the unsprung mass that the business takes as usual for one kind at one end."""
    check_bands(values, {**dict.fromkeys(NUMBERS, PERCENT), "unsprung_kg": BANDS["front.unsprung_kg"]})
    wanted = {name: values.get(name, getattr(row, name)) for name in NUMBERS}
    findings = Findings()
    for sag in ("static", "rider"):
        low, high = wanted[f"{sag}_low_percent"], wanted[f"{sag}_high_percent"]
        if high <= low:
            text = say(
                "The {sag} sag band ends at {high:g} %, not above its start at {low:g} %: are the two swapped?",
                sag=say(sag), high=high, low=low,
            )
            findings.problems.append(
                Problem(f"{sag}_high_percent", "band_swapped", text, high, "%", low, 100)
            )
    if wanted["static_high_percent"] > wanted["rider_low_percent"]:
        text = say(
            "The static sag band reaches {static_high_percent:g} %, into the rider sag band from "
            "{rider_low_percent:g} %: the rider always adds sag.",
            static_high_percent=wanted["static_high_percent"], rider_low_percent=wanted["rider_low_percent"],
        )
        findings.problems.append(
            Problem(
                "static_high_percent",
                "bands_overlap",
                text,
                wanted["static_high_percent"],
                "%",
                0,
                wanted["rider_low_percent"],
            )
        )
    findings.raise_any()
    if "source" in values:
        values = {**values, "source": kept_source(values["source"])}
    return change(actor, "change kind", row, version, values)
