"""The first look at a plain mapping that is kept: is it an object, are its fields known, are its numbers believable."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from calc.bands import Band
from calc.checks import Findings
from calc.words import say


def join(path: str, key: str) -> str:
    """Return the dotted path of `key` under `path`, which may be empty."""
    return f"{path}.{key}" if path else key


def plain(kept: Any, beside: str) -> Any:
    """Return what is kept as calc takes it: without blanks, and without what is kept `beside`, at any depth.

    >>> plain({"kind": "straight", "rate_n_per_mm": 4.6, "solid_deflection_mm": None, "stamp": 4.5}, "stamp")
    {'kind': 'straight', 'rate_n_per_mm': 4.6}
    """
    if isinstance(kept, Mapping):
        return {key: plain(value, beside) for key, value in kept.items() if value is not None and key != beside}
    return [plain(each, beside) for each in kept] if isinstance(kept, list | tuple) else kept


def shape(findings: Findings, holder: Any, path: str, fields: Sequence[str]) -> bool:
    """Note what is not an object, or has a field that we do not know; return whether it is an object."""
    if not isinstance(holder, Mapping):
        findings.add(path, "not_an_object", say("Give an object with named fields here."))
        return False
    for key in holder:
        if key not in fields:
            findings.add(
                join(path, str(key)),
                "unknown_field",
                say("There is no field {key!r} here; known: {names}.", key=str(key), names=", ".join(fields)),
            )
    return True


def check_number(findings: Findings, holder: Mapping[str, Any], key: str, path: str, band: Band) -> None:
    """Note a number that is there and cannot be; a blank is accepted."""
    if holder.get(key) is not None:
        findings.value(holder[key], join(path, key), band)


def check_choice(findings: Findings, holder: Mapping[str, Any], key: str, path: str, choices: Sequence[str]) -> None:
    """Note a word that is none of `choices`."""
    if holder.get(key) not in choices:
        known = ", ".join(each for each in choices if each)
        text = say("{read!r} is none of: {known}.", read=holder.get(key), known=known)
        findings.add(join(path, key), "unknown_choice", text, None)
