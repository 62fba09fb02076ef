"""Erases the personal values of a sealed card; the record and its digests hold on without them."""

from __future__ import annotations

from django.db import transaction
from django.utils.translation import gettext as _

from setups.data import journal
from setups.data.forgetting import forget_record
from setups.models import Erasure, JobCard
from setups.record.correction import LONGEST_TEXT
from shops import trail
from shops.refusals import blocked, wrong


@transaction.atomic
def erase(actor: trail.Actor, card: JobCard, *, why: str) -> int:
    """Erase every personal value that the card's record commits to, and return how many.

    Value and salt go, so that the commitment left in the document tells nothing. PDFs stored with a name on
    them go too and are laid out anew without it. The trail keeps that it was done and why, never what was
    erased. Raises Refusal without a reason, Blocked where nothing is sealed.
    """
    if not why.strip() or len(why) > LONGEST_TEXT:
        raise wrong("why", "no_reason", _("Say why, in 1 to {most} characters.").format(most=LONGEST_TEXT))
    if not card.records.exists():
        raise blocked(
            "not_sealed", _("Card {card} is not sealed: there is no record to erase from.").format(card=card.number)
        )
    erased = forget_record(card)
    journal.note(Erasure.objects.create(business_id=card.business_id, card=card, by=actor.person))
    trail.record(actor, "erase personal values", card, None, {"values": erased}, reason=why.strip())
    return erased
