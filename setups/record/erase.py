"""Erases the personal values of a sealed card; the record and its digests hold on without them."""

from __future__ import annotations

from django.db import transaction
from django.utils import timezone

from setups.models import JobCard, PersonalValue, StoredPdf
from setups.record.correction import LONGEST_TEXT
from shops import trail
from shops.access import everywhere
from shops.refusals import blocked, wrong


@transaction.atomic
def erase(actor: trail.Actor, card: JobCard, *, why: str) -> int:
    """Erase every personal value that the card's record commits to, and return how many.

    Value and salt go, so that the commitment left in the document tells nothing. PDFs stored with a name on
    them go too and are laid out anew without it. The trail keeps that it was done and why, never what was
    erased. Raises Refusal without a reason, Blocked where nothing is sealed.
    """
    if not why.strip() or len(why) > LONGEST_TEXT:
        raise wrong("why", "no_reason", f"Say why, in 1 to {LONGEST_TEXT} characters.")
    links = list(card.records.order_by("number"))
    if not links:
        raise blocked("not_sealed", f"Card {card.number} is not sealed: there is no record to erase from.")
    reason = "rows of a card that the caller holds"
    values = everywhere(PersonalValue, why=reason).filter(record__in=links, erased_at=None)
    erased = values.update(value=None, salt="", erased_at=timezone.now())
    everywhere(StoredPdf, why=reason).filter(record__in=links).delete()
    trail.record(actor, "erase personal values", card, None, {"values": erased}, reason=why.strip())
    return erased
