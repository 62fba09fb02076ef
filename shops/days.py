"""Days written as a reader of the active language writes them."""

from __future__ import annotations

from datetime import date

from django.utils.dateformat import format as formatted
from django.utils.translation import pgettext


def written(day: date, *, short: bool = False) -> str:
    """Write a day, or the day of a moment in its own time zone; `short` cuts the month's name to three letters."""
    # The forms are Django's: j the day, F the month's name, M the same cut short, Y the year.
    return formatted(day, pgettext("a day, the month cut short", "j M Y") if short else pgettext("a day", "j F Y"))
