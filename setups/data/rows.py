"""Rows as lines of JSON and back, with nothing lost: times to the microsecond, bytes as base64 (RFC 4648)."""

from __future__ import annotations

import base64
import json
from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import UTC, datetime
from itertools import islice
from typing import Any

from django.core.management.color import no_style
from django.db import models
from django.db.transaction import get_connection

from setups.data.inventory import SECRETS, Model, fields_of, label
from shops.access import Scoped, everywhere

CHUNK = 200
WHY = "a whole business, or everything, is written out or read in"


def stored(model: Model, business: int | None = None) -> Any:
    """Return the rows of a model: one business's, or, for None, all there are."""
    if not issubclass(model, Scoped):
        rows = model._base_manager.all()
        return rows if business is None else rows.filter(pk=business)
    rows = everywhere(model, why=WHY)
    return rows if business is None else rows.filter(**{model.business_path: business})


def written(model: Model, business: int | None, *, secrets: bool) -> Iterator[dict[str, Any]]:
    """Yield the rows as plain JSON values by column, in the order of their ids."""
    names = [field.attname for field in fields_of(model, secrets=secrets)]
    for values in stored(model, business).order_by("pk").values_list(*names).iterator(CHUNK):
        yield {name: _plain(value) for name, value in zip(names, values, strict=True)}


def _plain(value: Any) -> Any:
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat()
    if isinstance(value, bytes | memoryview):
        return base64.b64encode(bytes(value)).decode("ascii")
    if value is None or isinstance(value, bool | int | float | str | list | dict):
        return value
    return str(value)


def line(row: dict[str, Any]) -> bytes:
    """Return a row as one line of JSON in UTF-8."""
    return json.dumps(row, ensure_ascii=False, separators=(",", ":"), allow_nan=False).encode() + b"\n"


def load(model: Model, rows: Iterable[dict[str, Any]], *, secrets: bool) -> int:
    """Put rows into the model's empty table with the ids that they have; return how many.

    Raises ValueError for a row that has other columns than the model, or a value that its column cannot hold.
    """
    fields = fields_of(model, secrets=secrets)
    readers = {field.attname: _reader(field) for field in fields}
    instead = {} if secrets else {field.attname: SECRETS[label(field)].instead for field in left_out(model)}
    count, waiting = 0, iter(rows)
    while chunk := list(islice(waiting, CHUNK)):
        made = []
        for row in chunk:
            if set(row) != set(readers):
                raise ValueError(f"{model._meta.label} has other columns here than in the file.")
            values = {name: reader(row[name]) for name, reader in readers.items()}
            made.append(model(**values, **{name: fill() for name, fill in instead.items()}))
        model._base_manager.bulk_create(made)
        count += len(made)
    return count


def left_out(model: Model) -> list[Any]:
    """Return the columns of a model that an export leaves out."""
    return [field for field in fields_of(model) if label(field) in SECRETS]


def _reader(field: Any) -> Callable[[Any], Any]:
    if isinstance(field, models.JSONField):
        return lambda value: value
    if isinstance(field, models.BinaryField):
        return lambda value: None if value is None else base64.b64decode(value, validate=True)
    if field.is_relation:
        return field.target_field.to_python
    return field.to_python


def count_on(chosen: Sequence[Model]) -> None:
    """Let new rows be numbered after those that were put in with their own ids."""
    connection = get_connection()
    with connection.cursor() as cursor:
        for statement in connection.ops.sequence_reset_sql(no_style(), list(chosen)):
            cursor.execute(statement)


def anything(chosen: Sequence[Model]) -> Model | None:
    """Return the first of the models that has a row, None where all tables are empty."""
    return next((model for model in chosen if stored(model).exists()), None)
