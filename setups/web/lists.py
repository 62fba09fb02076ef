"""Lists as spreadsheet files over HTTP: looked at, taken in, given out."""

from __future__ import annotations

from collections.abc import Mapping
from typing import IO, Any, ClassVar

from django.http import Http404, StreamingHttpResponse
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.negotiation import DefaultContentNegotiation
from rest_framework.parsers import BaseParser
from rest_framework.request import Request
from rest_framework.response import Response

from calc.web.fields import StrictSerializer, Text
from setups.verbs import lists
from shops import spreadsheet, trail
from shops.access import rows
from shops.models import Shop
from shops.web.base import RowsView
from shops.web.permissions import MANAGERS
from shops.web.serializers import ID_LIMIT

WHAT = OpenApiParameter("what", OpenApiTypes.STR, OpenApiParameter.PATH, enum=list(lists.LISTS))
FILE = {"text/csv": OpenApiTypes.STR}


class TextFileParser(BaseParser):
    """Parses a file sent as the body itself; what is too large or no text is refused with a sentence."""

    media_type = "text/csv"

    def parse(
        self, stream: IO[Any], media_type: str | None = None, parser_context: Mapping[str, Any] | None = None
    ) -> dict[str, str]:
        """Return the file's text and the encoding that it was read in."""
        text, encoding = spreadsheet.decode(stream.read(spreadsheet.MOST_BYTES + 1))
        return {"text": text, "encoding": encoding}


class AnyAccept(DefaultContentNegotiation):
    """Takes every Accept header: a file is answered, and a refusal as JSON."""

    def select_renderer(self, request: Request, renderers: Any, format_suffix: str | None = None) -> Any:
        """Return the renderer of refusals."""
        return renderers[0], renderers[0].media_type


class ShopQuery(StrictSerializer):
    """Which shop's list is meant; the own shop's unless another is named."""

    shop = serializers.IntegerField(min_value=1, max_value=ID_LIMIT, required=False)


class PlanQuery(ShopQuery):
    """Which shop's list is meant, and the plan that was looked at."""

    plan = Text(max_length=64)


class ListProblem(serializers.Serializer[Any]):
    """What is wrong with one cell, or with a row as a whole."""

    line = serializers.IntegerField()
    column = serializers.CharField()
    code = serializers.CharField()
    text = serializers.CharField()
    value = serializers.JSONField(allow_null=True)
    unit = serializers.CharField(allow_null=True)
    low = serializers.FloatField(allow_null=True)
    high = serializers.FloatField(allow_null=True)


class ListRow(serializers.Serializer[Any]):
    """What happens to one row."""

    line = serializers.IntegerField()
    action = serializers.ChoiceField(choices=["new", "changed", "same"])
    key = serializers.CharField()
    label = serializers.CharField()  # type: ignore[assignment]  # the row's own, over DRF's
    changes = serializers.JSONField(help_text="By field: before and after.")


class PlanAnswer(serializers.Serializer[Any]):
    """How a file was read, and what taking it in would do."""

    what = serializers.CharField()
    encoding = serializers.CharField()
    separator = serializers.CharField()
    decimal = serializers.CharField()
    ignored = serializers.ListField(child=serializers.CharField())
    new = serializers.IntegerField()
    changed = serializers.IntegerField()
    same = serializers.IntegerField()
    wrong = serializers.IntegerField(help_text="Lines with a problem; with one nothing is taken in.")
    problems = ListProblem(many=True)
    rows = ListRow(many=True)
    plan = serializers.CharField(help_text="Confirms this plan and no other.")


class TakenAnswer(serializers.Serializer[Any]):
    """What was taken in."""

    new = serializers.IntegerField()
    changed = serializers.IntegerField()
    same = serializers.IntegerField()


class ListsView(RowsView):
    """The spring list and the customers, each as a file."""

    model = Shop
    parser_classes = (TextFileParser,)
    content_negotiation_class = AnyAccept
    roles: ClassVar = dict.fromkeys(("look", "take_in", "give_out"), MANAGERS)
    reads: ClassVar = frozenset({"look"})
    full: ClassVar = frozenset({"give_out"})

    @extend_schema(
        operation_id="lists_look", parameters=[WHAT, ShopQuery], request=FILE, responses={200: PlanAnswer}
    )
    def look(self, request: Request, what: str) -> Response:
        """Say what taking the file in would do, and what is wrong with it; nothing is saved."""
        shop = self._shop(what, self.query(ShopQuery))
        return Response(PlanAnswer(lists.look(self.actor(), what, shop, self._table()).as_dict()).data)

    @extend_schema(
        operation_id="lists_take_in", parameters=[WHAT, PlanQuery], request=FILE, responses={200: TakenAnswer}
    )
    def take_in(self, request: Request, what: str) -> Response:
        """Take the file in as it was looked at: all of it, or nothing."""
        query = self.query(PlanQuery)
        shop = self._shop(what, query)
        done = lists.take_list_in(self.actor(), what, shop, self._table(), plan=query["plan"])
        return Response(TakenAnswer({name: done.count(name) for name in ("new", "changed", "same")}).data)

    @extend_schema(
        operation_id="lists_give_out", parameters=[WHAT, ShopQuery], responses={(200, "text/csv"): OpenApiTypes.STR}
    )
    def give_out(self, request: Request, what: str) -> StreamingHttpResponse:
        """Give the list as a file, in the columns in which it is taken in."""
        shop = self._shop(what, self.query(ShopQuery))
        chosen = lists.LISTS[what]
        trail.record(self.actor(), "give list out", shop, None, {"list": what})
        content = spreadsheet.lines(chosen.header(), chosen.rows_of(shop))
        headers = {"Content-Disposition": f'attachment; filename="{what}.csv"', "X-Content-Type-Options": "nosniff"}
        return StreamingHttpResponse(content, content_type="text/csv; charset=utf-8", headers=headers)

    def _shop(self, what: str, query: Mapping[str, Any]) -> Shop:
        if what not in lists.LISTS:
            raise Http404
        shop = rows(Shop, self.person).filter(pk=query.get("shop", self.person.shop_id)).first()
        if shop is None:
            raise Http404
        return shop

    def _table(self) -> spreadsheet.Table:
        # An empty body is parsed by nobody, and so holds no text.
        sent: Any = self.request.data
        return spreadsheet.read(sent.get("text", ""), sent.get("encoding", "UTF-8"))
