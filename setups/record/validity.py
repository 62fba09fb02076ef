"""Tells whoever holds a printed record whether it is valid, and nothing of what it says."""

from __future__ import annotations

from django.utils.html import format_html

from setups.models import SealedRecord
from setups.record.layout import when
from setups.record.verify import first_failure
from shops.access import everywhere


def validity(number: int, head: str) -> dict[str, str]:
    """Return the page about the record of this number and head: shop, date and whether it is valid; nothing
    personal.

    The chain is recomputed from its first record up to this one.
    """
    why = "whoever holds a printed record may ask; only shop, number and date are told"
    record = (
        everywhere(SealedRecord, why=why)
        .filter(head=head.lower(), number=number)
        .select_related("shop__business")
        .first()
    )
    if record is None:
        return _page("No such record", "No record with this number and head was sealed here.")
    chain = everywhere(SealedRecord, why=why).filter(shop=record.shop_id, number__lte=number).order_by("number")
    failure = first_failure(chain.iterator(chunk_size=100), {number: head})
    where = f"Record no. {number} of {record.shop.business}, {record.shop}"
    if failure is not None:
        return _page("Not valid", f"{where}: what is stored is not what was sealed.")
    day = when(record.sealed_at.isoformat(), record.shop.time_zone)
    later = everywhere(SealedRecord, why=why).filter(card=record.card_id, number__gt=number).count()
    amended = " It was amended later: ask the shop for the newest." if later else ""
    return _page("Valid", f"{where}, was sealed on {day} and is unchanged.{amended}")


def _page(word: str, text: str) -> dict[str, str]:
    html = format_html('<section><h1 class="rec-validity">{}</h1><p>{}</p></section>', word, text)
    return {"title": word, "html": str(html)}
