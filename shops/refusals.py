"""Refusals that are not about a wrong value: the person may not, or what stands does not allow it."""

from __future__ import annotations

from calc.refusal import Problem, Refusal


class Forbidden(Refusal):
    """The person may see the row but not do this to it; the API answers 403."""


class Blocked(Refusal):
    """What stands now does not allow it (a card not ready to seal, a spring in use); the API answers 409."""


def forbidden(code: str, text: str, field: str = "") -> Forbidden:
    """Return a `Forbidden` with one problem."""
    return Forbidden(Problem(field, code, text))


def blocked(code: str, text: str, field: str = "") -> Blocked:
    """Return a `Blocked` with one problem."""
    return Blocked(Problem(field, code, text))


def wrong(field: str, code: str, text: str, value: object = None) -> Refusal:
    """Return a `Refusal` with one problem about the value at `field`."""
    return Refusal(Problem(field, code, text, value))
