"""How figures are written for a reader: with the decimal sign of the language, in the units that person or shop chose.

What is computed and sealed is metric. Where another unit is read, a figure is converted by the exact factors of
`calc.units`, written as finely as the metric one, and in a record the metric one follows in brackets; in a sentence, in
a picture's labels and in what is answered to a person it stands alone.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from typing import Any

from django.utils import translation
from django.utils.translation import gettext as _

from calc.units import FACTORS
from shops.language import signs

QUANTITIES = {
    "N/mm": "rate",
    "N·m": "torque",
    "mm": "length",
    "cm³": "volume",
    "kPa": "pressure",
    "kg": "mass",
    "N": "force",
}
"""What a metric unit measures; one not named here (%, J, °) is every reader's."""
FINEST = {"kgf/mm": 3, "lbf/in": 1, "in": 2, "lb": 1, "kgf": 2, "lbf": 1, "fl oz": 2, "bar": 3, "psi": 1, "lbf·ft": 1}
"""Decimals beyond which nobody reads a unit on a bench."""
SENTENCES = frozenset({"text", "why", "says"})
"""What an answer calls its sentences."""
TYPED_PLACES = 4
"""A value that was typed in another unit has no end in the metric one."""
_SHOWN: ContextVar[Mapping[str, str]] = ContextVar("shown units", default={})  # noqa: B039  # never changed in place


@contextmanager
def as_read(language: str, units: Mapping[str, str]) -> Iterator[None]:
    """Write figures and words for a reader of this language (its code) and these units (by quantity)."""
    token = _SHOWN.set({quantity: unit for quantity, unit in units.items() if FACTORS[quantity][unit] != 1})
    try:
        with translation.override(language):
            yield
    finally:
        _SHOWN.reset(token)


def reader() -> str:
    """Return what a text that is kept for readers alike must be keyed by: the language in use and the units."""
    return f"{translation.get_language()} {sorted(_SHOWN.get().items())}"


def foreign(units: Mapping[str, str]) -> set[str]:
    """Return the metric units that a reader of these units, by quantity, reads as others."""
    return {unit for unit, quantity in QUANTITIES.items() if FACTORS[quantity][units[quantity]] != 1}


def read_in(unit: str) -> tuple[str, float]:
    """Return the unit in which a metric one is read, and how many of the metric one it is."""
    shown = _shown(unit)
    return (unit, 1.0) if shown is None else (shown, FACTORS[QUANTITIES[unit]][shown])


def converts() -> bool:
    """Tell whether any figure is read in another unit than the document's."""
    return bool(_SHOWN.get())


def number(value: float, digits: int = 3) -> str:
    """Write a number with at most `digits` significant figures, never as a power of ten, a true minus before
    it."""
    return _signed(_significant(value, digits))


def whole(value: float) -> str:
    """Write a number without decimals."""
    return _signed(f"{value:.0f}")


def typed(value: float) -> str:
    """Write a number as it was typed: every digit, no more."""
    return _signed(_as_typed(value))


def figure(value: float, unit: str, digits: int | None = None) -> str:
    """Write a metric value with its unit, as typed or with `digits` significant figures."""
    return figures("{value}", unit, digits, value=value)


def figures(template: str, unit: str, digits: int | None = None, **values: float) -> str:
    """Write several values of one metric unit in a template, the unit behind it: "28 to 38 mm"."""
    metric = f"{template.format(**{name: _metric(value, digits) for name, value in values.items()})} {unit}"
    shown = _shown(unit)
    if shown is None:
        return metric
    if digits is None:
        metric = f"{template.format(**{name: _short(value) for name, value in values.items()})} {unit}"
    converted = template.format(**{name: _converted(value, unit, digits) for name, value in values.items()})
    # Where two figures stand side by side, a line is broken between them and not within one.
    return f"{_unbroken(f'{converted} {shown}')} ({_unbroken(metric)})"


def bare(value: float, unit: str) -> str:
    """Write a value whose unit stands right beside it already; where units are converted it has its own."""
    return typed(value) if _shown(unit) is None else figure(value, unit)


def told(value: float, unit: str, digits: int | None = None) -> str:
    """Write a metric value in a sentence: in the reader's unit alone."""
    shown = _shown(unit)
    return f"{_metric(value, digits)} {unit}" if shown is None else f"{_converted(value, unit, digits)} {shown}"


def retold(sentence: str) -> str:
    """Return a sentence, sealed or just said, with its metric figures in the reader's units."""
    if not converts():
        return sentence
    decimal, thousands = (re.escape(sign) for sign in signs())
    digits = rf"(?<![\w{decimal}{thousands}])(?:\d{{1,3}}(?:{thousands}\d{{3}})+|\d+)(?:{decimal}\d+)?"
    between = re.escape(to().format(low="", high="").strip())
    units = "|".join(map(re.escape, QUANTITIES))
    # Two rates stand side by side in a spring's name, "4.4/4.9 N/mm", a range in words.
    return re.sub(rf"({digits})(?:( {between} |/)({digits}))? ({units})(?![\w/·²³])", _retell, sentence)


def redrawn(svg: str) -> str:
    """Return a picture with the figures of its words, title and description in the reader's units."""
    return re.sub(r">[^<]+<", lambda words: retold(words[0]), svg) if converts() else svg


def in_readers_units(said: Any) -> Any:
    """Return a computed answer, plain data, with the figures of its sentences (`SENTENCES`) in the reader's units."""
    if not converts():
        return said
    if isinstance(said, Mapping):
        return {
            key: retold(value) if key in SENTENCES and isinstance(value, str) else in_readers_units(value)
            for key, value in said.items()
        }
    # A curve is a list of numbers: nothing to look for.
    plain = not isinstance(said, list) or not isinstance(next(iter(said), None), Mapping)
    return said if plain else [in_readers_units(one) for one in said]


def to() -> str:
    """Return the template of a range."""
    return _("{low} to {high}")


def _retell(found: re.Match[str]) -> str:
    first, between, second, unit = found.groups()
    shown = _shown(unit)
    if shown is None:
        return found[0]
    read = [_converted(_read(text), unit, None, text) for text in (first, second) if text]
    return f"{(between or '').join(read)} {shown}"


def _read(text: str) -> float:
    decimal, thousands = signs()
    return float(text.replace(thousands, "").replace(decimal, "."))


def _unbroken(text: str) -> str:
    return text.replace(" ", "\u00a0")


def _shown(unit: str) -> str | None:
    """Return the unit in which a metric one is read; None where that is itself."""
    return _SHOWN.get().get(QUANTITIES.get(unit, ""))


def _metric(value: float, digits: int | None) -> str:
    return typed(value) if digits is None else number(value, digits)


def _short(value: float) -> str:
    """Write a metric value behind a converted one: as typed, unless it was typed in that other unit."""
    text = _as_typed(value)
    return number(value, 4) if len(text.partition(".")[2]) >= TYPED_PLACES else _signed(text)


def _converted(value: float, unit: str, digits: int | None, text: str = "") -> str:
    """Write a metric value in the reader's unit, as finely as the metric figure is."""
    shown = _SHOWN.get()[QUANTITIES[unit]]
    factor = FACTORS[QUANTITIES[unit]][shown]
    if digits is not None and value:
        step = math.floor(math.log10(abs(value))) - digits + 1
    else:
        step = -len((text.replace(signs()[0], ".") or _as_typed(value)).partition(".")[2])
    places = min(max(math.ceil(math.log10(factor) - step), 0), FINEST[shown])
    return _signed(_trimmed(f"{value / factor:.{places}f}"))


def _significant(value: float, digits: int) -> str:
    rounded = float(f"{value:.{digits}g}")
    # A narrow gap groups the digits of a large number in every language (ISO 80000-1).
    return _trimmed(f"{rounded:.6f}") if abs(rounded) < 10_000 else f"{rounded:,.0f}".replace(",", " ")


def _as_typed(value: float) -> str:
    return repr(round(float(value), TYPED_PLACES)).removesuffix(".0")


def _trimmed(text: str) -> str:
    return text.rstrip("0").rstrip(".") if "." in text else text


def _signed(text: str) -> str:
    return text.replace("-", "−").replace(".", signs()[0])
