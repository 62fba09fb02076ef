"""A card's axle loads three ways, and taking one of them: parsed here, done in `setups.loads` and its verb."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from calc.loads import LOAD_BANDS
from calc.web.fields import Choice, Number, StrictSerializer
from calc.web.serializers import ProblemSerializer
from calc.web.sure_serializers import AxleLoadsAnswerSerializer, BestLoadsSerializer
from calc.words import say
from setups import former_owner, loads, whole_card
from setups.models import End, Reading
from setups.verbs import readings
from setups.web.serializers import CardAnswer


class LoadsBody(StrictSerializer):
    """Whose loads: an end, as received or measured again; the rider's share of this axle, where it is known better."""

    stage = Choice(choices=Reading.Stage.choices)
    end = Choice(choices=End.choices)
    share = Number(LOAD_BANDS["rider.share"], required=False, allow_null=True)
    share_u = Number(LOAD_BANDS["rider.share_u"], required=False, allow_null=True)


class TakeLoadsBody(LoadsBody):
    """The way whose loads are taken where the axle was not weighed."""

    way = Choice(choices=list(loads.INSTRUMENTS))


class CardLoadsAnswer(AxleLoadsAnswerSerializer):
    """The loads each way, how they agree, and the one sentence that matters most; `weighed`: the scales told."""

    best = BestLoadsSerializer(allow_null=True)
    says = serializers.CharField(help_text="One sentence.")
    weighed = serializers.BooleanField()
    problems = ProblemSerializer(many=True)
    missing = serializers.ListField(child=serializers.CharField(), help_text="What each way lacks, a phrase each.")


class LoadsActions:
    """What the cards' view answers of loads."""

    @extend_schema(operation_id="cards_loads", request=LoadsBody, responses={200: CardLoadsAnswer})
    @action(detail=True, methods=["post"], url_path="loads")
    def loads(self: Any, request: Request, pk: int) -> Response:
        """Tell an axle's loads by the scales, the rider's share and the sags; nothing is saved."""
        card = whole_card.with_parts(self.get_object())
        former_owner.refuse(card, self.person, say("The rider's mass"))
        return Response(loads.three_ways(card, **self.body(LoadsBody)).as_dict())

    @extend_schema(operation_id="cards_take_loads", request=TakeLoadsBody, responses={200: CardAnswer})
    @action(detail=True, methods=["post"], url_path="loads/take")
    def take_loads(self: Any, request: Request, pk: int) -> Response:
        """Take the loads as one way tells them, marked as assumed; refused where the axle was weighed."""
        card = self.get_object()
        readings.take_loads(self.actor(), card, **self.body(TakeLoadsBody))
        return self.whole(card)
