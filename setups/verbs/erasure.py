"""Erasing a customer's personal data on request."""

from __future__ import annotations

from django.db import transaction
from django.utils.translation import gettext as _

from setups.data import journal
from setups.data.forgetting import forget_customer
from setups.models import Customer, Erasure
from setups.naming import names_customer
from setups.record.correction import LONGEST_TEXT
from shops import trail
from shops.access import everywhere
from shops.refusals import blocked, wrong
from shops.trail import Actor


@transaction.atomic
def erase_customer(actor: Actor, customer: Customer, *, why: str) -> Customer:
    """Erase all that is personal of a customer: names, how to reach them, masses, plates, notes, links, stored PDFs.

    The cards' technical part and the sealed records stay and hold. The trail keeps that it was done and why. Raises
    Refusal without a reason, or for one that names the customer, and Blocked where it was done before.
    """
    held = everywhere(Customer, why="a customer already held").select_for_update().get(pk=customer.pk)
    if held.erased_at is not None:
        raise blocked("erased", _("This customer’s personal data are erased already."))
    _check_reason(held, why)
    counts = forget_customer(held)
    erasure = Erasure.objects.create(business_id=held.business_id, customer=held, by=actor.person)
    journal.note(erasure)
    trail.record(actor, "erase customer", held, None, counts, reason=why.strip())
    held.refresh_from_db()
    return held


def _check_reason(customer: Customer, why: str) -> None:
    if not why.strip() or len(why) > LONGEST_TEXT:
        raise wrong("why", "no_reason", _("Say why, in 1 to {most} characters.").format(most=LONGEST_TEXT))
    if names_customer(customer, why):
        raise wrong("why", "personal", _("The reason names the customer, and the trail keeps it for ever."))
