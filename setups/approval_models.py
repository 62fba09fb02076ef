"""Who decided what on a card beyond the work itself: what a manager overrode, what the customer agreed to."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.utils import timezone

from shops.access import Scoped
from shops.models import Person


class Override(Scoped):
    """A manager let a card be sealed although something stood in the way, and said in writing why.

    `about` names what exactly is overridden; when that changes, the override no longer covers it. `text` is the
    sentence that stood in the way.
    """

    business_path = "card__business"
    shop_path = "card__shop"

    card = models.ForeignKey("setups.JobCard", on_delete=models.CASCADE, related_name="overrides")
    code = models.CharField(max_length=40, db_index=True)
    about = models.CharField(max_length=120)
    text = models.CharField(max_length=400)
    reason = models.CharField(max_length=300)
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering: ClassVar = ["id"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["card", "code", "about"], name="one_override_of_one_thing")
        ]

    def __str__(self) -> str:
        return f"{self.code} on {self.card_id}"
