"""A bike that was entered twice becomes one, and two again where that was wrong."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django.db import transaction
from django.db.models import F
from django.utils import timezone

from calc.words import say
from setups.bike_models import BikeMerge, OwnerChange
from setups.models import Bike, JobCard
from setups.verbs.bikes import check_data
from setups.verbs.ownership import said
from shops import trail, versions
from shops.access import everywhere
from shops.refusals import blocked, wrong
from shops.trail import Actor

TAKEABLE = ("make", "model", "year", "kind", "plate", "frame_number", "front", "rear", "notes", "owner")
"""What the kept bike may take over from its twin."""
_WHY = "rows that hang on two bikes that the caller holds"


@transaction.atomic
def merge_bikes(
    actor: Actor,
    kept: Bike,
    twin: Bike,
    *,
    version: int,
    twin_version: int,
    take: Iterable[str] = (),
    reason: str,
) -> BikeMerge:
    """Make two entries of the same bike one: the twin's cards move to `kept`, the twin is hidden, not deleted.

    `take` names the fields in which the twin is right; where `kept` is blank it takes the twin's value anyhow.
    Sealed documents stay as they are: they hold copies, not the row. If the two had different owners, whoever
    is not the owner now is a former owner from now on, and kept from technicians as such. Raises Blocked where
    one of them is part of another bike, Refusal for one bike twice or fields that cannot be taken, Stale.
    """
    why = said(reason)
    if kept.pk == twin.pk:
        raise wrong("twin", "same_row", say("This is one entry, not two: choose the other one."))
    kept, twin = _locked(kept, twin)
    versions.require(kept, version)
    versions.require(twin, twin_version)
    for one in (kept, twin):
        if one.merged_into_id is not None:
            raise blocked("merged", say("{one} is already part of another bike.", one=one), "twin")
    merge = BikeMerge.objects.create(kept=kept, twin=twin, reason=why, by=actor.person)
    merge.taken = _take(kept, twin, take)
    changes = everywhere(OwnerChange, why=_WHY).filter(bike=twin)
    cards = everywhere(JobCard, why=_WHY).filter(bike=twin)
    merge.owner_changes = sorted(changes.values_list("pk", flat=True))
    merge.cards = sorted(cards.values_list("pk", flat=True))
    merge.save(update_fields=["taken", "owner_changes", "cards"])
    changes.update(bike=kept)
    cards.update(bike=kept, version=F("version") + 1)
    _note_two_owners(actor, merge, kept, twin, why)
    twin.merged_into = kept
    versions.save(twin, twin_version, ["merged_into"])
    moved = {"cards": merge.cards, "taken": sorted(merge.taken), "twin": twin.pk}
    trail.record(actor, "merge bikes", kept, None, moved, reason=why)
    return merge


@transaction.atomic
def undo_merge(actor: Actor, merge: BikeMerge) -> BikeMerge:
    """Make two bikes of one again: the moved cards go back, and so does every value that was taken over.

    A value that somebody has changed since stays as it is now, and so do cards opened since. Raises Blocked
    where it is undone already, or `kept` itself is part of another bike by now.
    """
    kept, twin = _locked(merge.kept, merge.twin)
    merge = everywhere(BikeMerge, why=_WHY).select_for_update().get(pk=merge.pk)
    if merge.undone_at is not None:
        raise blocked("undone", say("This was undone already."))
    if kept.merged_into_id is not None:
        raise blocked("merged", say("This bike is part of another one by now: undo that first."))
    everywhere(OwnerChange, why=_WHY).filter(merge=merge).delete()
    everywhere(OwnerChange, why=_WHY).filter(pk__in=merge.owner_changes, bike=kept).update(bike=twin)
    everywhere(JobCard, why=_WHY).filter(pk__in=merge.cards, bike=kept).update(bike=twin, version=F("version") + 1)
    back = [name for name, (_, became) in merge.taken.items() if _plain(kept, name) == became]
    for name in back:
        setattr(kept, _column(name), merge.taken[name][0])
    if back:
        versions.save(kept, kept.version, [_column(name) for name in back])
    twin.merged_into = None
    versions.save(twin, twin.version, ["merged_into"])
    merge.undone_by, merge.undone_at = actor.person, timezone.now()
    merge.save(update_fields=["undone_by", "undone_at"])
    stays = sorted(set(merge.taken) - set(back))
    trail.record(actor, "undo merge", kept, None, {"twin": twin.pk, "cards": merge.cards, "stays": stays})
    return merge


def _locked(kept: Bike, twin: Bike) -> tuple[Bike, Bike]:
    """Lock both, in the order of their ids, so that two people who merge crosswise wait and never block."""
    both = everywhere(Bike, why=_WHY).filter(pk__in=(kept.pk, twin.pk)).order_by("pk").select_for_update()
    held = {bike.pk: bike for bike in both}
    return held[kept.pk], held[twin.pk]


def _take(kept: Bike, twin: Bike, take: Iterable[str]) -> dict[str, Any]:
    """Put the twin's values into `kept`, and return for each field what it was and what it became."""
    wanted = set(take)
    if unknown := sorted(wanted - set(TAKEABLE)):
        raise wrong("take", "unknown_field", say(
            "{names} cannot be taken over.",
            names=", ".join(unknown),
        ), unknown[0])
    wanted |= {name for name in TAKEABLE if _blank(kept, name) and not _blank(twin, name)}
    values = {name: getattr(twin, name) for name in TAKEABLE if name in wanted}
    values = {name: value for name, value in values.items() if value != getattr(kept, name)}
    if sources := _sources(kept, twin, values):
        values["sources"] = sources
    check_data(values)
    taken = {}
    for name, value in values.items():
        was = _plain(kept, name)
        setattr(kept, name, value)
        taken[name] = [was, _plain(kept, name)]
    if values:
        versions.save(kept, kept.version, list(values))
    return taken


def _sources(kept: Bike, twin: Bike, values: Iterable[str]) -> dict[str, Any]:
    """Return where each fact comes from, after the ends in `values` came from the twin; empty if none did."""
    ends = tuple(f"{end}." for end in ("front", "rear") if end in values)
    if not ends:
        return {}
    own = {path: source for path, source in kept.sources.items() if not path.startswith(ends)}
    found = own | {path: source for path, source in twin.sources.items() if path.startswith(ends)}
    return found if found != kept.sources else {}


def _blank(bike: Bike, name: str) -> bool:
    return getattr(bike, _column(name)) in (None, "")


def _column(name: str) -> str:
    return "owner_id" if name == "owner" else name


def _plain(bike: Bike, name: str) -> Any:
    return getattr(bike, _column(name))


def _note_two_owners(actor: Actor, merge: BikeMerge, kept: Bike, twin: Bike, why: str) -> None:
    """Record a change of owner where the two entries had different ones."""
    was = merge.taken["owner"][0] if "owner" in merge.taken else twin.owner_id
    if was is not None and was != kept.owner_id:
        OwnerChange.objects.create(
            bike=kept, former_id=was, new_id=kept.owner_id, merge=merge, reason=why, by=actor.person
        )
