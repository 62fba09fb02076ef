"""Collects what a card's record is made of from the live rows, once, inside the sealing transaction."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from calc.picture import picture
from setups import sums
from setups.ahead.cases import each_load
from setups.ahead.stand import sitting
from setups.figures import as_read, retold
from setups.models import JobCard
from setups.no_cure import softer
from setups.record.document import ENDS, STAGES, Gathered
from setups.whole_card import whole_card
from setups.writing import writing_of
from shops.access import everywhere
from shops.language import here
from shops.models import AuditEntry, Shop

NO_CURE = {
    "front": gettext_lazy("Fork: why preload is no cure for a soft spring"),
    "rear": gettext_lazy("Shock: why preload is no cure for a soft spring"),
}


def gather(card: JobCard) -> Gathered:
    """Return everything the record of `card` is made of, as plain values."""
    plain = whole_card(card)
    sides = sums.sides(card)
    return Gathered(
        card=plain,
        sides={stage: {end: _side(sides[stage][end]) for end in ENDS} for stage in STAGES},
        inputs={stage: {end: sides[stage][end].request for end in ENDS} for stage in STAGES},
        shop=shop_facts(card.shop),
        no_cure={end: _no_cure(sides, end, card.shop.units) for end in ENDS},
        attitude=_attitude(card),
        trail=_trail(card),
        load_cases={end: _load_cases(card, end) for end in ENDS} if card.cases else {},
    )


def _attitude(card: JobCard) -> str | None:
    with as_read(here(), card.shop.units):
        svg: str | None = sitting(card, {})["svg"]
        return svg


def _load_cases(card: JobCard, end: str) -> dict[str, Any] | None:
    """Return the preload of each load case with the springs as built; None where that was not worked out."""
    found = each_load(card, end)
    if found["stage"] != "built" or not found["cases"]:
        return None
    return {"cases": found["cases"], "text": found["text"]}


def _side(side: sums.Side) -> dict[str, Any]:
    plain = side.as_dict()
    return {"result": plain["result"], "verdict": plain["verdict"]}


def shop_facts(shop: Shop) -> dict[str, Any]:
    """Return what a record states of its shop."""
    return {
        "business": shop.business.name,
        "name": shop.name,
        "code": shop.code,
        "address": shop.address,
        "phone": shop.phone,
        "time_zone": shop.time_zone,
        "paper": shop.paper,
        "language": shop.language,
        "units": shop.units,
    }


def _trail(card: JobCard) -> list[int]:
    """Return the numbers of the trail's lines about the card itself: references, never what they hold."""
    entries = everywhere(AuditEntry, why="the trail of a card that the caller holds").filter(
        business_id=card.business_id, subject=JobCard._meta.model_name, subject_id=card.pk
    )
    return sorted(entries.values_list("pk", flat=True))


def _no_cure(sides: Mapping[str, Any], end: str, units: Mapping[str, str]) -> str | None:
    """Draw the springs as built beside softer ones wound up to the same rider sag, the loads' lines left
    out."""
    side: sums.Side = sides["built"][end]
    if side.result is None or side.request is None:
        return None
    compared = softer(end, side.request, side.result)
    if compared is None:
        return None
    soft, text = compared
    with as_read(here(), units):
        text = retold(text)
    shown = (("soft_wound_up", _("softer, wound up"), soft), ("built", _("built"), side.result))
    return picture(
        {
            "end": end,
            "title": str(NO_CURE[end]),
            "description": text,
            "load_static_n": None,
            "load_rider_n": None,
            "traces": [
                {
                    "role": role,
                    "label": label,
                    "curve": result["curve"],
                    "static_sag_mm": result["static_sag_mm"],
                    "rider_sag_mm": result["rider_sag_mm"],
                }
                for role, label, result in shown
            ],
            **writing_of(units),
        }
    )
