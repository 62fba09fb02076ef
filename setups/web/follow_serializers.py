"""What a drag sends and is answered."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from calc.bands import BANDS
from calc.web.fields import Choice, Number, NumberList, StrictSerializer
from calc.web.serializers import FrontSerializer, RearSerializer
from calc.words import mark, say
from setups import bodies
from setups.models import Setting
from setups.web.serializers import SideAnswer
from shops.web.serializers import Flag

_NULL: dict[str, Any] = {"allow_null": True}
_MOST_VALUES = 8
MOST_TRIES = 32
"""As many as one request may take a worker's time for."""


def _list(of: Any, **options: Any) -> Any:
    return of(many=True, **options)


def _band() -> NumberList:
    return NumberList(unit="mm", what="a band of sag", min_length=2, max_length=2)


class FollowTargets(StrictSerializer):
    """The sag bands aimed at."""

    static_sag_mm = _band()
    rider_sag_mm = _band()


class FollowCorrection(StrictSerializer):
    """What sealed cards of the model have shown the computed sags to be off by."""

    static_mm = Number(unit="mm", what="what is added to the static sag")
    rider_mm = Number(unit="mm", what="what is added to the rider sag")
    cards = Number(what="the number of cards behind it", whole=True)


class FollowBeside(StrictSerializer):
    """A saved stage that is drawn beside what is dragged."""

    stage = Choice(choices=Setting.Stage.choices)
    front = FrontSerializer(required=False)
    rear = RearSerializer(required=False)


class FollowBasis(StrictSerializer):
    """What the answers to a drag rest on, as a preview gave it: one end as calc takes it, and what judges it."""

    front = FrontSerializer(required=False)
    rear = RearSerializer(required=False)
    targets = FollowTargets(**_NULL)
    adjuster_mm = NumberList(BANDS["adjuster_mm"], min_length=2, max_length=2, **_NULL)
    correction = FollowCorrection(**_NULL)
    chambers = Choice(choices=bodies.CHAMBERS, **_NULL)
    share_assumed = Flag()
    beside = _list(FollowBeside, max_length=2)

    def validate(self, given: Any) -> Any:
        """Refuse any but exactly one end, and what lies beside it at the other."""
        ends = [end for end in ("front", "rear") if given.get(end)]
        if len(ends) != 1 or any(set(one) - {"stage"} != set(ends) for one in given["beside"]):
            text = say("Give one end, front or rear, and beside it the same end.")
            raise serializers.ValidationError(text, "one_end")
        return given


class FollowBody(StrictSerializer):
    """Values under the hand and around it, and the basis that the drag began with."""

    basis = FollowBasis()
    tries = serializers.ListField(
        child=serializers.DictField(child=Number(what=mark("a dragged value"))),
        min_length=1,
        max_length=MOST_TRIES,
        help_text="Each: value by path in the end: preload_mm, spring.rate_n_per_mm, legs.0.air_gap_mm …",
    )

    def validate_tries(self, tries: Any) -> Any:
        """Refuse more values than an end has."""
        if any(len(values) > _MOST_VALUES for values in tries):
            text = say("At most {most} values can be dragged at once.", most=_MOST_VALUES)
            raise serializers.ValidationError(text, "too_many")
        return tries


class FollowTried(SideAnswer):
    """The side of an end with dragged values."""

    changes = serializers.DictField(
        child=serializers.DictField(child=serializers.CharField()),
        allow_null=True,
        help_text="What is different in its picture from the one answered whole: by an element's place in the document"
        " the new values by attribute, “” for its text. Null: `picture` holds it.",
    )


class FollowAnswer(serializers.Serializer[Any]):
    """What is said of each of the tries."""

    picture = serializers.CharField(help_text="The picture of the basis, SVG.")
    tries = FollowTried(many=True)


class FollowedSide(SideAnswer):
    """The side of a setting that is being typed, with what a drag of it needs."""

    basis = FollowBasis(allow_null=True, help_text="What POST /api/follow/ takes; null where nothing was computed.")


class FollowedEnds(serializers.Serializer[Any]):
    """The sides of both ends."""

    front = FollowedSide(required=False)
    rear = FollowedSide(required=False)
