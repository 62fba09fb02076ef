"""Sentences in the reader's language, said by calc without knowing which one that is or where catalogues lie.

The source language is English, and the message itself is the key: `say("{rate:.1f} N/mm is too soft.", rate=4.6)`. As
it stands, calc speaks English. Whoever serves people of other languages hands in, once at the start, how a template is
translated and how a number is written (`speak_through`); both are asked at each call, so that one process speaks to
everybody in their own language. A number in a sentence has the decimal sign of the sentence's language.

A sentence is one template: words put together from pieces cannot be translated. A template stands literally in the
call, where it can be collected from the source; a table of words made at import marks them with `mark` and says them
when they are needed.

Units: none. Limits: no plural but one and many. Source: GNU gettext's manual on messages as keys and plural forms
(general practice); no physics.
"""

from __future__ import annotations

from collections.abc import Callable
from numbers import Number
from string import Formatter
from typing import Any

_ENGLISH = ".", ","


def _the_one_or_many(one: str, many: str, count: int) -> str:
    return one if count == 1 else many


class _Speech:
    """How this process translates; English until `speak_through` is called."""

    translate: Callable[[str], str] = staticmethod(str)
    translate_count: Callable[[str, str, int], str] = staticmethod(_the_one_or_many)
    signs: Callable[[], tuple[str, str]] = staticmethod(lambda: _ENGLISH)


def speak_through(
    translate: Callable[[str], str],
    translate_count: Callable[[str, str, int], str],
    signs: Callable[[], tuple[str, str]],
) -> None:
    """Say everything from now on through `translate` (template), `translate_count` (one, many, count) and `signs`.

    `signs` returns the decimal sign and the sign between thousands. All three are asked anew at each sentence.
    Raises nothing. Source: none (bookkeeping).

    >>> speak_through({"{x:.1f} turns": "{x:.1f} Windungen"}.get, lambda one, many, n: many, lambda: (",", "."))
    >>> say("{x:.1f} turns", x=3.25)
    '3,2 Windungen'
    >>> speak_through(str, lambda one, many, n: one if n == 1 else many, lambda: (".", ","))
    >>> say("{x:.1f} turns", x=3.25)
    '3.2 turns'
    """
    _Speech.translate = staticmethod(translate)
    _Speech.translate_count = staticmethod(translate_count)
    _Speech.signs = staticmethod(signs)


class _Sentence(Formatter):
    """Fills a template in, its numbers with the language's signs."""

    def format_field(self, value: Any, format_spec: str) -> str:
        """Return one value as it stands in the sentence."""
        return number(value, format_spec) if isinstance(value, Number) else format(value, format_spec)


_SENTENCE = _Sentence()


def _filled(template: str, values: dict[str, Any]) -> str:
    if not values:
        return template
    return template.format(**values) if _Speech.signs() == _ENGLISH else _SENTENCE.vformat(template, (), values)


def say(template: str, /, **values: Any) -> str:
    """Return `template`, translated, with `values` filled in by Python's format syntax.

    Without values the template is taken as it is, braces included. Raises KeyError for a value that is not given.
    Source: none (bookkeeping).

    >>> say("{rate:.1f} N/mm is soft.", rate=4.6)
    '4.6 N/mm is soft.'
    """
    return _filled(_Speech.translate(template), values)


def say_of(count: int, one: str, many: str, /, **values: Any) -> str:
    """Return what is said of `count` things: `one` or `many`, translated, with `{n}` and `values` filled in.

    Raises KeyError for a value that is not given. Source: none (bookkeeping).

    >>> say_of(1, "{n} leg", "{n} legs"), say_of(2, "{n} leg", "{n} legs")
    ('1 leg', '2 legs')
    """
    return _filled(_Speech.translate_count(one, many, count), {"n": count, **values})


def mark(template: str) -> str:
    """Return `template` as it is: marked for translation where it is written, to be said later.

    Raises nothing. Source: none (bookkeeping).

    >>> mark("the preload")
    'the preload'
    """
    return template


PLAIN = (
    mark("front"), mark("rear"), mark("static"), mark("rider"), mark("above"), mark("below"),
    mark("straight"), mark("dual"), mark("progressive"), mark("wheel"), mark("shock"), mark("fork"),
    mark("mean diameter"), mark("index"), mark("hard"),
)
"""Codes that are words of a sentence too: whoever puts one into a sentence says it first, `say(end)`."""


def capital(text: str) -> str:
    """Return `text` with a capital first letter, as a sentence begins.

    Raises nothing. Source: none (bookkeeping).

    >>> capital("the preload")
    'The preload'
    """
    return text[:1].upper() + text[1:]


def number(value: Any, form: str = "") -> str:
    """Return the number `value` by Python's format specification `form`, with the signs of the language.

    Raises ValueError for a specification that no number has. Source: none (bookkeeping).

    >>> number(4.65, ".2f")
    '4.65'
    """
    text, signs = format(value, form), _Speech.signs()
    return text if signs == _ENGLISH else text.translate(str.maketrans(".,", "".join(signs)))
