"""Photos of a card: sent as the body itself, seen through the one door, taken off with a reason."""

from __future__ import annotations

from collections.abc import Mapping
from typing import IO, Any, ClassVar

from django.http import Http404, HttpResponse
from django.urls import URLPattern, path
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.parsers import BaseParser
from rest_framework.request import Request
from rest_framework.response import Response

from calc.web.fields import StrictSerializer, Text
from setups import pictures
from setups.models import Reading
from setups.photo_models import Photo
from setups.verbs import photos
from setups.web.card_views import CardsView, doing
from setups.web.record_views import AnyAccept, private
from shops.models import Person
from shops.web.permissions import EVERYBODY, MANAGERS
from shops.web.serializers import ID_LIMIT


class PhotoParser(BaseParser):
    """Takes a picture sent as the body itself; whether it is one, its bytes say, not this type."""

    media_type = "image/*"

    def parse(
        self, stream: IO[Any], media_type: str | None = None, parser_context: Mapping[str, Any] | None = None
    ) -> Any:
        """Return the bytes, one more than are accepted at most."""
        return bytes(stream.read(pictures.LARGEST_BYTES + 1))


class PhotoQuery(StrictSerializer):
    """What a photo shows."""

    about = serializers.ChoiceField(choices=Photo.About.choices)
    reading = serializers.IntegerField(
        min_value=1, max_value=ID_LIMIT, required=False, help_text="The reading of this card that it shows."
    )
    caption = serializers.CharField(max_length=200, required=False, allow_blank=True)


class SizeQuery(StrictSerializer):
    """Which size of a photo."""

    size = serializers.ChoiceField(choices=["whole", "small"], required=False, default="whole")


class RemovalBody(StrictSerializer):
    """Why a photo is taken off."""

    reason = Text(max_length=300, help_text="Stays in the trail; name nobody.")


class AddPhotoView(CardsView):
    """Photos sent to a card."""

    roles: ClassVar = {"add": EVERYBODY}
    parser_classes = (PhotoParser,)
    # A retry is known by the file itself.
    keeps_no_reply: ClassVar = frozenset({"add"})

    @doing("photos_add", {"image/*": OpenApiTypes.BINARY}, parameters=[PhotoQuery])
    def add(self, request: Request, pk: int) -> Response:
        """Keep a photo: JPEG, PNG or WebP of at most 8 MB, kept as a JPEG without anything that came along."""
        card = self.get_object()
        query = self.query(PhotoQuery)
        if "reading" in query:
            query["reading"] = self.part_of(Reading, query["reading"], card=card)
        # Of a body without a byte DRF makes an empty form, whatever its type.
        data: Any = request.data
        sent = data if isinstance(data, bytes) else b""
        photos.add_photo(self.actor(), card, sent, **query)
        return self.whole(card)


class PhotosView(CardsView):
    """Photos of a card."""

    roles: ClassVar = {"show": EVERYBODY, "remove": EVERYBODY, "erase": MANAGERS}
    full: ClassVar = frozenset({"erase"})

    @extend_schema(
        operation_id="photos_show",
        parameters=[SizeQuery],
        responses={(200, "image/jpeg"): OpenApiTypes.BINARY},
    )
    def show(self, request: Request, pk: int, lid: int) -> HttpResponse:
        """Show a photo; a struck one to managers alone."""
        photo = self.part_of(Photo, lid, card=self.get_object())
        if photo.struck_at is not None and self.person.role == Person.Role.TECHNICIAN:
            raise Http404
        small = self.query(SizeQuery)["size"] == "small"
        headers = {
            "Content-Disposition": f'inline; filename="photo-{photo.pk}.jpg"',
            "X-Content-Type-Options": "nosniff",
            "Cross-Origin-Resource-Policy": "same-origin",
        }
        content = bytes(photo.small if small else photo.content)
        if not content:
            raise Http404  # erased with the customer's personal data
        return private(HttpResponse(content, content_type="image/jpeg", headers=headers))

    @doing("photos_remove", RemovalBody)
    def remove(self, request: Request, pk: int, lid: int) -> Response:
        """Take a photo off; of a sealed card it is struck and kept, for the record holds its digest."""
        card = self.get_object()
        photo = self.part_of(Photo, lid, card=card)
        photos.remove_photo(self.actor(), photo, self.body(RemovalBody)["reason"])
        return self.whole(card)

    @doing("photos_erase", RemovalBody)
    def erase(self, request: Request, pk: int, lid: int) -> Response:
        """Erase a sealed card's photo for good; the record keeps its digest and holds on."""
        card = self.get_object()
        photo = self.part_of(Photo, lid, card=card)
        photos.erase_photo(self.actor(), photo, self.body(RemovalBody)["reason"])
        return self.whole(card)


photo_urls: list[URLPattern] = [
    path("cards/<int:pk>/photos/", AddPhotoView.as_view({"post": "add"}), name="photos-add"),
    path(
        "cards/<int:pk>/photos/<int:lid>/",
        PhotosView.as_view({"get": "show"}, content_negotiation_class=AnyAccept),
        name="photo-show",
    ),
    path("cards/<int:pk>/photos/<int:lid>/removal/", PhotosView.as_view({"post": "remove"}), name="photo-remove"),
    path("cards/<int:pk>/photos/<int:lid>/erasure/", PhotosView.as_view({"post": "erase"}), name="photo-erase"),
]
