"""Links whose secret opens one thing of a card to the customer, until they expire or are revoked.

Only the secret's hash is kept: who makes a link is shown the secret once.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import ClassVar, Self

from django.db import models
from django.utils import timezone

from calc.refusal import Problem, Refusal
from calc.words import say
from shops import tokens
from shops.access import Scoped, ScopedQuerySet, everywhere
from shops.models import Person

WHY = "a customer's link names no person"


class SecretLink(Scoped):
    """What every such link keeps beside what it opens."""

    business_path = "card__business"
    shop_path = "card__shop"

    secret_sha256 = models.CharField(max_length=64, unique=True)
    expires_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)
    made_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField(default=timezone.now)

    class Meta:
        abstract = True

    longest_days: ClassVar[int]

    @classmethod
    def end_after(cls, days: int) -> datetime:
        """Return when a link of so many days from now expires; raises Refusal outside 1 to `longest_days`."""
        if not 1 <= days <= cls.longest_days:
            text = say("{days} days: a link lives between 1 and {most} days.", days=days, most=cls.longest_days)
            raise Refusal(Problem("days", "out_of_band", text, days, "days", 1, cls.longest_days))
        return timezone.now() + timedelta(days=days)

    @classmethod
    def opened_by(cls, secret: str) -> ScopedQuerySet[Self]:
        """Return the one link that `secret` opens now; none, whether unknown, expired or revoked."""
        held = {"secret_sha256": tokens.digest(secret), "revoked_at": None, "expires_at__gt": timezone.now()}
        return everywhere(cls, why=WHY).filter(**held)

    def revoke(self) -> datetime | None:
        """Revoke the link at once, in the caller's transaction; return since when, None if it was revoked before."""
        held = everywhere(type(self), why="the caller holds this row").select_for_update().get(pk=self.pk)
        if held.revoked_at is not None:
            self.revoked_at = held.revoked_at
            return None
        self.revoked_at = now = timezone.now()
        self.save(update_fields=["revoked_at"])
        return now
