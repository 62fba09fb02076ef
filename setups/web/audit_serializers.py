"""What the audit takes and answers."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from calc.web.fields import Number, StrictSerializer
from setups.audit.trail_words import KINDS
from shops.web.serializers import ID_LIMIT, StrictDate


class AuditQuery(StrictSerializer):
    """What an audit's list is narrowed by; a list takes what applies to it."""

    page = serializers.CharField(required=False)
    shop = serializers.IntegerField(min_value=1, max_value=ID_LIMIT, required=False)
    since = StrictDate(required=False, help_text="First day, as the asker's shop has it.")
    until = StrictDate(required=False, help_text="Last day.")
    days = serializers.IntegerField(min_value=0, max_value=3650, required=False, help_text="Late after so many days.")
    batch = serializers.CharField(max_length=40, required=False, allow_blank=True, help_text="The batch recalled.")
    who = serializers.IntegerField(min_value=1, max_value=ID_LIMIT, required=False, help_text="Whose changes.")
    kind = serializers.ChoiceField(choices=list(KINDS.items()), required=False, help_text="Changes of what.")


class PdfsQuery(StrictSerializer):
    """Which records' PDFs."""

    shop = serializers.IntegerField(min_value=1, max_value=ID_LIMIT, required=False)
    since = StrictDate(required=False, help_text="First day of sealing, as the asker's shop has it.")
    until = StrictDate(required=False, help_text="Last day.")


class PdfsSliceQuery(PdfsQuery):
    """Which records' PDFs, and how many of them are made already."""

    done = serializers.IntegerField(min_value=0, max_value=2**31 - 1, required=False)


class PdfsSliceAnswer(serializers.Serializer[Any]):
    """How far the making of the PDFs is."""

    made = serializers.IntegerField()
    whole = serializers.IntegerField()


class ChainQuery(StrictSerializer):
    """Which shop's chain, and the number to go on after."""

    shop = serializers.IntegerField(min_value=1, max_value=ID_LIMIT, required=False)
    after = serializers.IntegerField(min_value=0, max_value=2**31 - 1, required=False)


class AuditChange(serializers.Serializer[Any]):
    """One value that changed."""

    label = serializers.CharField()  # type: ignore[assignment]  # the field, over DRF's own
    quantity = serializers.CharField(allow_null=True, help_text="What a number measures, metric.")
    old = serializers.JSONField(allow_null=True)
    new = serializers.JSONField(allow_null=True)


class AuditFigures(serializers.Serializer[Any]):
    """How far measured sags lay from computed ones; positive: it sagged more than computed."""

    end = serializers.CharField()
    sag = serializers.CharField()
    cards = serializers.IntegerField()
    mean_mm = Number(unit="mm", what="mean of measured less computed")
    spread_mm = Number(unit="mm", what="sample standard deviation", allow_null=True)
    u_mm = Number(unit="mm", what="standard uncertainty of the mean", allow_null=True)
    expanded_mm = Number(unit="mm", what="half-width of the 95 % interval", allow_null=True)
    sure = serializers.BooleanField()


class AuditRow(serializers.Serializer[Any]):
    """One line of an audit's list."""

    id = serializers.IntegerField()
    at = serializers.DateTimeField(allow_null=True)
    shop_name = serializers.CharField()
    card = serializers.IntegerField(allow_null=True)
    card_number = serializers.CharField()
    bike = serializers.CharField()
    who = serializers.CharField()
    address = serializers.CharField()
    text = serializers.CharField()
    why = serializers.CharField()
    changes = AuditChange(many=True)
    figures = AuditFigures(allow_null=True)


class ChainFailure(serializers.Serializer[Any]):
    """The first record that does not hold, and why."""

    number = serializers.IntegerField()
    why = serializers.CharField()


class ChainAnswer(serializers.Serializer[Any]):
    """What the check of a part of a shop's chain found."""

    checked = serializers.IntegerField()
    next = serializers.IntegerField(allow_null=True, help_text="The number to go on after; null: done.")
    head = serializers.CharField(allow_blank=True)
    failure = ChainFailure(allow_null=True)
