"""The strict JSON parser of the whole API: what standard JSON does not know, or no form would send, is
refused."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from typing import IO, Any

from rest_framework.exceptions import ParseError
from rest_framework.parsers import BaseParser

from calc.words import say

MAX_BYTES = 256 * 1024
MAX_DEPTH = 32


class StrictJSONParser(BaseParser):
    """Parses RFC 8259 JSON of at most 256 kB and 32 levels; every refusal is a ParseError, answered as 400.

    Refused besides broken JSON: NaN and Infinity, numbers beyond a double's range, a name given twice in one
    object, text that is not UTF-8 or holds a NUL or half a surrogate pair (no store takes them).
    """

    media_type = "application/json"

    def parse(
        self,
        stream: IO[Any],
        media_type: str | None = None,
        parser_context: Mapping[str, Any] | None = None,
    ) -> Any:
        """Return the parsed body of `stream`."""
        body = stream.read(MAX_BYTES + 1)
        if len(body) > MAX_BYTES:
            text = say("The body is longer than {most} kB; send less at a time.", most=MAX_BYTES // 1024)
            raise ParseError(text, "too_long")
        try:
            value = json.loads(
                body.decode("utf-8"),
                parse_constant=_constant,
                parse_float=_float,
                object_pairs_hook=_object,
            )
        except UnicodeDecodeError as error:
            raise ParseError(say("The body is not UTF-8 text."), "not_json") from error
        except RecursionError as error:
            raise _too_deep() from error
        except ValueError as error:
            raise ParseError(say("The body is not JSON: {error}.", error=error), "not_json") from error
        _check(value)
        return value


def _too_deep() -> ParseError:
    return ParseError(say("The body is nested more than {depth} levels deep.", depth=MAX_DEPTH), "too_deep")


def _constant(name: str) -> float:
    text = say("{name} is not a number; give a finite number, or leave the field out.", name=name)
    raise ParseError(text, "not_finite")


def _float(text: str) -> float:
    value = float(text)
    if math.isinf(value):
        raise ParseError(say("{text} is too large a number.", text=text[:40]), "not_finite")
    return value


def _object(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) < len(pairs):
        names = [name for name, _ in pairs]
        twice = next(name for name in names if names.count(name) > 1)
        raise ParseError(say("“{twice}” is given twice in one object.", twice=twice[:60]), "given_twice")
    return found


def _check(value: Any) -> None:
    """Refuse deep nesting and text that cannot be stored; level by level, so that depth cannot hurt."""
    level = [value]
    for _ in range(MAX_DEPTH + 1):
        for text in (item for item in level if isinstance(item, str)):
            _check_text(text)
        lists = [item for item in level if isinstance(item, list)]
        objects = [item for item in level if isinstance(item, dict)]
        if not lists and not objects:
            return
        for name in (name for item in objects for name in item):
            _check_text(name)
        level = [child for item in lists for child in item]
        level += [child for item in objects for child in item.values()]
    raise _too_deep()


def _check_text(text: str) -> None:
    if "\0" in text or any("\ud800" <= char <= "\udfff" for char in text):
        raise ParseError(say("A text holds a NUL or half a surrogate pair, which cannot be stored."), "bad_text")
