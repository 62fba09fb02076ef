"""A bike goes to another owner: its technical history stays, the former owner is kept from it."""

from __future__ import annotations

from django.db import transaction
from django.utils import timezone

from calc.words import say
from setups.bike_models import OwnerChange
from setups.models import Bike, Customer
from setups.verbs.bikes import require_not_merged
from shops import trail, versions
from shops.access import everywhere
from shops.refusals import wrong
from shops.trail import Actor

LONGEST_REASON = 300


@transaction.atomic
def change_owner(
    actor: Actor,
    bike: Bike,
    version: int,
    *,
    owner: Customer | None,
    reason: str,
    plate: str | None = None,
    notes: str = "",
) -> OwnerChange:
    """Give `bike` to `owner` (None: not known yet), and keep the former one from its history from now on.

    What a technician no longer reads is in `setups.former_owner`. `plate` replaces the plate where a new one
    came with the owner; `notes` is what stays of the bike's notes, the rest is put aside. The reason stays in
    the trail, which holds ids and never a name. Raises Refusal without a reason or a change, Stale.
    """
    require_not_merged(bike)
    why = said(reason)
    bike = everywhere(Bike, why="a bike already held").select_for_update().get(pk=bike.pk)
    versions.require(bike, version)
    if bike.owner == owner:
        raise wrong("owner", "unchanged", say("This is the bike's owner already."))
    change = OwnerChange.objects.create(
        bike=bike,
        former=bike.owner,
        new=owner,
        notes=bike.notes,
        reason=why,
        by=actor.person,
        at=timezone.now(),
    )
    wanted = {"owner": owner, "notes": notes} | ({} if plate is None else {"plate": plate})
    before, after = trail.changes(bike, wanted)
    for name, value in wanted.items():
        setattr(bike, name, value)
    versions.save(bike, version, list(wanted))
    trail.record(actor, "change owner", bike, before, after, reason=why)
    return change


def said(reason: str) -> str:
    """Return a reason as it is kept; refuse a missing one."""
    why = reason.strip()
    if not why or len(why) > LONGEST_REASON:
        raise wrong("reason", "no_reason", say(
            "Say why, in 1 to {longest_reason} characters; name nobody.",
            longest_reason=LONGEST_REASON,
        ))
    return why
