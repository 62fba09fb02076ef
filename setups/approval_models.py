"""Who decided what on a card beyond the work itself: what a manager overrode, what the customer agreed to."""

from __future__ import annotations

from typing import Any, ClassVar

from django.db import models
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from setups.secret_links import SecretLink
from shops.access import Scoped
from shops.models import Business, Person


class Override(Scoped):
    """A manager let a card be sealed although something stood in the way, and said in writing why.

    `about` names what exactly is overridden; when that changes, the override no longer covers it. `text` is the
    sentence that stood in the way.
    """

    shop_path = "card__shop"

    business = models.ForeignKey(
        Business, on_delete=models.PROTECT, related_name="+", db_index=False, editable=False,
        help_text="Its card's; kept here for an index.",
    )  # fmt: skip
    card = models.ForeignKey("setups.JobCard", on_delete=models.CASCADE, related_name="overrides")
    code = models.CharField(max_length=40, db_index=True)
    about = models.CharField(max_length=120)
    text = models.CharField(max_length=400)
    reason = models.CharField(max_length=300)
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering: ClassVar = ["id"]
        indexes: ClassVar = [models.Index(fields=["business", "-at", "-id"], name="override_of_a_day")]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["card", "code", "about"], name="one_override_of_one_thing")
        ]

    def __str__(self) -> str:
        return f"{self.code} on {self.card_id}"

    def save(self, *args: Any, **kwargs: Any) -> None:
        """Save, a new one with its card's business."""
        if self._state.adding:
            self.business_id = self.card.business_id
        super().save(*args, **kwargs)


class Estimate(Scoped):
    """What the work on a card is expected to cost, line by line, and whether it waits for the customer's yes.

    `lines` are mappings of kind (labour or parts), text and amount_minor, in the currency that was the business's when
    the first of them was written: a later choice of the business changes no amount.
    """

    business_path = "card__business"
    shop_path = "card__shop"

    card = models.OneToOneField("setups.JobCard", on_delete=models.CASCADE, related_name="estimate")
    needs_approval = models.BooleanField(default=False)
    lines = models.JSONField(default=list)
    currency = models.CharField(max_length=3, blank=True, help_text="ISO 4217; blank as long as there is no line.")
    version = models.PositiveIntegerField(default=1)

    def __str__(self) -> str:
        return f"estimate of {self.card_id}"


class EstimateAsk(SecretLink):
    """The customer was asked to agree to an estimate as it stood then, through a link; and what was answered.

    `digest` is that of what was shown: an estimate changed since has another.
    """

    personal_fields = frozenset({"answered_from"})
    longest_days = 60

    class Answer(models.TextChoices):
        NONE = "", _("not answered")
        APPROVED = "approved", _("approved")
        DECLINED = "declined", _("declined")

    card = models.ForeignKey("setups.JobCard", on_delete=models.CASCADE, related_name="asks")
    lines = models.JSONField()
    currency = models.CharField(max_length=3)
    digest = models.CharField(max_length=64)
    answer = models.CharField(max_length=8, choices=Answer.choices, default=Answer.NONE, blank=True)
    answered_at = models.DateTimeField(null=True, blank=True)
    answered_from = models.GenericIPAddressField(null=True, blank=True)

    class Meta:
        ordering: ClassVar = ["id"]

    def __str__(self) -> str:
        return f"ask of {self.card_id}"


class EstimateOpening(Scoped):
    """One opening of an estimate's link."""

    business_path = "ask__card__business"
    shop_path = "ask__card__shop"

    ask = models.ForeignKey(EstimateAsk, on_delete=models.CASCADE, related_name="openings")
    at = models.DateTimeField(default=timezone.now)
    address = models.GenericIPAddressField(null=True)

    def __str__(self) -> str:
        return f"{self.ask_id} at {self.at}"
