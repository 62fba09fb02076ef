"""What the API takes and answers of learning from sealed cards."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from calc.web.fields import Choice, Number, StrictSerializer
from setups.models import End


class BiasAnswer(serializers.Serializer[Any]):
    """How far measured sags lay from computed ones, over a model's sealed cards; positive: it sagged more."""

    cards = serializers.IntegerField()
    mean_mm = Number(unit="mm", what="mean of measured less computed")
    spread_mm = Number(unit="mm", what="sample standard deviation; null for one card", allow_null=True)
    u_mm = Number(unit="mm", what="standard uncertainty of the mean", allow_null=True)
    expanded_mm = Number(unit="mm", what="half-width of the mean's 95 % interval", allow_null=True)
    sure = serializers.BooleanField(help_text="Whether zero lies outside that interval.")


class LearnedEnd(serializers.Serializer[Any]):
    """What one end of the card's model showed on earlier sealed cards."""

    cards = serializers.IntegerField(help_text="Cards that tell of both sags.")
    offered = serializers.BooleanField(help_text="Whether there are enough to offer the means as a correction.")
    taken = serializers.BooleanField(help_text="Whether this card has accepted a correction.")
    static = BiasAnswer(allow_null=True)
    rider = BiasAnswer(allow_null=True)


class LearnedAnswer(serializers.Serializer[Any]):
    """What earlier sealed cards of the card's model showed, by end; null: no such card yet."""

    front = LearnedEnd(allow_null=True)
    rear = LearnedEnd(allow_null=True)


class CorrectionBody(StrictSerializer):
    """The correction that is accepted, by end and the number of cards that was shown with it."""

    end = Choice(choices=End.choices)
    cards = Number(whole=True, what="the number of cards")
