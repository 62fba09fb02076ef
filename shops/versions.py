"""Versioned rows: who saves says which version was read, and a row changed meanwhile is never overwritten."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Protocol

from shops.access import everywhere


class Versioned(Protocol):
    """A row with a version that counts its changes."""

    pk: Any
    version: Any


class Stale(Exception):
    """The row was changed by somebody else since it was read; `row` is the one that could not be saved."""

    def __init__(self, row: Any) -> None:
        self.row = row
        super().__init__(f"{type(row).__name__} {row.pk} was changed meanwhile.")


def require(row: Versioned, expected_version: int) -> None:
    """Raise `Stale` unless `row`, as it was just read, still has the version that the writer has seen."""
    if row.version != expected_version:
        raise Stale(row)


def save(row: Any, expected_version: int, fields: Iterable[str]) -> None:
    """Save `fields` of `row` and count its version up, if it still has `expected_version`; else raise `Stale`."""
    values = {name: getattr(row, name) for name in fields}
    if row.version != expected_version or not (
        everywhere(row._meta.concrete_model, why="a row already held")
        .filter(pk=row.pk, version=expected_version)
        .update(**values, version=expected_version + 1)
    ):
        raise Stale(row)
    row.version = expected_version + 1


def remove(row: Any, expected_version: int) -> None:
    """Delete `row` if it still has `expected_version`; else raise `Stale`."""
    queryset = everywhere(row._meta.concrete_model, why="a row already held").filter(pk=row.pk, version=expected_version)
    if row.version != expected_version or not queryset.select_for_update().exists():
        raise Stale(row)
    queryset.delete()
