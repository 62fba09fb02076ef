"""Photos of readings and defects, kept in the database so that a backup of it holds them."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from shops.access import Scoped
from shops.models import Person


class Photo(Scoped):
    """A photo on a card: always a JPEG that we encoded ourselves, without whatever came along in the file.

    `sha256` is that of `content`; `sent_sha256` that of the file as it was sent, by which a retry is known.
    A photo of a sealed card is struck, never deleted: the record holds its digest. Erased (`erased_at`) it keeps that
    digest and nothing to look at.
    """

    personal_fields = frozenset({"caption"})
    business_path = "card__business"
    shop_path = "card__shop"

    class About(models.TextChoices):
        READING = "reading", _("a reading")
        DEFECT = "defect", _("a defect")
        PART = "part", _("a part")

    card = models.ForeignKey("setups.JobCard", on_delete=models.CASCADE, related_name="photos")
    about = models.CharField(max_length=7, choices=About.choices)
    reading = models.ForeignKey(
        "setups.Reading", on_delete=models.SET_NULL, null=True, blank=True, related_name="photos"
    )
    caption = models.CharField(max_length=200, blank=True)
    content = models.BinaryField()
    small = models.BinaryField()
    width_px = models.PositiveIntegerField()
    height_px = models.PositiveIntegerField()
    sha256 = models.CharField(max_length=64)
    sent_sha256 = models.CharField(max_length=64)
    taken_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    taken_at = models.DateTimeField(default=timezone.now)
    struck_at = models.DateTimeField(null=True, blank=True)
    struck_by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    erased_at = models.DateTimeField(null=True, blank=True, help_text="Since when its picture and caption are gone.")

    class Meta:
        ordering: ClassVar = ["id"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["card", "sent_sha256"], name="one_photo_once_on_a_card")
        ]

    def __str__(self) -> str:
        return f"photo of {self.card_id}"
