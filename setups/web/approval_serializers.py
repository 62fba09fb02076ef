"""What the API takes and answers of overrides and estimates."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from calc.bands import Band
from calc.web.fields import Choice, Number, StrictSerializer, Text
from setups.approval_models import EstimateAsk
from setups.verbs.estimating import MOST_LINES
from setups.verbs.overriding import LONGEST_REASON
from setups.web.serializers import EstimateLine
from shops.web.serializers import Flag

DAYS = Band("the life of a link", "days", 1, EstimateAsk.longest_days)


class OverrideBody(StrictSerializer):
    """What is overridden, as the card's blockers name it, and why."""

    code = Text(max_length=40)
    about = Text(max_length=120, allow_blank=True)
    reason = Text(max_length=LONGEST_REASON, help_text="Stays with the record; name no customer.")


class EstimateBody(StrictSerializer):
    """The whole estimate."""

    needs_approval = Flag(help_text="Work is not signed off before the customer's approval.")
    lines = serializers.ListField(child=EstimateLine(), max_length=MOST_LINES)


class AskBody(StrictSerializer):
    """A link through which the customer is asked."""

    days = Number(DAYS, whole=True, required=False, default=14)


class AskAnswer(serializers.Serializer[Any]):
    """A link just made; its secret is in the fragment of `url`, shown this once."""

    id = serializers.IntegerField()
    url = serializers.CharField()
    expires_at = serializers.DateTimeField()


class AnswerBody(StrictSerializer):
    """The customer's answer."""

    secret = Text(max_length=200)
    answer = Choice(choices=["approved", "declined"])
