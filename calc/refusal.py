"""How calc says no, and how it remarks: one clear sentence, with the value, its unit and the accepted band."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any, Literal

Severity = Literal["info", "warning", "stop"]


@dataclass(frozen=True)
class Problem:
    """One reason for refusing an input.

    `field` is the dotted path of the offending value in the request ("front.legs.0.preload_mm"), `text`
    one sentence that names what was read, its unit, the accepted band and the likely cause. `value`,
    `unit`, `low` and `high` repeat those for programs; None where they do not apply.

    `code` names the kind of problem for programs. Raises nothing. Source: none (bookkeeping).

    >>> Problem("preload_mm", "missing", "The preload is missing.").as_dict()["code"]
    'missing'
    """

    field: str
    code: str
    text: str
    value: Any = None
    unit: str | None = None
    low: float | None = None
    high: float | None = None

    def as_dict(self) -> dict[str, Any]:
        """Return the problem as the plain mapping that the API answers."""
        return asdict(self)


class Refusal(ValueError):
    """Raised when an input cannot be computed with; carries every `Problem` found, never just the first.

    Source: none (bookkeeping).

    >>> str(Refusal(Problem("a", "missing", "A is missing."), Problem("b", "missing", "B is missing.")))
    'A is missing. B is missing.'
    """

    def __init__(self, *problems: Problem) -> None:
        self.problems = problems
        super().__init__(" ".join(problem.text for problem in problems))


@dataclass(frozen=True)
class Note:
    """A remark beside a result: `severity` is info, warning or stop; `value` and `unit` where one number is meant.

    `code` names the kind of remark for programs, `text` is one sentence; `value` is in the own `unit`. Raises
    nothing. Source: none (bookkeeping).

    >>> Note("topped_out", "warning", "It is topped out.").as_dict()["severity"]
    'warning'
    """

    code: str
    severity: Severity
    text: str
    value: float | None = None
    unit: str | None = None

    def as_dict(self) -> dict[str, Any]:
        """Return the note as the plain mapping that the API answers."""
        return asdict(self)
