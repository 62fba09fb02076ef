"""Links through which a customer reads one card's record: made, revoked, opened. Only a hash of the secret
is kept."""

from __future__ import annotations

from django.db import transaction
from django.utils.translation import gettext as _

from calc.refusal import Problem, Refusal
from setups.models import CustomerLink, JobCard, LinkOpening, SealedRecord
from shops import tokens, trail


def share(actor: trail.Actor, card: JobCard, *, days: int, share_mass: bool) -> tuple[CustomerLink, str]:
    """Make a link to a sealed card's record, and return it with its secret, which is shown this once and
    never kept.

    The secret has 256 random bits. Raises Refusal when the card is not sealed or `days` lies outside 1 to
    366.
    """
    until = CustomerLink.end_after(days)
    with transaction.atomic():
        if not card.records.filter(what=SealedRecord.What.CARD).exists():
            raise Refusal(Problem("", "not_sealed", _("The card is not sealed yet: there is no record to share.")))
        secret = tokens.new_secret()
        link = CustomerLink.objects.create(
            card=card,
            secret_sha256=tokens.digest(secret),
            share_mass=share_mass,
            expires_at=until,
            made_by=actor.person,
        )
        after = {"card": card.pk, "expires_at": link.expires_at.isoformat(), "share_mass": share_mass}
        trail.record(actor, "share record", link, None, after)
    return link, secret


def revoke(actor: trail.Actor, link: CustomerLink) -> CustomerLink:
    """Revoke a link at once; revoking twice changes nothing."""
    with transaction.atomic():
        if (since := link.revoke()) is not None:
            after = {"card": link.card_id, "revoked_at": since.isoformat()}
            trail.record(actor, "revoke link", link, None, after)
    return link


def open_link(secret: str, address: str | None) -> CustomerLink | None:
    """Return the link that `secret` opens and log the opening; None, whether unknown, expired or revoked."""
    with transaction.atomic():
        link = CustomerLink.opened_by(secret).select_related("card__shop").first()
        if link is not None:
            LinkOpening.objects.create(link=link, address=address)
    return link
