"""What ends at once when somebody leaves: every way in. What the person signed off stays, with the name."""

from __future__ import annotations

from django.utils import timezone

from shops import pins, tablets, trail, versions
from shops.access import everywhere
from shops.keys import Invitation, Recovery, RecoveryCode, SecondFactor
from shops.models import Person


def shut_out(actor: trail.Actor, person: Person) -> None:
    """Take back what `person` could come in by, or had given out; call it in the transaction of the leaving."""
    pins.take_away(actor, person)
    tablets.revoke_all_of(actor, person)
    everywhere(SecondFactor, why="a person leaves").filter(person=person).delete()
    everywhere(RecoveryCode, why="a person leaves").filter(person=person).delete()
    now = timezone.now()
    close_recoveries(person)
    open_ones = everywhere(Invitation, why="a person leaves").filter(
        made_by=person, accepted_at=None, revoked_at=None
    )
    for invitation in open_ones:
        invitation.revoked_at = now
        versions.save(invitation, invitation.version, ["revoked_at"])
        trail.record(actor, "revoke invitation", invitation, None, {"revoked_at": now})


def close_recoveries(person: Person) -> None:
    """Close every way to a new password that is still open: one may lie in a mailbox that is not the person's now."""
    open_ones = everywhere(Recovery, why="one person's own").filter(person=person, used_at=None)
    open_ones.filter(expires_at__gt=timezone.now()).update(expires_at=timezone.now())
