"""A new password for somebody who forgot the old one: by mail, or by a link that a manager hands over."""

from __future__ import annotations

from datetime import timedelta

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from shops import trail
from shops.access import ScopedQuerySet, everywhere
from shops.keys import Recovery
from shops.models import Person
from shops.refusals import blocked
from shops.tokens import digest, new_secret
from shops.verbs import give_password, may_give_role

OPEN_FOR = timedelta(hours=1)
_KEPT = timedelta(days=7)


@transaction.atomic
def ask(email: str, address: str | None) -> tuple[Person | None, str]:
    """Return who signs in with `email`, None where nobody does, and the secret of a new way in.

    Both cases do the same work, so that neither the answer nor the time tells which it was.
    """
    now, secret = timezone.now(), new_secret()
    everywhere(Recovery, why="upkeep").filter(expires_at__lt=now - _KEPT).delete()
    person = (
        everywhere(Person, why="nobody is signed in")
        .filter(email=email.strip().lower(), is_active=True)
        .select_related("shop")
        .first()
    )
    held = Recovery.objects.create(person=person, secret_sha256=digest(secret), expires_at=now + OPEN_FOR)
    if person is not None:
        trail.observe(person, "ask for a new password", person, address, {"recovery": held.pk})
    return person, secret


@transaction.atomic
def issue(actor: trail.Actor, person: Person) -> tuple[Recovery, str]:
    """Make a way to a new password that the actor hands to `person`, with its secret, shown this once."""
    may_give_role(actor, person.role)
    if not person.is_active:
        raise blocked("has_left", _("{name} has left: let the person sign in again first.").format(name=person.name))
    secret = new_secret()
    held = Recovery.objects.create(
        person=person, secret_sha256=digest(secret), made_by=actor.person, expires_at=timezone.now() + OPEN_FOR
    )
    trail.record(actor, "issue recovery link", person, None, {"recovery": held.pk, "expires_at": held.expires_at})
    return held, secret


@transaction.atomic
def use(secret: str, password: str, address: str | None) -> Person | None:
    """Give the person of `secret` a new password and end all sessions; None where the secret opens nothing."""
    held = _open(secret).select_related("person").first()
    if held is None or held.person is None:
        return None
    person = held.person
    give_password(person, password)
    if not _open(secret).update(used_at=timezone.now()):
        return None
    # Any other way that was asked for meanwhile is closed with this one.
    everywhere(Recovery, why="one person's own").filter(person=person, used_at=None).update(used_at=timezone.now())
    person.sessions_ended += 1
    person.version += 1
    person.save(update_fields=["password", "sessions_ended", "version"])
    trail.record(trail.Actor(person, address), "recover password", person, None, {"recovery": held.pk})
    return person


def _open(secret: str) -> ScopedQuerySet[Recovery]:
    return everywhere(Recovery, why="the secret alone says whose it is").filter(
        secret_sha256=digest(secret), used_at=None, expires_at__gt=timezone.now(), person__is_active=True
    )
