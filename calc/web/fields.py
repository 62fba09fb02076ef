"""Strict fields: a number is a JSON number, a text a JSON string, and an object holds only the names we know.

Bands are written into the schema here and refused in `calc.checks` and its neighbours, whose sentences also
guess the cause.
"""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from functools import cache
from typing import Any, ClassVar

from django.utils.functional import lazy
from django.utils.translation import gettext_lazy as _
from drf_spectacular.extensions import OpenApiSerializerFieldExtension
from drf_spectacular.openapi import AutoSchema
from drf_spectacular.utils import Direction
from rest_framework import serializers

from calc.bands import Band
from calc.words import capital, number, say, say_of

_LARGE = 10**15


def _shown(value: Any) -> str:
    """Name a value in a sentence by what it is, shortened."""
    if value is None:
        return say("nothing")
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return say("the text “{value}”", value=value[:40])
    if isinstance(value, list | dict):
        return say("a list") if isinstance(value, list) else say("an object")
    return number(value, ".6g") if abs(value) < _LARGE else say("a very large number")


# Django's `lazy` makes a class: one for all fields, which are made anew for every request.
_worded_when_needed = lazy(lambda words: words(), str)

_WORDS: dict[str, Any] = {
    "required": _("This is missing and must be given."),
    "null": _("This is empty; give a value."),
}


class Number(serializers.Field):
    """A finite JSON number; `band` or `unit` say in the schema what it measures. A string or a boolean is
    refused."""

    def __init__(
        self, band: Band | None = None, *, unit: str = "", what: str = "", whole: bool = False, **options: Any
    ) -> None:
        """Take the band that the schema shows; `whole` accepts integers only."""
        self.band, self.whole = band, whole
        self.unit = band.unit if band else unit
        self.what = band.english if band else what
        super().__init__(**options)
        # Worded when they are needed: a field is made once, and serves people of every language.
        self.error_messages["required"] = _worded_when_needed(self._missing)
        self.error_messages["null"] = _worded_when_needed(self._empty)

    def _missing(self) -> str:
        return say("{what} is missing{wanted}.", what=self._named(), wanted=self._wanted())

    def _empty(self) -> str:
        return say("{what} is empty{wanted}.", what=self._named(), wanted=self._wanted())

    def _named(self) -> str:
        if self.band:
            return capital(self.band.named)
        return capital(say(self.what)) if self.what else say("A number")

    def _wanted(self) -> str:
        return say("; give {wording}", wording=self.band.wording()) if self.band else ""

    def to_internal_value(self, data: Any) -> float | int:
        """Return the number, as an int where it must be whole."""
        if isinstance(data, bool) or not isinstance(data, int | float):
            told = {"what": self._named(), "read": _shown(data), "wanted": self._wanted()}
            text = (
                say("{what} must be a whole number, but {read} was read{wanted}.", **told)
                if self.whole
                else say("{what} must be a number, but {read} was read{wanted}.", **told)
            )
            raise serializers.ValidationError(text, "not_a_number")
        try:
            value = float(data)
        except OverflowError as error:
            text = say("{what} is too large a number{wanted}.", what=self._named(), wanted=self._wanted())
            raise serializers.ValidationError(text, "not_finite") from error
        if not self.whole:
            return value
        if not value.is_integer():
            text = say(
                "{what} must be whole, but {value:.6g} was read{wanted}.",
                what=self._named(), value=value, wanted=self._wanted(),
            )
            raise serializers.ValidationError(text, "not_whole")
        return int(value)

    def to_representation(self, value: Any) -> Any:
        """Return the number as it is."""
        return value


class Text(serializers.CharField):
    """A JSON string of at most `max_length` characters; a number is not taken for one."""

    default_error_messages: ClassVar = {
        **_WORDS,
        "blank": _("This is blank; fill it in."),
        "max_length": _("This is too long: {max_length} characters fit at most."),
        "min_length": _("This is too short: give {min_length} characters or more."),
    }

    def to_internal_value(self, data: Any) -> str:
        """Return the string, as it was typed."""
        if not isinstance(data, str):
            text = say("A text is expected, but {read} was read.", read=_shown(data))
            raise serializers.ValidationError(text, "not_a_text")
        return super().to_internal_value(data)


class Choice(serializers.ChoiceField):
    """One of a few words."""

    default_error_messages = _WORDS

    def to_internal_value(self, data: Any) -> Any:
        """Return the word, or refuse and list those accepted."""
        if isinstance(data, str) and data in self.choices:
            return data
        words, read = ", ".join(str(word) for word in self.choices), _shown(data)
        text = say("{read} was read; give one of {words}.", read=capital(read), words=words)
        raise serializers.ValidationError(text, "unknown_choice")


class Scalar(serializers.Field):
    """Any JSON scalar, kept as it is: a caller's own key."""

    default_error_messages = _WORDS

    def to_internal_value(self, data: Any) -> Any:
        """Return the scalar."""
        if isinstance(data, dict | list) or (isinstance(data, str) and len(data) > 200):
            text = say(
                "A number or a short text is expected, but {read} was read (200 characters at most).",
                read=_shown(data),
            )
            raise serializers.ValidationError(text, "not_a_scalar")
        return data

    def to_representation(self, value: Any) -> Any:
        """Return the scalar as it is."""
        return value


class StrictSerializer(serializers.Serializer[Any]):
    """An object whose unknown names are refused, each named."""

    default_error_messages = _WORDS

    def to_internal_value(self, data: Any) -> Any:
        """Return the parsed object, or refuse with what is wrong of both known and unknown names."""
        if not isinstance(data, Mapping):
            text = say("An object is expected, but {read} was read.", read=_shown(data))
            raise serializers.ValidationError({"non_field_errors": [text]}, "not_an_object")
        unknown = [name for name in data if name not in self.fields]
        errors: dict[str, Any] = {str(name): [_unknown(name, self.fields)] for name in unknown}
        try:
            value = super().to_internal_value(data)
        except serializers.ValidationError as error:
            raise serializers.ValidationError({**errors, **_as_dict(error.detail)}) from error
        if errors:
            raise serializers.ValidationError(errors)
        return value


def _as_dict(detail: Any) -> dict[str, Any]:
    return dict(detail) if isinstance(detail, Mapping) else {"non_field_errors": detail}


def _unknown(name: Any, fields: Mapping[str, Any]) -> Any:
    """Return the refusal of an unknown name, with the nearest known one."""
    near = difflib.get_close_matches(str(name)[:80], list(fields), 1)
    read = str(name)[:80]
    text = (
        say("“{read}” is not known here: did you mean “{near}”?", read=read, near=near[0])
        if near
        else say("“{read}” is not known here; known are {fields}.", read=read, fields=", ".join(fields))
    )
    return serializers.ErrorDetail(text, "unknown_field")


@cache
def reader(shape: type[serializers.Serializer[Any]]) -> serializers.Serializer[Any]:
    """Return the serializer that reads bodies of a shape, made once: it keeps nothing of what it has read.

    A new one copies every field of every object below it, which takes longer than reading a bike and computing it.
    """
    return shape()


class ByKind(serializers.Field):
    """An object whose `key` ("kind", "use") says which of several shapes it has."""

    default_error_messages = _WORDS

    def __init__(
        self,
        shapes: Mapping[str, type[serializers.Serializer[Any]]],
        *,
        key: str = "kind",
        **options: Any,
    ) -> None:
        """Take the serializer of each kind."""
        self.shapes, self.key = dict(shapes), key
        super().__init__(**options)

    def to_internal_value(self, data: Any) -> Any:
        """Return the object parsed as its kind says."""
        words = ", ".join(self.shapes)
        if not isinstance(data, Mapping):
            text = say("An object with “{key}” is expected, but {read} was read.", key=self.key, read=_shown(data))
            raise serializers.ValidationError(text, "not_an_object")
        kind = data.get(self.key)
        if not isinstance(kind, str) or kind not in self.shapes:
            read = _shown(kind) if self.key in data else say("nothing")
            text = say("“{key}” must be one of {words}, but {read} was read.", key=self.key, words=words, read=read)
            raise serializers.ValidationError({self.key: [serializers.ErrorDetail(text, "unknown_choice")]})
        return reader(self.shapes[kind]).run_validation(data)

    def to_representation(self, value: Any) -> Any:
        """Return the object as it is."""
        return value


class NumberList(serializers.ListField):
    """A list of numbers of one band, of a stated length."""

    default_error_messages: ClassVar = _WORDS

    def __init__(self, band: Band | None = None, *, unit: str = "", what: str = "", **options: Any) -> None:
        """Take the band of every number, and DRF's list options."""
        child = Number(band, unit=unit, what=what)
        self._of = child
        super().__init__(child=child, **options)

    def to_internal_value(self, data: Any) -> list[Any]:
        """Return the numbers; a list that is too short or too long is told by how many were read and wanted."""
        if isinstance(data, list):
            for limit, broken, how in (
                ("min_length", lambda wanted: len(data) < wanted, "least"),
                ("max_length", lambda wanted: len(data) > wanted, "most"),
            ):
                wanted = getattr(self, limit)
                if wanted is not None and broken(wanted):
                    raise serializers.ValidationError(self._counted(len(data), wanted, how), limit)
        return super().to_internal_value(data)

    def _counted(self, read: int, wanted: int, how: str) -> str:
        """Word how many values were read, of what, and how many are wanted."""
        named = ""
        if self._of.what and self._of.unit:
            what = self._of.band.named if self._of.band else say(self._of.what)
            named = say(" of {what}, in {unit},", what=what, unit=self._of.unit)
        if how == "least":
            return say_of(
                read,
                "{n} value{named} was read; give at least {wanted}: was a line left out?",
                "{n} values{named} were read; give at least {wanted}: was a line left out?",
                named=named, wanted=wanted,
            )
        return say_of(
            read,
            "{n} value{named} was read; give at most {wanted}.",
            "{n} values{named} were read; give at most {wanted}.",
            named=named, wanted=wanted,
        )


class _NumberSchema(OpenApiSerializerFieldExtension):
    """Writes a number's limits and unit into the schema."""

    target_class = Number

    def map_serializer_field(self, auto_schema: AutoSchema, direction: Direction) -> dict[str, Any]:
        """Return the schema of a `Number`."""
        field = self.target
        schema: dict[str, Any] = {"type": "integer" if field.whole else "number"}
        if field.band and direction == "request":
            schema["minimum"], schema["maximum"] = field.band.low, field.band.high
            if field.band.open_low:
                schema["exclusiveMinimum"] = True
        described = ", in ".join(part for part in (field.what, field.unit) if part)
        if described:
            schema["description"] = f"{described[:1].upper()}{described[1:]}."
        return schema


class _ChoiceSchema(OpenApiSerializerFieldExtension):
    """Writes a choice's words into the schema in place; else they are shared by field name."""

    target_class = Choice

    def map_serializer_field(self, auto_schema: AutoSchema, direction: Direction) -> dict[str, Any]:
        """Return the schema of a `Choice`."""
        return {"oneOf": [{"type": "string", "enum": list(self.target.choices)}]}


class _ScalarSchema(OpenApiSerializerFieldExtension):
    """Writes a scalar's types into the schema."""

    target_class = Scalar

    def map_serializer_field(self, auto_schema: AutoSchema, direction: Direction) -> dict[str, Any]:
        """Return the schema of a `Scalar`."""
        return {"oneOf": [{"type": "string", "maxLength": 200}, {"type": "number"}, {"type": "boolean"}]}


class _ByKindSchema(OpenApiSerializerFieldExtension):
    """Writes a union of shapes into the schema, told apart by their kind."""

    target_class = ByKind

    def map_serializer_field(self, auto_schema: AutoSchema, direction: Direction) -> dict[str, Any]:
        """Return the schema of a `ByKind`."""
        refs = {
            kind: auto_schema.resolve_serializer(shape, direction).ref for kind, shape in self.target.shapes.items()
        }
        return {
            "oneOf": list(refs.values()),
            "discriminator": {
                "propertyName": self.target.key,
                "mapping": {kind: ref["$ref"] for kind, ref in refs.items()},
            },
        }
