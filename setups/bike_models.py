"""What happens to a bike besides its jobs: it changes owner, and one entered twice becomes one."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.utils import timezone

from shops.access import Scoped
from shops.models import Person


class BikeMerge(Scoped):
    """A bike entered twice was made one: `twin` is hidden, its cards hang on `kept`.

    `cards` and `owner_changes` are the ids that moved; `taken` holds, for each field that `kept` took from
    `twin`, what it was and what it became, so that undoing puts back exactly that.
    """

    personal_fields = frozenset({"taken"})
    business_path = "kept__business"

    kept = models.ForeignKey("setups.Bike", on_delete=models.PROTECT, related_name="merges")
    twin = models.ForeignKey("setups.Bike", on_delete=models.PROTECT, related_name="merged_by")
    cards = models.JSONField(default=list)
    owner_changes = models.JSONField(default=list)
    taken = models.JSONField(default=dict)
    reason = models.CharField(max_length=300)
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(default=timezone.now)
    undone_by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    undone_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering: ClassVar = ["-id"]

    def __str__(self) -> str:
        return f"{self.twin_id} into {self.kept_id}"


class OwnerChange(Scoped):
    """A bike went from one owner to another; cards opened before are a former owner's from then on.

    `notes` are the bike's notes as they stood, which may name the former owner: they are put aside here.
    `merge` is set where making two bikes one showed that there had been two owners.
    """

    personal_fields = frozenset({"notes"})
    business_path = "bike__business"

    bike = models.ForeignKey("setups.Bike", on_delete=models.PROTECT, related_name="owner_changes")
    former = models.ForeignKey(
        "setups.Customer", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    new = models.ForeignKey(
        "setups.Customer", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    merge = models.ForeignKey(
        BikeMerge, on_delete=models.PROTECT, null=True, blank=True, related_name="made_changes"
    )
    notes = models.TextField(blank=True)
    reason = models.CharField(max_length=300)
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering: ClassVar = ["id"]
        indexes: ClassVar = [models.Index(fields=["bike", "at"])]

    def __str__(self) -> str:
        return f"bike {self.bike_id} at {self.at}"
