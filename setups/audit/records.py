"""The sealed records in the audit, and their PDFs by the slice: a first PDF takes a moment, many take minutes."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.db.models import QuerySet
from django.utils.translation import gettext as _

from setups.audit.asked import Asked
from setups.audit.row import Row, of_card
from setups.models import SealedRecord
from setups.record import pdf
from shops.access import rows

SLICE = 4


def find(asked: Asked) -> QuerySet[Any]:
    """Find the cards sealed in the days asked for, the latest first."""
    return (
        rows(SealedRecord, asked.person)
        .filter(what=SealedRecord.What.CARD, **asked.within("sealed_at", "shop"))
        .select_related("card__shop", "card__bike", "sealed_by")
        .order_by("-sealed_at", "-id")
    )


def tell(asked: Asked, found: Sequence[SealedRecord]) -> list[Row]:
    """Tell each with its number in the shop's chain."""

    def text(one: SealedRecord) -> str:
        return _("Record {number}.").format(number=one.number)

    return [of_card(one.pk, one.card, one.sealed_at, text(one), who=one.sealed_by.name) for one in found]


def make_slice(asked: Asked, done: int, address: str) -> dict[str, int]:
    """Make and store the PDFs of the next few records after the first `done`; say how many are `made` of the `whole`.

    One that was stored before costs nothing. Whoever calls it off between two slices leaves nothing unfinished.
    """
    found = find(asked)
    for record in found[done : done + SLICE]:
        pdf.pdf_of(pdf.record_to_print(record.card, None), address)
    whole = found.count()
    return {"made": min(done + SLICE, whole), "whole": whole}
