"""What taking in a list would do, worked out before anything is done: every row, and every reason against it."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from django.core.serializers.json import DjangoJSONEncoder

from calc.refusal import Problem
from shops.spreadsheet import Table

MOST_SHOWN = 200
"""Of rows, and of problems: more than anybody reads; the counts say how many there are."""


@dataclass(frozen=True)
class Step:
    """What happens to one line's row: new, changed or same. `row` is the one that stands, None for a new one."""

    line: int
    action: str
    key: str
    label: str
    values: Mapping[str, Any]
    before: Mapping[str, Any]
    row: Any = None

    def as_dict(self) -> dict[str, Any]:
        """Return the step as the API answers it."""
        shown = {name: [_plain(self.before.get(name)), _plain(value)] for name, value in self.values.items()}
        return {"line": self.line, "action": self.action, "key": self.key, "label": self.label, "changes": shown}


@dataclass
class Plan:
    """The steps and the problems of one file. With a problem nothing at all is done."""

    what: str
    table: Table
    ignored: list[str]
    steps: list[Step] = field(default_factory=list)
    problems: list[tuple[int, Problem]] = field(default_factory=list)

    def refuse(self, line: int, *problems: Problem) -> None:
        """Note problems of a line, each at the column that its field ends in."""
        self.problems += [(line, replace(one, field=one.field.rpartition(".")[2])) for one in problems]

    def count(self, action: str) -> int:
        """Return how many rows are new, changed or same."""
        return sum(step.action == action for step in self.steps)

    def digest(self) -> str:
        """Return the SHA-256 of all that the plan would do: confirming another plan than the one seen is refused."""
        said = [self.what, [step.as_dict() for step in self.steps], len(self.problems)]
        return hashlib.sha256(json.dumps(said, cls=DjangoJSONEncoder, sort_keys=True).encode()).hexdigest()

    def as_dict(self) -> dict[str, Any]:
        """Return the plan as the API answers it, with what was understood of the file."""
        return {
            "what": self.what,
            "encoding": self.table.encoding,
            "separator": self.table.separator,
            "decimal": self.table.decimal,
            "ignored": self.ignored,
            "new": self.count("new"),
            "changed": self.count("changed"),
            "same": self.count("same"),
            "wrong": len({line for line, _ in self.problems}),
            "problems": [_problem(line, one) for line, one in self.problems[:MOST_SHOWN]],
            "rows": [step.as_dict() for step in self.steps if step.action != "same"][:MOST_SHOWN],
            "plan": self.digest(),
        }


def _problem(line: int, one: Problem) -> dict[str, Any]:
    plain = one.as_dict()
    return {"line": line, "column": plain.pop("field"), **plain}


def _plain(value: Any) -> Any:
    return value.pk if hasattr(value, "pk") else value
