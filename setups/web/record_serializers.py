"""What the record's part of the API takes and answers, field by field."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext as _
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from calc.bands import Band
from calc.web.fields import Number, StrictSerializer, Text
from calc.words import mark
from setups.models import CustomerLink
from setups.record.correction import LONGEST_TEXT
from shops.web.serializers import Flag

DAYS = Band(mark("the life of a link"), "days", 1, CustomerLink.longest_days)
LARGEST_NUMBER = 2**31 - 1


@extend_schema_field({"oneOf": [{"type": "string"}, {"type": "number"}, {"type": "boolean"}], "nullable": True})
class SingleValue(serializers.Field[Any, Any, Any, Any]):
    """A JSON number, text, true, false or null: what one place of a record holds."""

    def __init__(self, **options: Any) -> None:
        """Accept null."""
        super().__init__(allow_null=True, **options)

    def to_internal_value(self, data: Any) -> Any:
        """Return the value as it is."""
        if isinstance(data, dict | list):
            raise serializers.ValidationError(
                _("Give a single value: a number, a text, yes or no, or nothing."), "not_single"
            )
        return data

    def to_representation(self, value: Any) -> Any:
        """Return the value as it is."""
        return value


class AmendmentBody(StrictSerializer):
    """An amendment to a sealed record."""

    path = Text(
        max_length=200,
        help_text="Dotted place in the public document, or, after `internal.`, in the internal one.",
    )
    new = SingleValue(help_text="The value that holds from now on, of the old one's kind.")
    why = Text(max_length=LONGEST_TEXT, help_text="Stays with the record.")


class ErasureBody(StrictSerializer):
    """Why the personal values of a record are erased."""

    why = Text(max_length=LONGEST_TEXT, help_text="Stays in the trail; name nobody.")


class LinkBody(StrictSerializer):
    """A customer link to be made."""

    days = Number(DAYS, whole=True, required=False, default=30)
    share_mass = Flag(
        required=False, default=False, help_text="Show the rider's mass and the axle loads through the link."
    )


class LinkAnswer(serializers.Serializer[Any]):
    """A customer link just made; its secret is in the fragment of `url`, shown this once."""

    id = serializers.IntegerField()
    url = serializers.CharField()
    expires_at = serializers.DateTimeField()


class AmendmentAnswer(serializers.Serializer[Any]):
    """An amendment in the chain."""

    number = serializers.IntegerField()
    head = serializers.CharField()
    public = serializers.DictField()
    internal = serializers.DictField()
    personal = serializers.DictField(help_text="The words that it commits to and that are not erased, by path.")


class RecordAnswer(serializers.Serializer[Any]):
    """A sealed record: its two documents, and what was amended since."""

    number = serializers.IntegerField()
    head = serializers.CharField()
    public_digest = serializers.CharField()
    internal_digest = serializers.CharField()
    previous_head = serializers.CharField(allow_blank=True)
    public = serializers.DictField(help_text="The frozen public document; personal values are commitments.")
    internal = serializers.DictField(help_text="The frozen internal document.")
    personal = serializers.DictField(help_text="Personal values that are not erased, by path.")
    texts = serializers.DictField(help_text="Of these the words, by place in the public document: they may be amended.")
    amendments = AmendmentAnswer(many=True)
    withheld = serializers.ListField(
        child=serializers.CharField(), help_text="Places left out because they are a former owner's."
    )


class PdfQuery(StrictSerializer):
    """Which of the card's records to print."""

    number = serializers.IntegerField(
        min_value=1,
        max_value=LARGEST_NUMBER,
        required=False,
        help_text="A number of this card's; without it the newest.",
    )


class SecretBody(StrictSerializer):
    """A customer link's secret."""

    secret = Text(max_length=200)


class PageAnswer(serializers.Serializer[Any]):
    """The customer's page."""

    title = serializers.CharField()
    html = serializers.CharField(help_text="A fragment, laid out by the server; every text in it is escaped.")
    language = serializers.CharField(help_text="The code of the language that it is in.")
    other = serializers.CharField(required=False, help_text="A record's fragment in the other system of units.")


class PrintedBody(StrictSerializer):
    """Number and head as a PDF prints them."""

    number = Text(max_length=10)
    head = Text(max_length=64)


PDF = {(200, "application/pdf"): OpenApiTypes.BINARY}
