"""Tablets that several people share: enrolled by somebody fully signed in, revoked by a manager."""

from __future__ import annotations

from django.db import transaction
from django.utils import timezone

from shops import trail, versions
from shops.access import everywhere
from shops.keys import Tablet
from shops.models import Person
from shops.tokens import digest, new_secret

COOKIE = "coilbook_tablet"
"""The name of the cookie in which a device keeps its token."""


@transaction.atomic
def enrol(actor: trail.Actor, name: str) -> tuple[Tablet, str]:
    """Enrol a device of the actor's shop, and return it with its token, which only the device keeps."""
    token = new_secret()
    tablet = Tablet.objects.create(
        shop_id=actor.person.shop_id, name=name, token_sha256=digest(token), enrolled_by=actor.person
    )
    trail.record(actor, "enrol tablet", tablet, None, {"name": name})
    return tablet, token


@transaction.atomic
def revoke(actor: trail.Actor, tablet: Tablet) -> Tablet:
    """Let a tablet go: its sessions end, and nobody changes hands on it any more. Twice changes nothing."""
    if tablet.revoked_at is None:
        tablet.revoked_at = timezone.now()
        versions.save(tablet, tablet.version, ["revoked_at"])
        trail.record(actor, "revoke tablet", tablet, None, {"revoked_at": tablet.revoked_at})
    return tablet


def revoke_all_of(actor: trail.Actor, person: Person) -> None:
    """Let go of every tablet that `person` enrolled: the person's own devices may be among them."""
    for tablet in everywhere(Tablet, why="a person leaves").filter(enrolled_by=person, revoked_at=None):
        revoke(actor, tablet)


def of_token(token: str) -> Tablet | None:
    """Return the enrolled tablet that holds `token`; None if there is none, or no longer."""
    if not token:
        return None
    return (
        everywhere(Tablet, why="a tablet shows itself before anybody is signed in")
        .filter(token_sha256=digest(token), revoked_at=None)
        .select_related("shop")
        .first()
    )


def is_this(tablet_id: int, token: str) -> bool:
    """Tell whether the tablet of a session is still enrolled and holds `token`."""
    return (
        everywhere(Tablet, why="a session on a tablet")
        .filter(pk=tablet_id, token_sha256=digest(token), revoked_at=None)
        .exists()
    )
