"""The customer's page of an estimate: what it will cost, and two buttons. Laid out from what was frozen for it."""

from __future__ import annotations

from typing import Any

from django.template.loader import render_to_string
from django.utils import translation
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from setups import estimates
from setups.approval_models import EstimateAsk
from setups.record.layout import when
from shops import money
from shops.language import here

KIND_WORDS = {"labour": gettext_lazy("Labour"), "parts": gettext_lazy("Parts")}


def page_of(ask: EstimateAsk) -> dict[str, Any]:
    """Return the page that an estimate's link shows, in the shop's language: its title and its HTML fragment."""
    with translation.override(ask.card.shop.language):
        return _page(ask)


def _page(ask: EstimateAsk) -> dict[str, Any]:
    card = ask.card
    zone = card.shop.time_zone
    title = _("Estimate for {bike}").format(bike=card.bike) if card.bike is not None else _("Estimate")
    changed = not ask.answer and ask.digest != estimates.present_digest(card)
    sealed = card.step == card.Step.SEALED
    context = {
        "title": title,
        "business": card.business,
        "shop": card.shop,
        "number": card.number,
        "lines": [
            {"kind": KIND_WORDS[line["kind"]], "text": line["text"], "amount": _amount(line["amount_minor"], ask)}
            for line in ask.lines
        ],
        "total": _amount(estimates.total_minor(ask.lines), ask),
        "answer": ask.answer,
        "answered": when(ask.answered_at.isoformat(), zone, with_time=True) if ask.answered_at else "",
        "changed": changed,
        "open": not (ask.answer or changed or sealed),
        "made_on": when(ask.made_at.isoformat(), zone),
        "until": when(ask.expires_at.isoformat(), zone),
    }
    return {"title": title, "html": render_to_string("record/estimate.html", context), "language": here()}


def _amount(minor: int, ask: EstimateAsk) -> str:
    return money.written(minor, ask.currency)
