"""The words by which rows are found; see `setups.search`."""

from __future__ import annotations

from typing import ClassVar

from django.db import models

from shops.access import Scoped
from shops.models import Business


class SearchWord(Scoped):
    """One word of one row. It may be a person's name: it goes when the row's own value goes."""

    class Of(models.TextChoices):
        CUSTOMER = "u", "customer"
        BIKE = "b", "bike"
        CARD = "c", "job card"

    personal_fields = frozenset({"word"})

    business = models.ForeignKey(Business, on_delete=models.CASCADE, related_name="+", db_index=False)
    # UTF-8 bytes, not text: both databases put bytes in the same order, whatever their collation.
    word = models.BinaryField()
    of = models.CharField(max_length=1, choices=Of.choices)
    row_id = models.BigIntegerField()

    class Meta:
        indexes: ClassVar = [
            models.Index(fields=["business", "word", "of", "row_id"], name="word_finds_row"),
            models.Index(fields=["of", "row_id"], name="row_has_words"),
        ]

    def __str__(self) -> str:
        return f"{self.of} {self.row_id}"
