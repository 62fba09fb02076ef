"""Parts fitted and parts given back."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.db import transaction

from setups import batches
from setups.limits import QUANTITY
from setups.models import JobCard, PartLine
from setups.verbs.guard import change, check_bands, hold
from shops import trail, versions
from shops.trail import Actor


@transaction.atomic
def add_part(actor: Actor, card: JobCard, **values: Any) -> PartLine:
    """Note a part fitted, or given back to the customer."""
    hold(card)
    check_bands(values, {"quantity": QUANTITY})
    part = PartLine.objects.create(card=card, **values)
    batches.note(card)
    trail.record(actor, "add part", part, None, {"card": card, **values})
    return part


@transaction.atomic
def change_part(actor: Actor, part: PartLine, version: int, values: Mapping[str, Any]) -> PartLine:
    """Change a part's line."""
    hold(part.card)
    check_bands(values, {"quantity": QUANTITY})
    changed = change(actor, "change part", part, version, values)
    batches.note(part.card)
    return changed


@transaction.atomic
def remove_part(actor: Actor, part: PartLine, version: int) -> None:
    """Remove a part's line."""
    hold(part.card)
    before = {
        name: getattr(part, name)
        for name in ("card", "direction", "description", "quantity", "batch", "spring")
    }
    pk = part.pk
    versions.remove(part, version)
    batches.note(part.card)
    part.pk = pk
    trail.record(actor, "remove part", part, before, None)
