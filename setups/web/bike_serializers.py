"""What the API takes and answers of a bike's history, its change of owner, and two entries made one."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from calc.bands import Band
from calc.web.fields import Choice, Number, StrictSerializer, Text
from setups.bike_models import BikeMerge
from setups.models import Bike, Customer, End, JobCard
from setups.verbs import merging
from setups.web.serializers import LONG
from shops.web.serializers import WholeId

VERSION = Band("the version that was read", "", 1, 999_999_999)


class OwnerBody(StrictSerializer):
    """A bike that goes to another owner."""

    owner = WholeId(Customer, allow_null=True)
    version = Number(VERSION, whole=True)
    reason = Text(max_length=300, help_text="Stays in the trail; name nobody.")
    plate = Text(max_length=20, required=False, allow_blank=True, help_text="Left out: the plate stays.")
    notes = Text(
        max_length=LONG, required=False, allow_blank=True,
        help_text="What stays of the notes; the rest is put aside.",
    )  # fmt: skip


class MergeBody(StrictSerializer):
    """The same bike entered twice: `twin` becomes part of the one of the address."""

    twin = WholeId(Bike)
    version = Number(VERSION, whole=True)
    twin_version = Number(VERSION, whole=True)
    take = serializers.ListField(
        child=Choice(choices=merging.TAKEABLE), required=False, max_length=len(merging.TAKEABLE),
        help_text="Fields in which the twin is right.",
    )  # fmt: skip
    reason = Text(max_length=300, help_text="Stays in the trail; name nobody.")


class MergeAnswer(serializers.Serializer[Any]):
    """Two entries that were made one."""

    id = serializers.IntegerField()
    twin = serializers.IntegerField(source="twin_id")
    twin_title = serializers.SerializerMethodField()
    cards = serializers.SerializerMethodField()
    reason = serializers.CharField()
    by_name = serializers.CharField(source="by.name")
    at = serializers.DateTimeField()
    undone_by_name = serializers.CharField(source="undone_by.name", default=None, allow_null=True)
    undone_at = serializers.DateTimeField(allow_null=True)

    def get_twin_title(self, merge: BikeMerge) -> str:
        """Return the hidden bike's title."""
        return " ".join(str(word) for word in (merge.twin.make, merge.twin.model, merge.twin.year) if word)

    def get_cards(self, merge: BikeMerge) -> int:
        """Return how many cards moved."""
        return len(merge.cards)


class SagBeforeAfter(serializers.Serializer[Any]):
    """The sags read at one end before and after, in mm; null where they were not read."""

    end = serializers.ChoiceField(choices=End.choices)
    static_before_mm = Number(unit="mm", what="static sag as received", allow_null=True)
    static_after_mm = Number(unit="mm", what="static sag as built", allow_null=True)
    rider_before_mm = Number(unit="mm", what="rider sag as received", allow_null=True)
    rider_after_mm = Number(unit="mm", what="rider sag as built", allow_null=True)


class PastCard(serializers.Serializer[Any]):
    """A card in a bike's history."""

    id = serializers.IntegerField()
    number = serializers.CharField()
    shop_name = serializers.CharField()
    opened_at = serializers.DateTimeField()
    step = serializers.ChoiceField(choices=JobCard.Step.choices)
    step_label = serializers.CharField()
    former_owner = serializers.BooleanField(help_text="Opened for an owner that the bike had before.")
    complaint = serializers.CharField(help_text="Blank where the owner of then is kept from the asker.")
    distance_km = Number(unit="km", what="distance ridden", allow_null=True)
    hours = Number(unit="h", what="hours run", allow_null=True)
    sags = SagBeforeAfter(many=True)
    changes = serializers.ListField(
        child=serializers.CharField(), help_text="What was changed, a sentence each."
    )
    parts = serializers.ListField(child=serializers.CharField(), help_text="Fitted and given back, a line each.")
    record = serializers.IntegerField(allow_null=True, help_text="Number of the sealed record.")
    sealed_at = serializers.DateTimeField(allow_null=True)
    amendments = serializers.IntegerField(help_text="How often the record was amended.")
