"""Versioned rows: who saves says which version was read, and a row changed meanwhile is never overwritten."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Protocol

from django.db.models.signals import post_save

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
    """Save `fields` of `row` and count its version up if it is the expected one still; else raise `Stale`."""
    require(row, expected_version)
    values = {name: getattr(row, name) for name in fields}
    if not _as_read(row).update(**values, version=expected_version + 1):
        raise Stale(row)
    row.version = expected_version + 1
    # Whoever follows saved rows, as the search does, follows this one too.
    post_save.send(row._meta.concrete_model, instance=row, created=False, update_fields=None, raw=False, using=None)


def remove(row: Any, expected_version: int) -> None:
    """Delete `row` if it still has `expected_version`; else raise `Stale`."""
    require(row, expected_version)
    if not _as_read(row).select_for_update().exists():
        raise Stale(row)
    _as_read(row).delete()


def _as_read(row: Any) -> Any:
    # The model from _meta: a signed-in person may come as Django's lazy wrapper, whose type is another.
    model = row._meta.concrete_model
    return everywhere(model, why="a row already held").filter(pk=row.pk, version=row.version)
