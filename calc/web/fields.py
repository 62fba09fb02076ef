"""Strict fields: a number is a JSON number, a text a JSON string, and an object holds only the names we know.

Bands are written into the schema here and refused in `calc.checks` and its neighbours, whose sentences also
guess the cause.
"""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from functools import cache
from typing import Any, ClassVar

from drf_spectacular.extensions import OpenApiSerializerFieldExtension
from drf_spectacular.openapi import AutoSchema
from drf_spectacular.utils import Direction
from rest_framework import serializers

from calc.bands import Band

_LARGE = 10**15


def _shown(value: Any) -> str:
    """Name a value in a sentence by what it is, shortened."""
    if value is None:
        return "nothing"
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return f"the text “{value[:40]}”"
    if isinstance(value, list | dict):
        return "a list" if isinstance(value, list) else "an object"
    return f"{value:.6g}" if abs(value) < _LARGE else "a very large number"


_WORDS: dict[str, Any] = {
    "required": "This is missing and must be given.",
    "null": "This is empty; give a value.",
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
        self.what = band.what if band else what
        super().__init__(**options)
        self.error_messages["required"] = f"{self._named()} is missing{self._wanted()}."
        self.error_messages["null"] = f"{self._named()} is empty{self._wanted()}."

    def _named(self) -> str:
        return self.what[:1].upper() + self.what[1:] if self.what else "A number"

    def _wanted(self) -> str:
        return f"; give {self.band.wording()}" if self.band else ""

    def to_internal_value(self, data: Any) -> float | int:
        """Return the number, as an int where it must be whole."""
        if isinstance(data, bool) or not isinstance(data, int | float):
            kind = "whole number" if self.whole else "number"
            text = f"{self._named()} must be a {kind}, but {_shown(data)} was read{self._wanted()}."
            raise serializers.ValidationError(text, "not_a_number")
        try:
            value = float(data)
        except OverflowError as error:
            text = f"{self._named()} is too large a number{self._wanted()}."
            raise serializers.ValidationError(text, "not_finite") from error
        if not self.whole:
            return value
        if not value.is_integer():
            text = f"{self._named()} must be whole, but {value:.6g} was read{self._wanted()}."
            raise serializers.ValidationError(text, "not_whole")
        return int(value)

    def to_representation(self, value: Any) -> Any:
        """Return the number as it is."""
        return value


class Text(serializers.CharField):
    """A JSON string of at most `max_length` characters; a number is not taken for one."""

    default_error_messages: ClassVar = {
        **_WORDS,
        "blank": "This is blank; fill it in.",
        "max_length": "This is too long: {max_length} characters fit at most.",
        "min_length": "This is too short: give {min_length} characters or more.",
    }

    def to_internal_value(self, data: Any) -> str:
        """Return the string, as it was typed."""
        if not isinstance(data, str):
            raise serializers.ValidationError(f"A text is expected, but {_shown(data)} was read.", "not_a_text")
        return super().to_internal_value(data)


class Choice(serializers.ChoiceField):
    """One of a few words."""

    default_error_messages = _WORDS

    def to_internal_value(self, data: Any) -> Any:
        """Return the word, or refuse and list those accepted."""
        if isinstance(data, str) and data in self.choices:
            return data
        words, read = ", ".join(str(word) for word in self.choices), _shown(data)
        text = f"{read[:1].upper()}{read[1:]} was read; give one of {words}."
        raise serializers.ValidationError(text, "unknown_choice")


class Scalar(serializers.Field):
    """Any JSON scalar, kept as it is: a caller's own key."""

    default_error_messages = _WORDS

    def to_internal_value(self, data: Any) -> Any:
        """Return the scalar."""
        if isinstance(data, dict | list) or (isinstance(data, str) and len(data) > 200):
            text = f"A number or a short text is expected, but {_shown(data)} was read (200 characters at most)."
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
            text = f"An object is expected, but {_shown(data)} was read."
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
    guess = f": did you mean “{near[0]}”?" if near else f"; known are {', '.join(fields)}."
    return serializers.ErrorDetail(f"“{str(name)[:80]}” is not known here{guess}", "unknown_field")


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
            text = f"An object with “{self.key}” is expected, but {_shown(data)} was read."
            raise serializers.ValidationError(text, "not_an_object")
        kind = data.get(self.key)
        if not isinstance(kind, str) or kind not in self.shapes:
            read = _shown(kind) if self.key in data else "nothing"
            text = f"“{self.key}” must be one of {words}, but {read} was read."
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
        self._named = f" of {child.what}, in {child.unit}," if child.what and child.unit else ""
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
        values = "1 value" if read == 1 else f"{read} values"
        verb = "was" if read == 1 else "were"
        cause = ": was a line left out?" if how == "least" else "."
        return f"{values}{self._named} {verb} read; give at {how} {wanted}{cause}"


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
