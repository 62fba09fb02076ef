"""A spring as settings, bikes and spring lists keep it: its shape, what calc takes of it, and its words.

Kept beside what calc takes: blanks, and of a tested spring the rate that is stamped on it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from calc.checks import SPRING_FIELDS, TURN_FIELDS, Findings
from calc.evaluate import rounded
from calc.refusal import Refusal
from calc.springs import COMBINED, first_and_last
from calc.tester import BANDS as TESTER_BANDS
from calc.tester import COLUMNS, tester
from calc.words import mark, number, say
from setups import shapes
from setups.shapes import check_number, join, shape

STAMP = "stamped_n_per_mm"
_WORDS = {"wound": mark("wound"), "stacked": mark("stacked"), "side_by_side": mark("side by side")}
_KEPT: Mapping[str, tuple[str, ...]] = {
    **SPRING_FIELDS,
    "wound": ("shear_modulus_gpa", "turns"),
    "tested": (*COLUMNS, STAMP),
    **dict.fromkeys(COMBINED, ("springs",)),
}


def check_shape(findings: Findings, spring: Any, path: str) -> bool:
    """Note what of a kept spring is not an object, or is a field that we do not know; return whether it is sound."""
    if spring is None:
        return True
    if not isinstance(spring, Mapping):
        findings.add(path, "not_an_object", say("Give the spring as an object with its kind and rates, or null."))
        return False
    kind = spring.get("kind")
    if not isinstance(kind, str) or kind not in _KEPT:
        return True  # calc names the kinds
    sound = shape(findings, spring, path, ("kind", *_KEPT[kind], "solid_deflection_mm"))
    if kind == "tested":
        check_number(findings, spring, STAMP, path, TESTER_BANDS[STAMP])
    for key, check in (("turns", _check_turn), ("springs", check_shape)):
        for place, part in enumerate(_list(spring.get(key))):
            sound = check(findings, part, join(path, f"{key}.{place}")) and sound
    return sound


def _check_turn(findings: Findings, turn: Any, path: str) -> bool:
    return shape(findings, turn, path, TURN_FIELDS)


def _list(value: Any) -> Sequence[Any]:
    return value if isinstance(value, list | tuple) else ()


def plain(kept: Any) -> Any:
    """Return a kept spring as calc takes it: blanks and the stamp of a tested one left out, parts and turns too.

    >>> plain({"kind": "straight", "rate_n_per_mm": 4.6, "solid_deflection_mm": None})
    {'kind': 'straight', 'rate_n_per_mm': 4.6}
    """
    return shapes.plain(kept, STAMP)


def rate_words(spring: Mapping[str, Any] | None) -> str:
    """Return a kept spring's rate in the trade's few words; one with blanks is named by its kind.

    >>> rate_words({"kind": "straight", "rate_n_per_mm": 4.6})
    '4.6 N/mm'
    >>> rate_words({"kind": "tested", "deflection_mm": [10, 20, 30], "force_n": [44.3, 88.6, 132.9]})
    'tested 4.43 N/mm'
    """
    if not spring:
        return say("no spring")
    try:
        return _rates(plain(spring))
    except (KeyError, IndexError, Refusal):
        return str(spring.get("kind")).replace("_", " ")


def overall_rate(spring: Mapping[str, Any] | None) -> float | None:
    """Return the one rate in N/mm that stands for all readings of a tested spring; None for any other, or with blanks.

    >>> overall_rate({"kind": "tested", "deflection_mm": [10, 20, 30], "force_n": [44.3, 88.6, 132.9]})
    4.43
    >>> overall_rate({"kind": "straight", "rate_n_per_mm": 4.6})
    """
    if not spring or spring.get("kind") != "tested":
        return None
    try:
        return rounded(tester({key: spring[key] for key in COLUMNS})["rate_n_per_mm"])
    except (KeyError, TypeError, Refusal):
        return None


def _rates(spring: Mapping[str, Any]) -> str:
    kind = spring["kind"]
    if kind == "straight":
        return say("{rate_n_per_mm:g} N/mm", rate_n_per_mm=spring["rate_n_per_mm"])
    if kind == "dual":
        return say(
            "{soft_n_per_mm:g}/{hard_n_per_mm:g} N/mm dual",
            soft_n_per_mm=spring["soft_n_per_mm"], hard_n_per_mm=spring["hard_n_per_mm"],
        )
    if kind == "progressive":
        return say(
            "{start_n_per_mm:g} to {end_n_per_mm:g} N/mm",
            start_n_per_mm=spring["start_n_per_mm"], end_n_per_mm=spring["end_n_per_mm"],
        )
    if kind == "tested":
        found = tester({key: spring[key] for key in COLUMNS})["spring"]
        return say("tested {rates}", rates=_rates({key: _rounded(value) for key, value in found.items()}))
    first, last = (number(rate, ".3g") for rate in first_and_last(spring))
    if first == last:
        return say("{words}, {first} N/mm", words=say(_WORDS[kind]), first=first)
    return say("{words}, {first} to {last} N/mm", words=say(_WORDS[kind]), first=first, last=last)


def _rounded(value: Any) -> Any:
    return float(f"{value:.3g}") if isinstance(value, float) else value
