"""The one shape of an audit's rows, and the text that a file's cell has of it."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.utils.translation import gettext as _

from calc.words import number
from setups.models import JobCard
from setups.whole_card import bike_title, moment

Row = dict[str, Any]


def blank(key: int) -> Row:
    """Return a row of which nothing is told yet."""
    return {
        "id": key, "at": None, "shop_name": "", "card": None, "card_number": "", "bike": "", "who": "", "address": "",
        "text": "", "why": "", "changes": [], "figures": None,
    }  # fmt: skip


def of_card(key: int, card: JobCard, at: datetime, text: str, *, who: str = "") -> Row:
    """Return a row about a card."""
    return {
        **blank(key),
        "at": moment(at),
        "shop_name": card.shop.name,
        "card": card.pk,
        "card_number": card.number,
        "bike": bike_title(card.bike) or card.loose_description,
        "who": who,
        "text": text,
    }


def cell(row: Row, column: str) -> Any:
    """Return what stands in a file's cell: a figure, a text, or the changes in words."""
    if column == "changed":
        return "; ".join(f"{one['label']}: {said(one['old'])} → {said(one['new'])}" for one in row["changes"])
    if column in row:
        return row[column]
    return (row["figures"] or {}).get(column)


def said(value: Any) -> str:
    """Return a changed value as text; nothing is a dash."""
    if value is None or value == "":
        return "–"
    if isinstance(value, bool):
        return _("yes") if value else _("no")
    return number(value, "g") if isinstance(value, int | float) else str(value)
