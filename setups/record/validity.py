"""Tells whoever holds a printed record whether it is valid, and nothing of what it says."""

from __future__ import annotations

from django.utils import translation
from django.utils.html import format_html
from django.utils.translation import gettext as _

from setups.models import SealedRecord
from setups.record.layout import when
from setups.record.verify import first_failure
from shops.access import everywhere
from shops.language import here


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
        return _page(_("No such record"), _("No record with this number and head was sealed here."))
    with translation.override(record.shop.language):
        return _of(record, head, why)


def _of(record: SealedRecord, head: str, why: str) -> dict[str, str]:
    number = record.number
    chain = everywhere(SealedRecord, why=why).filter(shop=record.shop_id, number__lte=number).order_by("number")
    failure = first_failure(chain.iterator(chunk_size=100), {number: head})
    where = {"number": number, "business": record.shop.business, "shop": record.shop}
    if failure is not None:
        text = _("Record no. {number} of {business}, {shop}: what is stored is not what was sealed.")
        return _page(_("Not valid"), text.format(**where))
    day = when(record.sealed_at.isoformat(), record.shop.time_zone)
    text = _("Record no. {number} of {business}, {shop}, was sealed on {day} and is unchanged.")
    if everywhere(SealedRecord, why=why).filter(card=record.card_id, number__gt=number).exists():
        text += " " + _("It was amended later: ask the shop for the newest.")
    return _page(_("Valid"), text.format(**where, day=day))


def _page(word: str, text: str) -> dict[str, str]:
    html = format_html('<section><h1 class="rec-validity">{}</h1><p>{}</p></section>', word, text)
    return {"title": word, "html": str(html), "language": here()}
