"""Links through which a customer reads one card's record: made, revoked, opened. Only a hash of the secret
is kept."""

from __future__ import annotations

import secrets
from datetime import timedelta

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from calc.refusal import Problem, Refusal
from setups.models import CustomerLink, JobCard, LinkOpening, SealedRecord
from setups.record.canonical import digest
from shops import trail
from shops.access import everywhere

LONGEST_DAYS = 366
SECRET_BYTES = 32


def share(actor: trail.Actor, card: JobCard, *, days: int, share_mass: bool) -> tuple[CustomerLink, str]:
    """Make a link to a sealed card's record, and return it with its secret, which is shown this once and
    never kept.

    The secret has 256 random bits. Raises Refusal when the card is not sealed or `days` lies outside 1 to
    366.
    """
    if not 1 <= days <= LONGEST_DAYS:
        text = _("{days} days: a link lives between 1 and {most} days.").format(days=days, most=LONGEST_DAYS)
        raise Refusal(Problem("days", "out_of_band", text, days, "days", 1, LONGEST_DAYS))
    with transaction.atomic():
        if not card.records.filter(what=SealedRecord.What.CARD).exists():
            raise Refusal(Problem("", "not_sealed", _("The card is not sealed yet: there is no record to share.")))
        secret = secrets.token_urlsafe(SECRET_BYTES)
        link = CustomerLink.objects.create(
            card=card,
            secret_sha256=digest(secret),
            share_mass=share_mass,
            expires_at=timezone.now() + timedelta(days=days),
            made_by=actor.person,
        )
        after = {"card": card.pk, "expires_at": link.expires_at.isoformat(), "share_mass": share_mass}
        trail.record(actor, "share record", link, None, after)
    return link, secret


def revoke(actor: trail.Actor, link: CustomerLink) -> CustomerLink:
    """Revoke a link at once; revoking twice changes nothing."""
    with transaction.atomic():
        held = everywhere(CustomerLink, why="the caller holds this row").select_for_update().get(pk=link.pk)
        if held.revoked_at is None:
            held.revoked_at = timezone.now()
            held.save(update_fields=["revoked_at"])
            trail.record(
                actor,
                "revoke link",
                held,
                None,
                {"card": held.card_id, "revoked_at": held.revoked_at.isoformat()},
            )
    return held


def open_link(secret: str, address: str | None) -> CustomerLink | None:
    """Return the link that `secret` opens and log the opening; None, whether unknown, expired or revoked."""
    with transaction.atomic():
        link = (
            everywhere(CustomerLink, why="a customer link names no person")
            .filter(secret_sha256=digest(secret), revoked_at=None, expires_at__gt=timezone.now())
            .select_related("card__shop")
            .first()
        )
        if link is not None:
            LinkOpening.objects.create(link=link, address=address)
    return link
