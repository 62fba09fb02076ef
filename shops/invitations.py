"""Inviting somebody by e-mail: the link opens once, for a week, and makes the person."""

from __future__ import annotations

from datetime import timedelta

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from shops import trail, versions
from shops.access import ScopedQuerySet, everywhere, rows
from shops.keys import Invitation
from shops.models import Person, Shop
from shops.refusals import blocked, wrong
from shops.tokens import digest, new_secret
from shops.verbs import free_email, give_password, may_give_role, require_own_shop

OPEN_FOR = timedelta(days=7)


@transaction.atomic
def invite(actor: trail.Actor, *, email: str, role: str, shop: Shop) -> tuple[Invitation, str]:
    """Invite somebody to a shop, and return the invitation with its secret, shown this once.

    The rules are those of adding a person: a manager for the own shop only, an owner by an owner only.
    """
    may_give_role(actor, role)
    require_own_shop(actor, shop)
    address = email.strip().lower()
    # Whether somebody of another business signs in with it is theirs to know: it shows when the link is used.
    if rows(Person, actor.person).filter(email=address).exists():
        raise wrong("email", "taken", _("Somebody of this business signs in with this e-mail address."))
    secret = new_secret()
    invitation = Invitation.objects.create(
        shop=shop, email=address, role=role, secret_sha256=digest(secret), made_by=actor.person,
        expires_at=timezone.now() + OPEN_FOR,
    )  # fmt: skip
    after = {"email": address, "role": role, "shop": shop, "expires_at": invitation.expires_at}
    trail.record(actor, "invite", invitation, None, after)
    return invitation, secret


@transaction.atomic
def revoke(actor: trail.Actor, invitation: Invitation) -> Invitation:
    """Take an invitation back; twice changes nothing, and one taken up stays."""
    if invitation.accepted_at is not None:
        raise blocked("accepted", _("This invitation was taken up already: change the person instead."))
    if invitation.revoked_at is None:
        invitation.revoked_at = timezone.now()
        versions.save(invitation, invitation.version, ["revoked_at"])
        trail.record(actor, "revoke invitation", invitation, None, {"revoked_at": invitation.revoked_at})
    return invitation


def of_secret(secret: str) -> Invitation | None:
    """Return the invitation that `secret` opens now; None, whether unknown, used, expired or taken back."""
    return _open(secret).select_related("shop__business", "made_by").first()


def _open(secret: str) -> ScopedQuerySet[Invitation]:
    # Whoever invited must still be one who may.
    return everywhere(Invitation, why="an invitation names no person yet").filter(
        secret_sha256=digest(secret), accepted_at=None, revoked_at=None, expires_at__gt=timezone.now(),
        made_by__is_active=True, made_by__role__in=[Person.Role.MANAGER, Person.Role.OWNER],
    )  # fmt: skip


@transaction.atomic
def accept(secret: str, *, name: str, password: str, address: str | None) -> Person | None:
    """Take an invitation up and return the new person; None where the secret opens nothing (any more)."""
    invitation = of_secret(secret)
    if invitation is None:
        return None
    person = Person(
        business_id=invitation.shop.business_id, shop=invitation.shop, name=name, role=invitation.role,
        email=free_email(invitation.email),
    )  # fmt: skip
    give_password(person, password)
    # Of two that come with one secret, the row lets one through.
    if not _open(secret).update(accepted_at=timezone.now(), version=invitation.version + 1):
        return None
    person.save()
    after = {"person": person.pk, "role": invitation.role}
    trail.record(trail.Actor(person, address), "accept invitation", invitation, None, after)
    return person
